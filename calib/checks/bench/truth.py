"""Whether the logger's own scale moved: everything it reads changed by the same factor."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from calib.checks.bench.signals import Signal
from calib.checks.limits import limit
from calib.store.documents.check import CheckFigures
from calib.store.documents.finding import Finding, Severity

LEAST_CHANGE = 0.03
"""Change of a supply's reading below which nothing is said; own choice, because a supply itself
may well be a few per cent off."""

NEAR_SHARE = 0.5
"""How near the factors of other channels must be, as a share of the change; own choice."""


def scale_finding(
    rail: Signal,
    others: Sequence[Signal],
    now: Mapping[str, CheckFigures],
    then: Mapping[str, CheckFigures],
) -> Finding | None:
    """The supply's reading changed, and so did channels that do not hang on it.

    Args:
        rail: The supply.
        others: Channels in volts that are fed from elsewhere.
        now: Figures by channel.
        then: Figures on record by channel.

    Source: own choice: a reference that moved scales every reading alike, a supply only those
    that hang on it.
    """
    change = _factor(rail.name, now, then)
    if change is None or abs(change - 1.0) < LEAST_CHANGE:
        return None
    factors = [factor for other in others if (factor := _factor(other.name, now, then)) is not None]
    if not factors or any(
        abs(factor - change) > NEAR_SHARE * abs(change - 1.0) for factor in factors
    ):
        return None
    return Finding(
        code="logger-scale",
        severity=Severity.FAIL,
        text=f"{rail.name} and the channels that do not hang on it all read "
        f"{100 * (change - 1):+.0f} % against the record: the logger's own reference has moved.",
        value=100.0 * (change - 1.0),
        limit=limit("moved_pct", rail.channel),
        unit="%",
        action="Meter the logger's reference or supply, then true it with 'calib meter'.",
        channel=rail.name,
    )


def _factor(
    name: str, now: Mapping[str, CheckFigures], then: Mapping[str, CheckFigures]
) -> float | None:
    here, there = now.get(name), then.get(name)
    if here is None or there is None or here.rest is None or there.rest is None:
        return None
    if there.rest.mean < 0.2:
        return None
    return here.rest.mean / there.rest.mean
