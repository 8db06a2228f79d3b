"""What the records say together: drift of every control, and two conditions held side by side."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from calib.checks.file.drift import Drift, Point, drift_of
from calib.checks.file.equivalence import Level, Moved, shift
from calib.checks.file.standing import Evidence, odd_because
from calib.checks.limits import limit
from calib.checks.order import in_order
from calib.errors import UsageError
from calib.measure.uncertainty import coverage_factor
from calib.store.documents import said
from calib.store.documents.check import CheckDocument
from calib.store.documents.finding import Finding, Severity, worst
from calib.store.documents.history import (
    Comparison,
    DriftFigures,
    DriftPoint,
    HistoryDocument,
    HistoryEntry,
)
from calib.store.documents.travel import TravelDocument
from calib.store.records import Record
from calib.store.rig import Rig

SECONDS_A_DAY = 86_400.0
LEAST_U = 1e-6  # V; a figure without any uncertainty would take the whole weight

FIGURES = ("rest", "full")


@dataclass(frozen=True, slots=True)
class Ends:
    """Rest and full travel of one control in one record.

    Attributes:
        record: The record.
        channel: The control.
        rest: Rest, V.
        full: Full travel, V.
        noise: Spread of single readings at rest, V; None where it was not measured.
        supply_V: The control's supply; None where it was not logged.
    """

    record: Record
    channel: str
    rest: Level
    full: Level
    noise: float | None
    supply_V: float | None


def ends_in(record: Record) -> list[Ends]:
    """Rest and full travel of every control that a record measured."""
    document = record.document
    if isinstance(document, TravelDocument):
        if document.rest is None or document.full is None:
            return []
        rest = Level(document.rest.mean, document.rest.u, max(1.0, document.rest.plateaus - 1.0))
        full = Level(document.full.mean, document.full.u, max(1.0, document.full.plateaus - 1.0))
        fed = document.supply
        supply_V = fed.volts if fed is not None and fed.origin == "logged" else None
        return [Ends(record, document.channel, rest, full, document.rest.sd_within, supply_V)]
    if not isinstance(document, CheckDocument):
        return []
    found = []
    for name, channel in document.channels.items():
        figures = channel.figures
        if figures is None or figures.rest is None or figures.full is None:
            continue
        rest = Level(figures.rest.mean, figures.rest.u, max(1.0, figures.rest.stays - 1.0))
        full = Level(figures.full.mean, figures.full.u, max(1.0, figures.full.stays - 1.0))
        found.append(Ends(record, name, rest, full, figures.noise, figures.supply_V))
    return found


def history_of(evidence: Evidence, pair: tuple[Record, Record] | None = None) -> HistoryDocument:
    """Every record, the drift of every control, and two records held side by side.

    Args:
        evidence: What is on file.
        pair: Two records to compare; None for none.

    Raises:
        UsageError: The two have no control in common.
    """
    rig, records = evidence.rig, evidence.file
    plain = [record for record in records if odd_because(record, evidence) is None]
    drifts = drifts_of(rig, plain)
    found: list[Finding] = [
        finding for each in drifts if (finding := _drift_finding(rig, each)) is not None
    ]
    compared: list[Comparison] = []
    if pair is not None:
        compared, more = compare(rig, *pair)
        found.extend(more)
    return HistoryDocument(
        verdict=worst([Severity.PASS, *(finding.severity for finding in found)]),
        findings=in_order(found),
        records=tuple(_entry(record, odd_because(record, evidence)) for record in records),
        not_counted=records.odd,
        drifts=tuple(drifts),
        compared=tuple(compared),
    )


def _entry(record: Record, odd: str | None) -> HistoryEntry:
    return HistoryEntry(
        id=record.id,
        made_at=record.when_at,
        command=record.command,
        verdict=record.document.verdict,
        channel=record.channel,
        condition=record.condition,
        superseded=None if record.superseded is None else record.superseded.reason,
        odd=odd,
    )


def drifts_of(rig: Rig, records: Sequence[Record]) -> list[DriftFigures]:
    """Drift of rest and full travel of every control of the rig.

    Travels and checks are kept apart, for they are made differently; the kind with more records
    speaks. Records that were superseded, or made under a condition of their own, do not count.
    """
    found: list[DriftFigures] = []
    for name in rig.with_role("control"):
        kinds = [_series(records, name, travels=travels) for travels in (True, False)]
        series = max(kinds, key=len)
        if series:
            found.extend(_drift(rig, name, figure, series) for figure in FIGURES)
    return found


def _series(records: Sequence[Record], name: str, *, travels: bool) -> list[Ends]:
    counted = [
        record
        for record in records
        if record.superseded is None
        and record.condition is None
        and isinstance(record.document, TravelDocument) == travels
    ]
    return [ends for record in counted for ends in ends_in(record) if ends.channel == name]


def _drift(rig: Rig, name: str, figure: str, series: Sequence[Ends]) -> DriftFigures:
    first = series[0]
    scaled = [_at_supply_of(first, each, figure) for each in series]
    margin = limit("moved_pct", rig.channels[name]) / 100.0 * abs(first.full.mean - first.rest.mean)
    low, high = scaled[0].mean - margin, scaled[0].mean + margin
    line = drift_of(
        [
            Point(_day(each.record), level.mean, max(level.u, LEAST_U))
            for each, level in zip(series, scaled, strict=True)
        ]
    )
    return DriftFigures(
        channel=name,
        figure=figure,
        unit="V",
        points=tuple(
            DriftPoint(made_at=each.record.when_at, value=level.mean, u=level.u)
            for each, level in zip(series, scaled, strict=True)
        ),
        low=low,
        high=high,
        per_day=None if line is None else line.slope,
        u_per_day=None if line is None else line.u_slope,
        expanded_per_day=None if line is None else coverage_factor(line.dof) * line.u_slope,
        sure=line is not None and line.sure,
        leaves_in_days=_leaves(line, low, high),
    )


def _leaves(line: Drift | None, low: float, high: float) -> float | None:
    return None if line is None else line.days_until(low, high)


def _day(record: Record) -> float:
    return record.when.timestamp() / SECONDS_A_DAY


def _at_supply_of(first: Ends, each: Ends, figure: str) -> Level:
    """A level in volts at the supply of the first record, where both logged it."""
    level = each.rest if figure == "rest" else each.full
    if first.supply_V is None or each.supply_V is None or each.supply_V <= 0.0:
        return level
    scale = first.supply_V / each.supply_V
    return Level(level.mean * scale, level.u * scale, level.dof)


def _drift_finding(rig: Rig, drift: DriftFigures) -> Finding | None:
    """A drift that leaves its limits soon, or has left them."""
    days, soon = drift.leaves_in_days, limit("drifts_soon_days", rig.channels.get(drift.channel))
    if days is None or days > soon or drift.per_day is None or drift.expanded_per_day is None:
        return None
    word = "full travel" if drift.figure == "full" else "rest"
    when = "has left its limits" if days <= 0.0 else f"will leave its limits in {days:.0f} days"
    return said.caution(
        "drifts-on-record",
        days,
        soon,
        channel=drift.channel,
        word=word.capitalize(),
        mV=1000 * drift.per_day,
        expanded_per_day=1000 * drift.expanded_per_day,
        when=when,
    )


def compare(rig: Rig, first: Record, second: Record) -> tuple[list[Comparison], list[Finding]]:
    """Two records side by side: spread ratio, and shift of rest and full travel.

    Raises:
        UsageError: They have no control in common.
    """
    firsts = {ends.channel: ends for ends in ends_in(first)}
    seconds = {ends.channel: ends for ends in ends_in(second)}
    common = [name for name in firsts if name in seconds]
    if not common:
        raise UsageError(
            f"Records {first.id} and {second.id} measured no control in common.",
            "Compare two checks, or two travels of one control; see them with 'calib history'.",
        )
    compared: list[Comparison] = []
    found: list[Finding] = []
    for name in common:
        one, two = firsts[name], seconds[name]
        ratio = two.noise / one.noise if one.noise and two.noise else None
        scaled = {figure: _at_supply_of(one, two, figure) for figure in FIGURES}
        compared.append(
            Comparison(
                channel=name,
                first=first.id,
                second=second.id,
                spread_ratio=ratio,
                rest_shift=scaled["rest"].mean - one.rest.mean,
                full_shift=scaled["full"].mean - one.full.mean,
            )
        )
        found.extend(_condition_findings(rig, one, two, scaled, ratio))
    return compared, found


def _condition_findings(
    rig: Rig, one: Ends, two: Ends, scaled: dict[str, Level], ratio: float | None
) -> Iterable[Finding]:
    channel = rig.channels.get(one.channel)
    under = f" under '{two.record.condition}'" if two.record.condition else ""
    allowed = limit("condition_ratio", channel)
    if ratio is not None and ratio > allowed:
        yield said.caution("noise-grown/file", ratio, allowed, channel=one.channel, under=under)
    margin = limit("moved_pct", channel) / 100.0 * abs(one.full.mean - one.rest.mean)
    for figure, then in (("rest", one.rest), ("full", one.full)):
        moved = shift(scaled[figure], then, margin=margin)
        if moved.moved is Moved.EQUIVALENT:
            continue
        word = "full travel" if figure == "full" else "rest"
        sure = "" if moved.moved is Moved.OUTSIDE else " (not sure: five more presses would tell)"
        yield Finding(
            code="full-moved" if figure == "full" else "rest-moved",
            severity=Severity.CAUTION,
            text=f"{word.capitalize()} of {one.channel} shifts by {1000 * moved.value:+.0f} mV"
            f"{under}{sure}.",
            value=1000.0 * moved.value,
            limit=1000.0 * margin,
            unit="mV",
            action="Leave room for it in the dead band, or mend ground and supply.",
            channel=one.channel,
        )
