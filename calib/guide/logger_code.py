"""Our own logger firmware: what can be chosen of it, whether that fits, and its source.

The sources lie in ``calib/data/firmware``, whole as they lie there; a choice replaces the value
in the one line that sets it.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from string import Template
from typing import Final

from calib.book import packaged
from calib.errors import UsageError
from calib.guide.cautions import LOGGER_CAUTIONS
from calib.store.documents import said
from calib.store.documents.finding import Finding


class Board(StrEnum):
    """What the firmware is for."""

    C = "c"
    MICROPYTHON = "micropython"


BAUDS: Final = (9600, 19200, 38400, 57600, 115200, 250000, 500000, 1000000)
"""Rates that a 16 MHz crystal meets within 2.2 per cent: the worst is 115200, which is really
117647. A reader was seen to decode at 3 per cent and to fail at 5."""

MOST_OF_THE_LINE: Final = 0.9
"""Share of the baud rate that lines may take: own choice, so that a late line is caught up."""

FASTEST_MICROPYTHON_HZ: Final = 200
"""Own choice, because an interpreter needs about a millisecond a line; not measured on a board."""

CONVERSION_S: Final = 13 * 128 / 16e6
"""Time of one analog conversion, in s: 13 cycles of the converter's clock, which is the crystal's
over 128. Source: ATmega328P data sheet, ADC, "Prescaling and Conversion Timing"; from memory."""

CONVERSIONS: Final = 2
"""Of each pin in each scan: the first is thrown away."""

PIN_WORK_S: Final = 0.06e-3
"""Time to write out one count, in s: as the simulated instructions take it, rounded up."""

WHEEL_WORK_S: Final = 0.1e-3
"""Time in each scan to write out the wheel's count and to serve its edges at 2 kHz, in s: own
choice, and a simulated board at its fastest keeps every line and every edge with it."""

WHEEL_PINS: Final = (2, 3)
"""Digital pins of the ATmega328P that interrupt on an edge: PD2 and PD3. Source: its data sheet,
external interrupts, from memory."""

LINE_WORK_S: Final = 0.55e-3
"""Time to write out the longest time, to queue the longest line and to hand each byte of it to the
UART, in s: as the simulated instructions take it (0.27 ms and 65 cycles a byte), rounded up."""

_TIME_DIGITS: Final = len(str(2**32 - 1))
_COUNT_DIGITS: Final = 4  # 1023 and 4095
_WHEEL_BYTES: Final = len(",65535")
_CHECKSUM_BYTES: Final = len("*hh")
_END_BYTES: Final = len("\r\n")
_BITS_A_BYTE: Final = 10  # start bit, eight of data, stop bit


@dataclass(frozen=True, slots=True)
class WheelInput:
    """A wheel sensor whose edges the board counts by interrupt.

    Attributes:
        pin: Digital pin, by the board's own number.
        quiet_us: Time without an edge before one that counts, microseconds: longer than a contact
            bounces, shorter than any stay of the signal.
    """

    pin: int
    quiet_us: int = 100


@dataclass(frozen=True, slots=True)
class Choice:
    """What is wanted of the firmware.

    Attributes:
        board: C for the ATmega328P class at 16 MHz, or MicroPython.
        pins: Analog inputs, by the board's own numbers, in the order of the columns.
        rate_hz: Lines a second.
        baud: Bits a second; None over USB, which has no such rate.
        checksum: Whether each line ends in ``*hh``.
        wheel: A wheel sensor to count; None without one.
    """

    board: Board
    pins: tuple[int, ...]
    rate_hz: int = 100
    baud: int | None = 115200
    checksum: bool = False
    wheel: WheelInput | None = None

    @property
    def columns(self) -> tuple[str, ...]:
        """Names in the header line."""
        wheel = () if self.wheel is None else ("wheel",)
        return ("t_ms", *(f"a{number}" for number in range(len(self.pins))), *wheel)

    @property
    def line_bytes(self) -> int:
        """Length of the longest line."""
        checksum = _CHECKSUM_BYTES if self.checksum else 0
        wheel = 0 if self.wheel is None else _WHEEL_BYTES
        analog = len(self.pins) * (1 + _COUNT_DIGITS)
        return _TIME_DIGITS + analog + wheel + checksum + _END_BYTES

    @property
    def line_load(self) -> float | None:
        """Share of the baud rate that the longest lines take; None over USB."""
        if self.baud is None:
            return None
        return self.line_bytes * _BITS_A_BYTE * self.rate_hz / self.baud


@dataclass(frozen=True, slots=True)
class SourceFile:
    """A file to write out."""

    name: str
    text: str


def check_choice(choice: Choice) -> None:
    """Refuse what the board could not keep up with.

    Raises:
        UsageError: It does not fit; the hint says what would.
    """
    if choice.baud is not None and choice.baud not in BAUDS:
        raise UsageError.of("baud-of-crystal", baud=choice.baud, fitting=", ".join(map(str, BAUDS)))
    if choice.wheel is not None:
        _refuse_wheel(choice, choice.wheel.pin)
    if 1000 % choice.rate_hz:
        fitting = ", ".join(str(hz) for hz in range(1, 1001) if 1000 % hz == 0)
        raise UsageError.of("rate-not-whole", rate_hz=choice.rate_hz, fitting=fitting)
    load = choice.line_load
    if load is not None and load > MOST_OF_THE_LINE:
        raise UsageError(
            f"Lines of {choice.line_bytes} bytes, {choice.rate_hz} a second, take "
            f"{100 * load:.0f} per cent of {choice.baud} baud; at most "
            f"{100 * MOST_OF_THE_LINE:.0f} per cent will do.",
            "Choose a higher --baud, fewer channels or a lower --rate-hz.",
        )
    fastest = fastest_hz(choice)
    if choice.rate_hz > fastest:
        raise UsageError.of(
            "board-too-slow", count=len(choice.pins), fastest=fastest, rate_hz=choice.rate_hz
        )


def _refuse_wheel(choice: Choice, pin: int) -> None:
    """Refuse a pin that cannot count.

    Raises:
        UsageError: It has no interrupt, or is read as an analog pin already.
    """
    if choice.board is Board.C and pin not in WHEEL_PINS:
        raise UsageError.of("no-interrupt", pin=pin, fitting=", ".join(map(str, WHEEL_PINS)))
    if choice.board is Board.MICROPYTHON and pin in choice.pins:
        raise UsageError.of("pin-taken", pin=pin)


def fastest_hz(choice: Choice) -> float:
    """Rate at which the board can scan all pins and write the line, in Hz."""
    if choice.board is Board.MICROPYTHON:
        return FASTEST_MICROPYTHON_HZ
    wheel_s = 0.0 if choice.wheel is None else WHEEL_WORK_S
    pins_s = len(choice.pins) * (CONVERSIONS * CONVERSION_S + PIN_WORK_S)
    return 1.0 / (pins_s + wheel_s + LINE_WORK_S)


def findings_on(choice: Choice) -> tuple[Finding, ...]:
    """What is known of this choice, and what is not."""
    simulated = choice.board is Board.C
    untried = said.caution("not-tried-on-a-board" if simulated else "not-tried-on-a-board/pins")
    load = choice.line_load
    if load is None:
        return (untried,)
    fits = said.passes("line-load", 100 * load, 100 * MOST_OF_THE_LINE, baud=choice.baud)
    return fits, untried


def source_files(choice: Choice) -> tuple[SourceFile, ...]:
    """The source with the choice put in, and a note on how to build, wire and try it."""
    values: dict[str, object] = {"RATE_HZ": choice.rate_hz}
    if choice.wheel is not None:
        values |= {"WHEEL_PIN": choice.wheel.pin, "WHEEL_QUIET_US": choice.wheel.quiet_us}
    if choice.board is Board.C:
        name, line = "logger.c", r"(#define {} +)\S+"
        values |= {"BAUD": f"{choice.baud}UL", "CHANNELS": len(choice.pins)}
        values |= {"CHECKSUM": int(choice.checksum)}
    else:
        name, line = "main.py", r"({} = )(?:\(.*?\)|\w+)"
        values |= {"PINS": choice.pins, "CHECKSUM": choice.checksum}
    note = SourceFile(f"{name.partition('.')[0]}-note.txt", _note(choice))
    return SourceFile(name, _chosen(name, line, values)), note


def rig_part(choice: Choice) -> str:
    """The part of a rig file that is true of this logger, with one channel as an example."""
    return _page(
        f"{choice.board}-rig.txt",
        baud="" if choice.baud is None else f"baud = {choice.baud}\n",
        checksum='checksum = "xor"\n' if choice.checksum else "",
        columns=", ".join(f'"{name}"' for name in choice.columns),
        wheel="" if choice.wheel is None else f"\n{packaged('firmware', 'wheel-rig.txt')}",
    ).rstrip()


def _chosen(name: str, line: str, values: Mapping[str, object]) -> str:
    """A source with values put in; each is set in exactly one line."""
    text = packaged("firmware", name)
    for key, value in values.items():
        text = re.sub(f"(?m)^{line.format(key)}", rf"\g<1>{value}", text, count=1)
    return text


def _note(choice: Choice) -> str:
    last = len(choice.pins) - 1
    cautions = [
        textwrap.fill(text, 78, initial_indent="- ", subsequent_indent="  ")
        for text in LOGGER_CAUTIONS
    ]
    return _page(
        f"{choice.board}-note.txt",
        columns=", ".join(choice.columns),
        pins=", ".join(map(str, choice.pins)),
        inputs="A0" if last == 0 else f"A0 to A{last}",
        rate_hz=choice.rate_hz,
        baud=choice.baud,
        cautions="\n".join(cautions),
        rig=textwrap.indent(rig_part(choice), "    "),
    )


def _page(name: str, **values: object) -> str:
    """A template of the firmware's with values put in."""
    return Template(packaged("firmware", name)).substitute(values)
