"""Calibration of hand controls and tilt sensors on a home-built electric two-wheeler.

A notebook finds here what the commands are made of (:mod:`calib.face`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from calib.face import (
        CheckSettings,
        LevelSettings,
        Readings,
        SignsSettings,
        TravelSettings,
        check,
        level,
        load_rig,
        poses,
        read_capture,
        records,
        signs,
        still,
        travel,
    )

__version__ = "0.1.0"

__all__ = [
    "CheckSettings",
    "LevelSettings",
    "Readings",
    "SignsSettings",
    "TravelSettings",
    "check",
    "level",
    "load_rig",
    "poses",
    "read_capture",
    "records",
    "signs",
    "still",
    "travel",
]


def __getattr__(name: str) -> Any:
    """The public names, loaded when the first of them is used: commands start without numpy."""
    if name in __all__:
        from calib import face

        return getattr(face, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    """Every public name."""
    return [*__all__, "__version__"]
