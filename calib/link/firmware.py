"""The source of our own logger firmware, with the few figures that may be changed put in."""

from __future__ import annotations

import re
from dataclasses import dataclass
from importlib.resources import files
from typing import Literal

from calib.errors import UsageError

Board = Literal["atmega328p", "micropython"]
"""A bare 8-bit board, or one that runs MicroPython."""

FILES: dict[Board, str] = {
    "atmega328p": "logger_atmega328p.c",
    "micropython": "logger_micropython.py",
}
ANALOG_PINS: dict[Board, int] = {"atmega328p": 8, "micropython": 3}
COMMON_CHANNELS: dict[Board, int] = {"atmega328p": 6, "micropython": 3}
FULL_SCALE: dict[Board, int] = {"atmega328p": 1024, "micropython": 4096}
REFERENCE_V: dict[Board, float] = {"atmega328p": 5.0, "micropython": 3.3}
FIRST_PIN = 26  # of the analog pins on the MicroPython board that the source is written for


@dataclass(frozen=True, slots=True)
class Settings:
    """What may be chosen.

    Args:
        board: Kind of board.
        channels: Analog inputs that are read.
        rate_hz: Lines a second.
        baud: Bits a second; a board with its own USB port minds none.
        checksum: Whether each line ends in ``*hh``.
    """

    board: Board = "atmega328p"
    channels: int = 6
    rate_hz: int = 100
    baud: int = 115200
    checksum: bool = False


def logger_source(settings: Settings) -> str:
    """The source, ready to build.

    Raises:
        UsageError: The board has not as many inputs, or the rate cannot be kept.
    """
    _check(settings)
    text = (files("calib") / "data" / "firmware" / FILES[settings.board]).read_text("utf-8")
    if settings.board == "atmega328p":
        for name, value in (
            ("CHANNELS", settings.channels),
            ("RATE_HZ", settings.rate_hz),
            ("BAUD", settings.baud),
            ("CHECKSUM", int(settings.checksum)),
        ):
            text = re.sub(rf"(?m)^(#define {name}) \d+", rf"\1 {value}", text)
        return text
    pins = "".join(f"{FIRST_PIN + place}, " for place in range(settings.channels)).strip()
    for name, shown in (
        ("PINS", f"({pins})"),
        ("RATE_HZ", str(settings.rate_hz)),
        ("CHECKSUM", str(settings.checksum)),
    ):
        text = re.sub(rf"(?m)^{name} = (\(.*\)|\w+)", f"{name} = {shown}", text)
    return text


def _check(settings: Settings) -> None:
    """Refuse what the board cannot do.

    Raises:
        UsageError: It cannot.
    """
    pins = ANALOG_PINS[settings.board]
    if not 1 <= settings.channels <= pins:
        raise UsageError(
            f"{settings.channels} channels: a {settings.board} board has 1 to {pins} analog pins.",
            "Ask for fewer with --channels.",
        )
    if 1000 % settings.rate_hz:
        raise UsageError(
            f"{settings.rate_hz} lines a second do not divide a thousand milliseconds.",
            "Take 50, 100, 125, 200 or 250 with --rate.",
        )
    longest_bytes = 10 + 5 * settings.channels + 3 * settings.checksum + 2
    line_s = longest_bytes * 11 / settings.baud + settings.channels * 240e-6
    if settings.board == "atmega328p" and line_s > 1 / settings.rate_hz:
        raise UsageError(
            f"A line takes up to {1e3 * line_s:.1f} ms at {settings.baud} baud, longer than the "
            f"{1e3 / settings.rate_hz:.1f} ms between two lines.",
            "Lower --rate or --channels, or raise --baud.",
        )
