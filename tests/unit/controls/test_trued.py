"""How well trued volts are known, inside and beyond what was trued."""

from __future__ import annotations

from dataclasses import dataclass

import msgspec
import pytest

from calib.checks.travel.judgement import outside_findings
from calib.controls.scale_budget import (
    OUTSIDE_SHARE,
    AllowedLevel,
    level_budget,
    outside_V,
    trued_u,
    u_at,
)
from calib.controls.values import dead_band
from calib.store.documents.finding import Severity
from calib.store.rig import Channel, Scale
from tests.unit.controls.test_scale_budget import known, level

LINE = Scale(
    gain=1.0, offset_V=0.0, u_gain=0.001, u_offset_V=0.002, cov=0.0, date="2026-11-25",
    from_V=1.0, to_V=4.0,
)  # fmt: skip


@dataclass(frozen=True)
class Travel:
    """Two levels with their allowance."""

    rest: AllowedLevel
    full: AllowedLevel


def travel(rest_V: float, full_V: float) -> Travel:
    """A travel of five presses between two levels."""
    ends = [level(rest_V), level(full_V)]
    return Travel(*(AllowedLevel(one, level_budget(one.spread, known())) for one in ends))


def severities(scale: Scale, rest_V: float, full_V: float) -> list[tuple[str, Severity]]:
    """Codes and severities of a travel's limits against what was trued."""
    hand = travel(rest_V, full_V)
    band = dead_band(
        rest_V=rest_V, full_V=full_V, rest_limit_V=hand.rest.limit_V(upper=True),
        full_limit_V=hand.full.limit_V(upper=False), floor_pct=3.0, step_V=0.01,
    )  # fmt: skip
    about = Channel(role="control", column="a0", unit="V", scale=scale)
    found = outside_findings(about, hand.rest, hand.full, band)
    return [(finding.code, finding.severity) for finding in found]


def test_doubt_grows_beyond_what_was_trued() -> None:
    """Inside, the line's own uncertainty; beyond, a share of the distance, rectangular."""
    assert u_at(2.0, LINE) == trued_u(2.0, LINE)
    beyond = u_at(4.5, LINE) ** 2 - trued_u(4.5, LINE) ** 2
    assert beyond**0.5 == pytest.approx(OUTSIDE_SHARE * 0.5 / 3.0**0.5)
    assert u_at(0.5, LINE) > u_at(1.0, LINE)


def test_a_curves_doubt_is_that_of_its_rows() -> None:
    """Between two rows the uncertainty is straight between theirs."""
    curve = ((1.0, 1.0, 0.002), (2.0, 2.2, 0.004), (4.0, 4.0, 0.004))
    assert trued_u(1.6, msgspec.structs.replace(LINE, curve=curve)) == pytest.approx(0.003)


def test_limits_inside_pass() -> None:
    """A travel between the trued ends, or at them, has nothing said of it."""
    assert severities(LINE, 1.0, 4.0) == []


def test_a_limit_outside_is_never_pass() -> None:
    """A little beyond is a caution; farther than a bow would be harmless, unknown."""
    assert severities(LINE, 1.0, 4.08) == [("outside-trued", Severity.CAUTION)]
    assert severities(LINE, 1.0, 4.6) == [("outside-trued", Severity.UNKNOWN)]
    assert severities(LINE, 0.6, 3.9) == [("outside-trued", Severity.UNKNOWN)]


def test_a_truing_without_its_range_is_a_caution() -> None:
    """Where nobody noted what was trued, that is said."""
    bare = msgspec.structs.replace(LINE, from_V=None, to_V=None)
    assert severities(bare, 1.0, 4.0) == [("trued-range-unknown", Severity.CAUTION)]


def test_how_far_a_level_lies_outside() -> None:
    """Nothing between the trued ends and at them; beyond, to the nearer end; unknown is nothing."""
    assert [outside_V(level_V, LINE) for level_V in (0.5, 1.0, 2.0, 4.0, 4.25)] == [
        0.5, 0.0, 0.0, 0.0, 0.25,
    ]  # fmt: skip
    for bare in ({"from_V": None}, {"to_V": None}, {"from_V": None, "to_V": None}):
        assert outside_V(9.0, msgspec.structs.replace(LINE, **bare)) == 0.0


def test_a_level_that_gain_and_offset_cancel_at_is_known_exactly() -> None:
    """Where rounding makes the variance of such a level negative it is nothing, and no error."""
    exact = msgspec.structs.replace(LINE, u_gain=0.1, u_offset_V=0.3, cov=-0.03)
    assert trued_u(3.0, exact) == pytest.approx(0.0, abs=1e-8)
    assert trued_u(3.0, msgspec.structs.replace(exact, cov=-0.0300001)) == 0.0
