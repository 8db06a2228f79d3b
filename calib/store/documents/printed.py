"""Documents that are printed and never kept: how things stand, and what a command wrote."""

from __future__ import annotations

from typing import Literal

import msgspec

from calib.store.documents.finding import Document


class DemoStep(msgspec.Struct, frozen=True, kw_only=True):
    """One command of the demo.

    Attributes:
        command: As it is typed after ``calib``.
        exit_code: Its exit code.
        as_expected: Whether it ended as it should.
    """

    command: str
    exit_code: int
    as_expected: bool


class DemoDocument(Document, frozen=True, kw_only=True, tag="calib.demo/1"):
    """The demo; its verdict is fail where a step surprised or a planted fault was not found.

    Attributes:
        folder: Where rig file, captures, records and pages lie.
        steps: The commands, in order.
        fault: The fault that was planted, as it was asked for; None for a sound bench.
        found: Whether the records say of it; None without a fault.
    """

    folder: str
    steps: tuple[DemoStep, ...]
    fault: str | None = None
    found: bool | None = None


class LoggerCodeDocument(Document, frozen=True, kw_only=True, tag="calib.logger-code/1"):
    """Source for a bare logger board, as written.

    Attributes:
        board: ``c`` or ``micropython``.
        files: The files written.
        columns: Names in the header line that the board will send.
        rate_hz: Lines a second.
        baud: Bits a second; None over USB, which has no such rate.
        checksum: Whether each line ends in ``*hh``.
    """

    board: str
    files: tuple[str, ...]
    columns: tuple[str, ...]
    rate_hz: int
    baud: int | None
    checksum: bool


class PortEntry(msgspec.Struct, frozen=True, kw_only=True):
    """One serial port; texts of a device are neutral.

    Attributes:
        path: Its name, for ``--port``.
        description: What the system calls it.
        maker: Who made it, by its own word.
        usb_serial: USB serial number; None where there is none.
        users: Programs that have it open.
    """

    path: str
    description: str
    maker: str
    usb_serial: str | None
    users: tuple[str, ...]


class PortsDocument(Document, frozen=True, kw_only=True, tag="calib.ports/1"):
    """Every serial port that the system lists.

    Attributes:
        ports: USB devices first.
    """

    ports: tuple[PortEntry, ...]


class ReportDocument(Document, frozen=True, kw_only=True, tag="calib.report/1"):
    """The report as written; its verdict is that of the sheet in it.

    Attributes:
        path: The HTML file.
        records: Count of records that it was made from.
    """

    path: str
    records: int


StepState = Literal["done", "failed", "unknown", "stale", "to do", "left out"]


class StatusStep(msgspec.Struct, frozen=True, kw_only=True):
    """One part of the work.

    Attributes:
        name: What it is.
        state: How it stands; ``left out`` marks what may be skipped and was.
        text: Why, one sentence.
        command: What to run for it.
    """

    name: str
    state: StepState
    text: str
    command: str


class StatusDocument(Document, frozen=True, kw_only=True, tag="calib.status/1"):
    """How far the work is.

    Attributes:
        rig: The machine's name; None while there is no rig file.
        steps: The parts of the work in their order.
        next: The next command; None when everything is done.
        left_over: Captures that no record rests on, with the command that judges them.
    """

    rig: str | None = None
    steps: tuple[StatusStep, ...] = ()
    next: str | None = None
    left_over: tuple[str, ...] = ()


class SeenRange(msgspec.Struct, frozen=True, kw_only=True):
    """One channel while it was watched, in ``unit``; None where no sample came."""

    last: float | None
    low: float | None
    high: float | None
    unit: str


class WatchDocument(Document, frozen=True, kw_only=True, tag="calib.watch/1"):
    """What was seen; no capture unless one was kept.

    Attributes:
        channels: What was seen, by channel.
        samples: Count of samples.
        rejected_lines: Count of lines that could not be decoded.
        gaps: Count of gaps in time.
        resets: Count of times that the logger restarted.
        rate_hz: Samples a second at the end; None before there was one.
        elapsed_s: Device time that was watched.
    """

    channels: dict[str, SeenRange]
    samples: int
    rejected_lines: int
    gaps: int
    resets: int
    rate_hz: float | None
    elapsed_s: float
