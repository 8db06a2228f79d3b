"""What the records say together: drift of every control, and two conditions held side by side."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from calib.checks.file.moved import CONFIDENCE, Mean, Moved, at_supply, shift
from calib.checks.file.validity import Filed, odd_because
from calib.checks.limits import limit
from calib.checks.order import judged
from calib.errors import UsageError
from calib.measure.distributions import student_quantile
from calib.measure.uncertainty import coverage_factor
from calib.store.documents import said
from calib.store.documents.check import CheckDocument
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.printed import (
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

FIGURES = ("rest", "full")

LEAST_POINTS = 3
"""Records below which a line says nothing; own choice: two points always lie on one."""

LEAST_U = 1e-6
"""Least uncertainty of a point, V; own choice: one without any would take the whole weight."""

LEAST_DAYS = 1.0
"""Days that records must span; own choice: within an evening a control warms, it does not drift."""


@dataclass(frozen=True, slots=True)
class Ends:
    """Rest and full travel of one control in one record.

    Attributes:
        record: The record.
        channel: The control.
        levels: Rest and full travel by name, V.
        noise: Spread of single readings at rest, V; None where it was not measured.
        supply_V: The control's supply; None where it was not logged.
    """

    record: Record
    channel: str
    levels: dict[str, Mean]
    noise: float | None
    supply_V: float | None

    def margin_V(self, rig: Rig) -> float:
        """How far either end may move from where it is here, V."""
        moved_pct = limit("moved_pct", rig.channels.get(self.channel))
        return moved_pct / 100.0 * abs(self.levels["full"].mean - self.levels["rest"].mean)

    def at_supply_of(self, first: Ends, figure: str) -> Mean:
        """A level in volts at the supply of another record, where both logged it."""
        level, scale = self.levels[figure], at_supply(first.supply_V, self.supply_V)
        return Mean(level.mean * scale, level.u * scale, level.dof)


def ends_in(record: Record) -> Iterator[Ends]:
    """Rest and full travel of every control that a record measured."""
    document = record.document
    if isinstance(document, TravelDocument):
        rest, full, fed = document.rest, document.full, document.supply
        if rest is not None and full is not None:
            supply_V = fed.volts if fed is not None and fed.origin == "logged" else None
            ends = {"rest": rest, "full": full}
            levels = {at: _level(each.mean, each.u, each.plateaus) for at, each in ends.items()}
            yield Ends(record, document.channel, levels, rest.sd_within, supply_V)
    elif isinstance(document, CheckDocument):
        for name, channel in document.channels.items():
            seen = channel.figures
            if seen is not None and seen.rest is not None and seen.full is not None:
                both = {"rest": seen.rest, "full": seen.full}
                levels = {at: _level(each.mean, each.u, each.stays) for at, each in both.items()}
                yield Ends(record, name, levels, seen.noise, seen.supply_V)


def _level(mean_V: float, u_V: float, stays: int) -> Mean:
    return Mean(mean_V, u_V, max(1.0, stays - 1.0))


def history_of(filed: Filed, pair: tuple[Record, Record] | None = None) -> HistoryDocument:
    """Every record, the drift of every control, and two records held side by side.

    Args:
        filed: What is on file.
        pair: Two records to compare; None for none.

    Raises:
        UsageError: The two have no control in common.
    """
    rig, records = filed.rig, filed.records
    plain = [record for record in records if odd_because(record, filed) is None]
    drifts = drifts_of(rig, plain)
    found = [finding for each in drifts for finding in _drift_findings(rig, each)]
    compared: list[Comparison] = []
    if pair is not None:
        compared, more = compare(rig, *pair)
        found += more
    return HistoryDocument(
        **judged(found, (), without=Severity.PASS),
        records=tuple(
            HistoryEntry(
                id=record.id,
                made_at=record.when_at,
                command=record.command,
                verdict=record.document.verdict,
                channel=record.channel,
                condition=record.condition,
                superseded=None if record.superseded is None else record.superseded.reason,
                odd=odd_because(record, filed),
            )
            for record in records
        ),
        not_counted=records.odd,
        drifts=tuple(drifts),
        compared=tuple(compared),
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
    levels = [each.at_supply_of(series[0], figure) for each in series]
    margin_V = series[0].margin_V(rig)
    low_V, high_V = levels[0].mean - margin_V, levels[0].mean + margin_V
    days = [each.record.when.timestamp() / SECONDS_A_DAY for each in series]
    line = drift_of(list(zip(days, levels, strict=True)))
    return DriftFigures(
        channel=name,
        figure=figure,
        unit="V",
        points=tuple(
            DriftPoint(made_at=each.record.when_at, value=level.mean, u=level.u)
            for each, level in zip(series, levels, strict=True)
        ),
        low=low_V,
        high=high_V,
        per_day=None if line is None else line.slope,
        u_per_day=None if line is None else line.u_slope,
        expanded_per_day=None if line is None else coverage_factor(line.dof) * line.u_slope,
        sure=line is not None and line.sure,
        leaves_in_days=None if line is None else line.days_until(low_V, high_V),
    )


@dataclass(frozen=True, slots=True)
class Drift:
    """A straight line through the records.

    Attributes:
        slope: Change a day, in the figure's unit.
        u_slope: Standard uncertainty of the slope.
        dof: Its degrees of freedom.
        last: The line's value at the newest record.
        sure: Whether the slope differs from nought at ``CONFIDENCE``.
    """

    slope: float
    u_slope: float
    dof: int
    last: float
    sure: bool

    def days_until(self, low: float, high: float) -> float | None:
        """Days from the newest record until the line leaves its limits; None if it never will.

        0 where it is outside already; None also where the slope is not sure.
        """
        if not low <= self.last <= high:
            return 0.0
        if not self.sure:
            return None
        return ((high if self.slope > 0.0 else low) - self.last) / self.slope


def drift_of(points: Sequence[tuple[float, Mean]]) -> Drift | None:
    """A weighted straight line through the figures of several records.

    Where the figures scatter more than their own uncertainties say, the uncertainties are
    enlarged to what the scatter shows; they are never made smaller.

    Args:
        points: Days from any fixed moment, and what was found then, in any order.

    Returns:
        None for fewer than three, or all within a day.

    Source: weighted least squares, e.g. NIST/SEMATECH e-Handbook 4.4.3 (from memory); enlarging
    by the Birge ratio, Phys. Rev. 40 (1932) 207 (from memory).
    """
    days = [day for day, _ in points]
    if len(points) < LEAST_POINTS or max(days) - min(days) < LEAST_DAYS:
        return None
    values = [level.mean for _, level in points]
    weights = [1.0 / max(level.u, LEAST_U) ** 2 for _, level in points]
    total = sum(weights)
    mean_day = sum(w * day for w, day in zip(weights, days, strict=True)) / total
    mean = sum(w * value for w, value in zip(weights, values, strict=True)) / total
    triples = [(w, d - mean_day, v - mean) for w, d, v in zip(weights, days, values, strict=True)]
    square = sum(w * off**2 for w, off, _ in triples)
    slope = sum(w * off * above for w, off, above in triples) / square
    misfit = sum(w * (above - slope * off) ** 2 for w, off, above in triples)
    dof = len(points) - 2
    u_slope = max(1.0, math.sqrt(misfit / dof)) / math.sqrt(square)
    quantile = student_quantile(0.5 + 0.5 * CONFIDENCE, dof)
    return Drift(
        slope=slope,
        u_slope=u_slope,
        dof=dof,
        last=mean + slope * (max(days) - mean_day),
        sure=abs(slope) > quantile * u_slope,
    )


def _drift_findings(rig: Rig, drift: DriftFigures) -> said.Findings:
    """A drift that leaves its limits soon, or has left them."""
    days, soon = drift.leaves_in_days, limit("drifts_soon_days", rig.channels.get(drift.channel))
    if days is None or days > soon or drift.per_day is None or drift.expanded_per_day is None:
        return
    yield said.caution(
        "drifts-on-record/outside" if days <= 0.0 else "drifts-on-record",
        days,
        soon,
        channel=drift.channel,
        level="Full travel" if drift.figure == "full" else "Rest",
        drift=drift,
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
        raise UsageError.of("nothing-in-common", first=first.id, second=second.id)
    compared: list[Comparison] = []
    found: list[Finding] = []
    for name in common:
        one, two = firsts[name], seconds[name]
        ratio = two.noise / one.noise if one.noise and two.noise else None
        now = {figure: two.at_supply_of(one, figure) for figure in FIGURES}
        compared.append(
            Comparison(
                channel=name,
                first=first.id,
                second=second.id,
                spread_ratio=ratio,
                rest_shift=now["rest"].mean - one.levels["rest"].mean,
                full_shift=now["full"].mean - one.levels["full"].mean,
            )
        )
        found.extend(_condition_findings(rig, one, now, ratio, second.condition))
    return compared, found


def _condition_findings(
    rig: Rig, then: Ends, now: dict[str, Mean], ratio: float | None, condition: str | None
) -> said.Findings:
    name, under = then.channel, f" under '{condition}'" if condition else ""
    allowed = limit("condition_ratio", rig.channels.get(name))
    yield from said.above("noise-grown/condition", ratio, allowed, channel=name, under=under)
    margin_V = then.margin_V(rig)
    for figure in FIGURES:
        found = shift(now[figure], then.levels[figure], margin=margin_V)
        if found.moved is Moved.EQUIVALENT:
            continue
        sure = found.moved is Moved.OUTSIDE
        yield said.caution(
            "full-moved/condition" if figure == "full" else "rest-moved/condition",
            1000.0 * found.value,
            1000.0 * margin_V,
            channel=name,
            under=under,
            not_sure="" if sure else " (not sure: five more presses would tell)",
        )
