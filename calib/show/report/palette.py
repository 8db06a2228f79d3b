"""Colours of the report's drawings, as classes, so that light, dark and print each choose."""

from __future__ import annotations

from typing import Final

INK: Final = "ink"
SOFT: Final = "soft"
MAIN: Final = "main"
OTHER: Final = "other"
SHADE: Final = "shade"
WARN: Final = "warn"
PAPER: Final = "paper"

_STAND_INS: Final = {
    name: f"#00000{number}"
    for number, name in enumerate((INK, SOFT, MAIN, OTHER, SHADE, WARN, PAPER), 1)
}
"""What the plotting library is told; each is replaced by its class in the finished drawing."""

CLASSES: Final = {stand_in: name for name, stand_in in _STAND_INS.items()}


def stand_in(name: str) -> str:
    """The colour to draw with so that the finished drawing has the class ``name``."""
    return _STAND_INS[name]
