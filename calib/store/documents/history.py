"""The document of ``calib history``: what was measured when, and the drift since."""

from __future__ import annotations

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
