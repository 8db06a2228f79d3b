"""Documents that are printed and never kept: how things stand, and what a command wrote."""

from __future__ import annotations

from enum import StrEnum
from typing import Literal

import msgspec

from calib.store.documents.finding import Document, Severity


class HistoryEntry(msgspec.Struct, frozen=True, kw_only=True):
    """One record on file.

    Attributes:
        id: Its id.
        made_at: When it was measured, ISO 8601 with offset; when it was judged where nobody knows.
        command: The command that made it.
        channel: What it is about; None where it is about more than one.
        condition: What the person said of the conditions.
        verdict: Its verdict.
        superseded: Why it no longer counts; None while it does.
        odd: Why nobody can say how old it is; None where that is plain.
    """

    id: str
    made_at: str
    command: str
    verdict: Severity
    channel: str | None = None
    condition: str | None = None
    superseded: str | None = None
    odd: str | None = None


class DriftPoint(msgspec.Struct, frozen=True, kw_only=True):
    """One figure of one record, in the drift's unit, with its standard uncertainty."""

    made_at: str
    value: float
    u: float


class DriftFigures(msgspec.Struct, frozen=True, kw_only=True):
    """Drift of one figure of one channel.

    Attributes:
        channel: The channel.
        figure: rest or full.
        unit: Unit of the values.
        points: The figures, oldest first; volts at the supply of the first where it was logged.
        per_day: Slope, unit a day; None for fewer than three records.
        u_per_day: Its standard uncertainty.
        expanded_per_day: Half-width that holds the true change a day with 95 per cent probability.
        sure: Whether the slope differs from nought.
        low: Lower limit: the first figure less 3 % of the span.
        high: Upper limit.
        leaves_in_days: Days from the newest record until the line leaves the limits; None if it
            does not, or that is not sure.
    """

    channel: str
    figure: str
    unit: str
    points: tuple[DriftPoint, ...]
    low: float
    high: float
    per_day: float | None = None
    u_per_day: float | None = None
    expanded_per_day: float | None = None
    sure: bool = False
    leaves_in_days: float | None = None


class Comparison(msgspec.Struct, frozen=True, kw_only=True):
    """One channel under two conditions.

    Attributes:
        channel: The channel.
        first: Id of the first record.
        second: Id of the second.
        spread_ratio: Spread at rest in the second over that in the first.
        rest_shift: Rest in the second less rest in the first, V; None where either is missing.
        full_shift: The same for full travel.
    """

    channel: str
    first: str
    second: str
    spread_ratio: float | None = None
    rest_shift: float | None = None
    full_shift: float | None = None


class HistoryDocument(Document, frozen=True, kw_only=True, tag="calib.history/1"):
    """Everything on file for one rig.

    Attributes:
        records: Oldest first.
        drifts: One entry a figure.
        compared: Channels of two records that were compared.
        not_counted: What lies among the records and cannot be believed, one line each.
    """

    records: tuple[HistoryEntry, ...]
    drifts: tuple[DriftFigures, ...] = ()
    compared: tuple[Comparison, ...] = ()
    not_counted: tuple[str, ...] = ()


class Origin(StrEnum):
    """Where a value of the rig file comes from."""

    FOUND = "found"  # from what the logger sent
    STATED = "stated"  # by the person
    KEPT = "kept"  # stood in the file
    ASSUMED = "assumed"  # nobody measured or stated it


class Setting(msgspec.Struct, frozen=True, kw_only=True):
    """One value of the rig file.

    Attributes:
        table: As it stands in the file: ``link``, ``channels.throttle``.
        key: Its name.
        value: As it is in the file now.
        origin: Where it comes from.
        why: What speaks for it; empty where there is nothing to say.
        changed: Whether this run wrote it.
    """

    table: str
    key: str
    value: bool | int | float | str | tuple[float | str, ...]
    origin: Origin
    why: str = ""
    changed: bool = False


class ColumnSeen(msgspec.Struct, frozen=True, kw_only=True):
    """One column that the logger sends; its name is untrusted and neutral.

    Attributes:
        number: Its place, from 0.
        name: As the logger names it; None where it sends no header.
        low: Lowest number seen.
        high: Highest number seen.
        use: ``time``, the name of its channel, or None where nothing is known of it.
    """

    number: int
    name: str | None
    low: float
    high: float
    use: str | None


class RateTried(msgspec.Struct, frozen=True, kw_only=True):
    """One rate that was listened at.

    Attributes:
        baud: Bits a second.
        received_bytes: Bytes that came.
        understood_pct: Share of the lines that decode, in per cent.
    """

    baud: int
    received_bytes: int
    understood_pct: float


class SetupDocument(Document, frozen=True, kw_only=True, tag="calib.setup/1"):
    """A rig file as it was made or changed.

    Attributes:
        rig: The rig file.
        created: It was not there before.
        port: The port that was listened to; None where a file was read.
        tried: Rates that were listened at, in order.
        settings: Every value that was looked at, in the order of the file.
        columns: Every column that the logger sends.
    """

    rig: str
    created: bool
    port: str | None
    tried: tuple[RateTried, ...]
    settings: tuple[Setting, ...]
    columns: tuple[ColumnSeen, ...]


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


AnyPrinted = (
    DemoDocument
    | HistoryDocument
    | LoggerCodeDocument
    | PortsDocument
    | ReportDocument
    | SetupDocument
    | StatusDocument
    | WatchDocument
)
"""Every document that no record holds, but for the sheet and an error."""
