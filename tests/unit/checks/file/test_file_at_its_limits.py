"""What moved, drifted or aged on file, at both sides of each limit, by exact figures."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import msgspec
import numpy as np
import pytest

from calib.checks.file.history import compare, drift_of, ends_in, history_of
from calib.checks.file.moved import (
    Cause,
    Mean,
    Moved,
    Shift,
    TravelShift,
    compare_ends,
    moved_findings,
)
from calib.checks.file.validity import Filed, State, odd_because
from calib.measure.uncertainty import coverage_factor
from calib.store.asked import RigKey
from calib.store.documents.check import ChannelCheck, CheckDocument, CheckFigures, CheckLevel
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.kinds import AnyDocument
from calib.store.documents.note import NoteDocument
from calib.store.documents.travel import SupplyFigures, TravelDocument
from calib.store.records import Lost, OnFile, Record
from calib.store.rig import Rig, read_rig
from tests.records import on_file, record_of
from tests.unit.evidence import level, travel

PASS = Severity.PASS
NOW = datetime(2026, 4, 1, 12, tzinfo=UTC)
TEXT = '[channels.{}]\nrole = "control"\ncolumn = "a0"\nunit = "V"\n'


def _rig(more: str = "", name: str = "throttle") -> Rig:
    return read_rig(Path("rig.toml"), (TEXT.format(name) + more).encode())


def _level(mean_V: float, sd_V: float = 0.004, stays: int = 4, step_V: float = 0.0) -> CheckLevel:
    u_V = math.hypot(sd_V / math.sqrt(stays), step_V)
    return CheckLevel(mean=mean_V, sd=sd_V, u=u_V, stays=stays)


def _figures(
    rest: CheckLevel | None,
    full: CheckLevel | None,
    supply_V: float | None = 5.0,
    noise: float | None = 0.003,
) -> CheckFigures:
    return CheckFigures(unit="V", rest=rest, full=full, supply_V=supply_V, noise=noise)


def _moved(
    then: tuple[float, float],
    now: tuple[float, float],
    supplies_V: tuple[float | None, float | None] = (5.0, 5.0),
    *,
    sets_off_late: bool = False,
) -> TravelShift:
    """Rest and full travel then and now."""
    of_then, of_now = (
        _figures(_level(rest_V), _level(full_V), supply_V)
        for (rest_V, full_V), supply_V in zip((then, now), supplies_V, strict=True)
    )
    found = compare_ends(of_now, of_then, late=sets_off_late)
    assert found is not None
    return found


ENDS = ((1.0, 4.1), (4.1, 1.0), (0.8, 2.4), (4.2, 2.6), (2.1, 3.0))
"""Rest and full travel, V: over most of the supply and over less of it, both ways round."""


def _explained(then: tuple[float, float], now: tuple[float, float]) -> set[Cause | None]:
    """The causes of a move, whether or not the signal set off late."""
    return {_moved(then, now, sets_off_late=late).cause for late in (False, True)}


@pytest.mark.parametrize("ends", ENDS)
@pytest.mark.parametrize(
    ("cause", "to_V"), [(Cause.TO_GROUND, 0.0), (Cause.TO_SUPPLY, 5.0), (Cause.WEAK_MAGNET, 2.5)]
)
def test_a_pull_draws_both_ends_by_a_tenth_of_their_way(
    ends: tuple[float, float], cause: Cause, to_V: float
) -> None:
    """To ground, to the supply, or from both sides to half of it, where no field is."""
    now = (0.1 * to_V + 0.9 * ends[0], 0.1 * to_V + 0.9 * ends[1])
    if cause is not Cause.WEAK_MAGNET:
        assert _explained(ends, now) == {cause}
    elif min(ends) < 2.5 < max(ends):
        assert _moved(ends, now).cause is cause


@pytest.mark.parametrize("ends", ENDS)
@pytest.mark.parametrize("by_V", [0.3, -0.3])
@pytest.mark.parametrize(
    ("cause", "rest", "full"),
    [(Cause.REST, 1.0, 0.0), (Cause.FULL, 0.0, 1.0), (Cause.OFFSET, 1.0, 1.0)],
)
def test_a_stop_or_a_seat_moves_either_way(
    ends: tuple[float, float], by_V: float, cause: Cause, rest: float, full: float
) -> None:
    """One end, or both by as much."""
    assert _explained(ends, (ends[0] + rest * by_V, ends[1] + full * by_V)) == {cause}


@pytest.mark.parametrize("ends", ENDS)
def test_a_signal_that_sets_off_late_stays_short_of_both_ends(ends: tuple[float, float]) -> None:
    """By as much; and ends that changed places are a control that is reversed."""
    inward_V = math.copysign(0.2, ends[1] - ends[0])
    now = (ends[0] + inward_V, ends[1] - inward_V)
    assert _moved(ends, now, sets_off_late=True).cause is Cause.LAGS
    assert _explained(ends, ends[::-1]) == {Cause.REVERSED}


@pytest.mark.parametrize("supplies_V", [(3.3, 3.3), (3.3, None), (None, None), (None, 3.3)])
def test_what_is_drawn_to_the_supply_is_drawn_to_the_one_on_record(
    supplies_V: tuple[float | None, float | None],
) -> None:
    """To five volts where none was logged then."""
    supply_V = supplies_V[0] or 5.0
    then = (0.7, 2.6)
    for cause, to_V in ((Cause.TO_SUPPLY, supply_V), (Cause.WEAK_MAGNET, supply_V / 2.0)):
        now = (to_V - 0.8 * (to_V - then[0]), to_V - 0.8 * (to_V - then[1]))
        assert _moved(then, now, supplies_V).cause is cause


@pytest.mark.parametrize(
    ("supplies_V", "shift_V"),
    [
        ((5.0, 4.0), 0.25),
        ((None, 4.0), 0.0),
        ((5.0, None), 0.0),
        ((5.0, 0.0), 0.0),
        ((5.0, 0.5), 9.0),
    ],
)
def test_levels_are_held_side_by_side_at_the_supply_of_the_record(
    supplies_V: tuple[float | None, float | None], shift_V: float
) -> None:
    """Where both were logged, and the one now is any."""
    found = _moved((1.0, 4.0), (1.0, 4.0), supplies_V)
    assert found.rest.value == pytest.approx(shift_V)
    assert found.full.value == pytest.approx(4.0 * shift_V)
    assert found.span_V == 3.0


def test_a_level_that_is_known_better_decides_the_cause() -> None:
    """Rest fell by 300 mV and full travel by 135: alone it leaves these, both together 165 of it.

    Where both are known alike, 217 mV of both leave 83 of each, and that is less.
    """
    rests = _level(1.0), _level(0.7)
    for sd_V, cause in ((0.2, Cause.REST), (0.004, Cause.OFFSET)):
        fulls = _level(4.0, sd_V), _level(3.865, sd_V)
        found = compare_ends(_figures(rests[1], fulls[1]), _figures(rests[0], fulls[0]))
        assert found is not None
        assert found.cause is cause


@pytest.mark.parametrize(("step_now_V", "step_then_V"), [(0.0, 0.0), (0.01, 0.0), (0.0, 0.02)])
def test_the_converters_step_is_no_scatter(step_now_V: float, step_then_V: float) -> None:
    """It is added to what both spreads together make of each mean: 5 mV, of eight stays' means."""
    now = _figures(_level(1.0, 0.005, 4, step_now_V), _level(4.0), supply_V=None)
    then = _figures(_level(1.0, 0.005, 4, step_then_V), _level(4.0), supply_V=None)
    found = compare_ends(now, then)
    assert found is not None
    spread_V = 0.005 / math.sqrt(4.0)
    expected_V = math.hypot(spread_V, spread_V, step_now_V, step_then_V)
    assert found.rest.u == pytest.approx(expected_V)


def test_a_scaled_step_goes_with_its_volts() -> None:
    """Ten millivolts at four volts are twelve and a half at five."""
    now = _figures(_level(0.8, 0.0, 4, 0.01), _level(3.2), supply_V=4.0)
    found = compare_ends(now, _figures(_level(1.0, 0.0), _level(4.0)))
    assert found is not None
    # a thousandth of the span is the least spread of a level, three millivolts
    expected_V = math.hypot(0.003 / 2.0, 0.003 / 2.0, 0.0125)
    assert found.rest.u == pytest.approx(expected_V)
    assert found.rest.dof > 6.0


@pytest.mark.parametrize(
    ("stays_now", "stays_then", "variance", "dof"),
    [(3, 5, (0.006**2 * 2 + 0.004**2 * 4) / 6, 6.0), (1, 5, 0.004**2, 4.0), (3, 1, 0.006**2, 2.0)],
)
def test_both_spreads_are_pooled_by_their_degrees_of_freedom(
    stays_now: int, stays_then: int, variance: float, dof: float
) -> None:
    """One stay has none."""
    now = _figures(_level(1.0, 0.006, stays_now), _level(4.0))
    then = _figures(_level(1.0, 0.004, stays_then), _level(4.0))
    found = compare_ends(now, then)
    assert found is not None
    step_now_V, step_then_V = (
        math.sqrt(max(each.u**2 - each.sd**2 / each.stays, 0.0))
        for each in (now.rest, then.rest)
        if each
    )
    expected_V = math.hypot(
        math.sqrt(variance / stays_now), math.sqrt(variance / stays_then), step_now_V, step_then_V
    )
    assert found.rest.u == pytest.approx(expected_V)
    # each mean has all of them, so both together have no fewer
    assert dof <= found.rest.dof <= 2.0 * dof


def _shift(value: float, u: float = 0.001) -> Shift:
    return Shift(value, u, math.inf, 0.09)


@pytest.mark.parametrize(
    ("rest_V", "full_V", "cause", "pct"),
    [
        (0.01, -0.02, None, -0.02 / 3.0),
        (0.3, -0.2, Cause.REST, 0.1),
        (-0.3, 0.2, Cause.REST, -0.1),
        (0.2, -0.6, Cause.WEAK_MAGNET, -0.2),
    ],
)
def test_the_farthest_end_is_held_against_the_margin(
    rest_V: float, full_V: float, cause: Cause | None, pct: float
) -> None:
    """In per cent of the span, with its sign; both ends are told in millivolts."""
    (found,) = moved_findings("throttle", TravelShift(_shift(rest_V), _shift(full_V), 3.0, cause))
    assert found.severity is (PASS if cause is None else Severity.FAIL)
    assert found.code == ("where-it-was" if cause is None else cause.value)
    assert found.value == pytest.approx(100.0 * pct)
    assert found.limit == pytest.approx(3.0)
    assert f"{1000.0 * rest_V:+.0f} mV" in found.text
    assert f"{1000.0 * full_V:+.0f} mV" in found.text


@pytest.mark.parametrize(("u", "sure"), [(0.001, True), (0.2, False)])
def test_a_move_that_is_not_sure_asks_for_more_presses(u: float, sure: bool) -> None:
    """It fails where it is."""
    both = TravelShift(_shift(0.2, u), _shift(0.0, u), 3.0, Cause.REST)
    (found,) = moved_findings("throttle", both)
    assert found.severity is (Severity.FAIL if sure else Severity.CAUTION)
    assert ("not sure" in found.text or "may have moved" in found.text) is not sure
    assert found.action.startswith("Check again with five more presses") is not sure


@pytest.mark.parametrize(
    ("rest", "full", "moved"),
    [
        (0.0, 0.0, Moved.EQUIVALENT),
        (0.2, 0.0, Moved.OUTSIDE),
        (0.0, 0.2, Moved.OUTSIDE),
        (0.09, 0.0, Moved.UNDECIDED),
        (0.09, 0.2, Moved.OUTSIDE),
    ],
)
def test_the_worse_of_both_ends_counts(rest: float, full: float, moved: Moved) -> None:
    """Outside before undecided before equivalent."""
    assert TravelShift(_shift(rest), _shift(full), 3.0, None).moved is moved


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_what_lies_on_its_margin_is_undecided(way: float) -> None:
    """Neither within it nor beyond it, where all is known."""
    assert Shift(way * 0.09, 0.0, math.inf, 0.09).moved is Moved.UNDECIDED


def _points(*days: float, u: float = 0.002) -> list[tuple[float, Mean]]:
    return [(day, Mean(1.0 + 0.01 * day, u, math.inf)) for day in days]


@pytest.mark.parametrize(("last_day", "known"), [(0.9, False), (1.0, True)])
def test_records_span_a_day_before_they_drift(last_day: float, known: bool) -> None:
    """Within an evening a control warms."""
    assert (drift_of(_points(0.0, 0.5, last_day)) is not None) is known


@pytest.mark.parametrize(("count", "known"), [(2, False), (3, True)])
def test_three_records_make_a_line(count: int, known: bool) -> None:
    """Two points always lie on one."""
    found = drift_of(_points(*(10.0 * day for day in range(count))))
    assert (found is not None) is known
    if found is not None:
        assert found.dof == 1
        assert found.slope == pytest.approx(0.01)
        assert found.last == pytest.approx(1.2)


def test_a_point_without_an_uncertainty_has_a_microvolt() -> None:
    """One without any would take the whole weight."""
    days = (0.0, 10.0, 20.0, 30.0)
    values = (1.0, 1.0, 1.1, 1.0)
    uneven = [
        (day, Mean(v, u, math.inf))
        for day, v, u in zip(days, values, (0.0, 1e-6, 2e-6, 1e-6), strict=True)
    ]
    weights = 1.0 / np.array([1e-6, 1e-6, 2e-6, 1e-6])
    found = drift_of(uneven)
    assert found is not None
    assert found.slope == pytest.approx(float(np.polyfit(days, values, 1, w=weights)[0]))


@pytest.mark.parametrize("scatter_V", [0.0005, 0.004, 0.02])
def test_scatter_beyond_what_was_known_makes_a_slope_less_sure(scatter_V: float) -> None:
    """By the Birge ratio; a slope is told from nought at 95 per cent, by Student's factor."""
    values = [1.0 + 0.0005 * day + scatter_V * way for day, way in
              zip((0, 10, 20, 30), (1.0, -1.0, -1.0, 1.0), strict=True)]  # fmt: skip
    days = np.array([0.0, 10.0, 20.0, 30.0])
    levels = [Mean(value, 0.002, math.inf) for value in values]
    found = drift_of(list(zip(days.tolist(), levels, strict=True)))
    assert found is not None
    off = days - days.mean()
    birge = math.sqrt(4.0 * scatter_V**2 / 2.0) / 0.002
    assert found.u_slope == pytest.approx(0.002 * max(1.0, birge) / math.sqrt((off**2).sum()))
    # two degrees of freedom: 4.303
    assert found.sure is (4.3027 * found.u_slope < 0.0005)


def _record(
    document: AnyDocument,
    when: datetime = NOW,
    *,
    condition: str | None = None,
    rig: Rig | None = None,
) -> Record:
    return msgspec.structs.replace(record_of(document, when, rig=rig), condition=condition)


def _check(rest_V: float = 1.0, noise: float | None = 0.003, **more: float | None) -> CheckDocument:
    figures = _figures(_level(rest_V), _level(4.0), more.get("supply_V", 5.0), noise)
    channel = ChannelCheck(verdict=PASS, role="control", figures=figures)
    return CheckDocument(verdict=PASS, channels={"throttle": channel})


def _filed(rig: Rig, *records: Record, now: datetime = NOW) -> Filed:
    return Filed(rig, on_file(records), now)


def _drifting(rest_V_a_day: float, count: int = 4) -> list[Record]:
    start = NOW - timedelta(days=count)
    return [
        _record(_check(1.0 + rest_V_a_day * day), start + timedelta(days=day))
        for day in range(count)
    ]


@pytest.mark.parametrize(
    ("a_day_V", "soon_days", "told"),
    [
        (0.01, 6.1, True),
        (0.01, 5.9, False),
        (-0.01, 6.1, True),
        (0.025, 1.0, True),
        (0.04, 0.0, True),
    ],
)
def test_a_drift_is_told_when_it_leaves_soon(a_day_V: float, soon_days: float, told: bool) -> None:
    """90 mV from the first record; 30 are gone on the fourth day, and six are left."""
    rig = _rig(f"[channels.throttle.limits]\ndrifts_soon_days = {soon_days}\n")
    document = history_of(_filed(rig, *_drifting(a_day_V)))
    assert bool(document.findings) is told
    rest = document.drifts[0]
    outside = abs(a_day_V) > 0.03
    days = 0.0 if outside else 0.09 / abs(a_day_V) - 3.0
    assert rest.leaves_in_days == pytest.approx(days)
    assert rest.expanded_per_day is not None
    assert rest.u_per_day is not None
    assert rest.expanded_per_day == pytest.approx(coverage_factor(2) * rest.u_per_day)
    if told:
        (found,) = document.findings
        assert (found.severity, found.limit) == (Severity.CAUTION, soon_days)
        words = f"Rest of throttle drifts by {1000.0 * a_day_V:+.2f} mV a day"
        assert found.text.startswith(f"{words} (± {1000.0 * rest.expanded_per_day:.2f})")
        assert ("has left its limits" in found.text) is outside


def test_the_kind_with_more_records_speaks() -> None:
    """Travels and checks are made differently; a level has a degree of freedom less than stays."""
    rig = _rig()
    travels = [
        _record(travel("throttle", rest_V=1.0 + 0.1 * day), NOW - timedelta(days=day))
        for day in range(3)
    ]
    checks = _drifting(0.0, 2)
    assert [len(e.points) for e in history_of(_filed(rig, *travels, *checks)).drifts] == [3, 3]
    assert [len(e.points) for e in history_of(_filed(rig, *travels[:1], *checks)).drifts] == [2, 2]
    alike = history_of(_filed(rig, *travels[:2], *checks)).drifts[0]
    assert sorted(each.value for each in alike.points) == pytest.approx([1.0, 1.1])
    (ends,) = ends_in(travels[0])
    assert {each.dof for each in ends.levels.values()} == {4.0}
    assert (ends.noise, ends.supply_V) == (0.002, None)
    (ends,) = ends_in(checks[0])
    assert {each.dof for each in ends.levels.values()} == {3.0}
    assert (ends.noise, ends.supply_V) == (0.003, 5.0)


@pytest.mark.parametrize(
    ("origin", "supply_V"), [("logged", 4.8), ("stated", None), ("assumed", None)]
)
def test_only_a_logged_supply_is_one_to_hold_levels_at(origin: str, supply_V: float | None) -> None:
    """One press has no degree of freedom, and counts as one."""
    fed = SupplyFigures(volts=4.8, origin=origin)  # type: ignore[arg-type]
    once = msgspec.structs.replace(level(0.81), plateaus=1)
    document = msgspec.structs.replace(travel("throttle"), supply=fed, rest=once)
    (ends,) = ends_in(_record(document))
    assert ends.supply_V == supply_V
    assert ends.levels["rest"].dof == 1.0
    for less in ({"rest": None}, {"full": None}):
        assert list(ends_in(_record(msgspec.structs.replace(document, **less)))) == []


@pytest.mark.parametrize(("supply_V", "scale"), [(0.0, 1.0), (None, 1.0), (0.625, 8.0)])
def test_a_supply_of_nothing_is_none(supply_V: float | None, scale: float) -> None:
    """Levels stay as they were read; of any other they are held at five volts."""
    rig = _rig()
    then, now = _record(_check()), _record(_check(1.2, supply_V=supply_V))
    (compared,), _ = compare(rig, then, now)
    assert compared.rest_shift == pytest.approx(1.2 * scale - 1.0)


def test_a_history_holds_two_records_side_by_side_where_two_are_named() -> None:
    """What was found of both is in its verdict; without them nothing is compared."""
    then, now = _record(_check()), _record(_check(1.5), condition="lights on")
    filed = _filed(_rig(), then, now)
    document = history_of(filed, (then, now))
    assert [each.code for each in document.findings] == ["rest-moved"]
    assert document.verdict is Severity.CAUTION
    assert [each.rest_shift for each in document.compared] == pytest.approx([0.5])
    assert history_of(filed).compared == ()
    assert history_of(filed).verdict is PASS


@pytest.mark.parametrize(
    ("then", "now", "ratio"),
    [(0.003, 0.006, 2.0), (None, 0.006, None), (0.003, None, None), (0.0, 0.006, None)],
)
def test_a_spread_is_held_against_another_where_both_were_measured(
    then: float | None, now: float | None, ratio: float | None
) -> None:
    """None of nothing."""
    (compared,), _ = compare(_rig(), _record(_check(noise=then)), _record(_check(noise=now)))
    assert compared.spread_ratio == (None if ratio is None else pytest.approx(ratio))


@pytest.mark.parametrize(
    ("noise", "rest_V", "codes"),
    [
        (0.75, 1.0, []),
        (0.76, 1.0, ["noise-grown"]),
        (0.25, 1.05, []),
        (0.25, 1.2, ["rest-moved"]),
        (0.25, 0.8, ["rest-moved"]),
    ],
)
def test_a_condition_triples_the_spread_or_moves_an_end(
    noise: float, rest_V: float, codes: list[str]
) -> None:
    """Three times as noisy, or three hundredths of the span away; told under its name."""
    then = _record(_check(noise=0.25))
    now = _record(_check(rest_V, noise=noise), condition="lights on")
    _, found = compare(_rig(), then, now)
    assert [each.code for each in found] == codes
    for each in found:
        assert each.severity is Severity.CAUTION
        assert "under 'lights on'" in each.text
        if each.code == "rest-moved":
            assert each.value == pytest.approx(1000.0 * (rest_V - 1.0))
            assert each.limit == pytest.approx(90.0)
            assert "not sure" not in each.text
        else:
            assert each.value == pytest.approx(noise / 0.25)
            assert each.limit == 3.0
    _, plain = compare(_rig(), then, _record(_check(rest_V, noise=noise)))
    assert all("under" not in each.text for each in plain)


def test_a_move_under_a_condition_may_be_unsure() -> None:
    """Where both spreads leave it open."""
    loose = CheckFigures(unit="V", rest=_level(1.1, 0.05), full=_level(4.0, 0.05), noise=0.003)
    channel = ChannelCheck(verdict=PASS, role="control", figures=loose)
    now = _record(CheckDocument(verdict=PASS, channels={"throttle": channel}))
    _, found = compare(_rig(), _record(_check()), now)
    assert found
    assert all("not sure: five more presses" in each.text for each in found)


@pytest.mark.parametrize(
    ("age", "state"),
    [
        (timedelta(days=30), State.GOOD),
        (timedelta(days=30, seconds=1), State.STALE),
        (timedelta(minutes=-5), State.GOOD),
        (timedelta(minutes=-5, seconds=-1), State.ODD),
    ],
)
def test_evidence_is_kept_for_thirty_days_and_may_be_five_minutes_ahead(
    age: timedelta, state: State
) -> None:
    """To the second; and its age is told in hours."""
    filed = _filed(_rig(), _record(travel("throttle"), NOW - age))
    found = filed.validity(TravelDocument)
    assert found.state is state
    assert found.age_h == pytest.approx(age.total_seconds() / 3600.0)
    assert (odd_because(filed.records[0], filed) is None) is (state is not State.ODD)
    if state is State.STALE:
        assert "It is 30 days old; evidence is kept for 30." in found.why


@pytest.mark.parametrize(
    ("keys", "more"),
    [
        ("reference_tolerance_pct = 2.0\n", ""),
        ("reference_tolerance_pct = 2.0\nsupply_V = 4.8\n", " (and 1 more)"),
        (
            "reference_tolerance_pct = 2.0\nsupply_V = 4.8\nnonlinearity_lsb = 2.0\n",
            " (and 2 more)",
        ),
    ],
)
def test_what_changed_in_the_rig_file_is_told_by_the_first_and_a_count(
    keys: str, more: str
) -> None:
    """In the order in which it was asked for."""
    filed = _filed(_rig(keys), _record(travel("throttle"), rig=_rig()))
    found = filed.validity(TravelDocument)
    assert found.state is State.STALE
    assert found.why.startswith("Since it was judged the rig file changed: channels.throttle.")
    assert ", was not given" in found.why
    assert found.why.endswith(f"{more}.")
    assert ("(and" in found.why) is bool(more)


@pytest.mark.parametrize("length", [40, 41])
def test_a_long_value_of_the_rig_file_is_cut(length: int) -> None:
    """After forty characters; the rig file has the rest."""
    column = "c" * length
    was, now = _rig(), _rig().rig
    text = TEXT.format("throttle").replace("a0", column)
    changed = read_rig(Path("rig.toml"), text.encode())
    assert changed.rig == now
    filed = _filed(changed, _record(travel("throttle"), rig=was))
    shown = column if length == 40 else "c" * 40 + "…"
    assert f"column is {shown}, was a0" in filed.validity(TravelDocument).why


def _lost(command: str, before: int | None) -> Lost:
    return Lost("lost", command, None, before, "It was edited.")


@pytest.mark.parametrize(("before", "odd"), [(None, True), (3, True), (2, False), (1, False)])
def test_a_lost_record_may_be_newer_than_the_one_that_is_read(
    before: int | None, odd: bool
) -> None:
    """Where nothing says that it came before: judged second, what it knows is of one."""
    records = on_file(
        [_record(_check(), NOW - timedelta(days=2)), _record(travel("throttle"), NOW)]
    )
    file = replace(records, lost=(_lost("travel", before),))
    found = Filed(_rig(), file, NOW).validity(TravelDocument)
    assert found.state is (State.ODD if odd else State.GOOD)
    if odd:
        assert found.why == "A newer record of it is lost. It was edited. Do it again."
    elsewhere = replace(records, lost=(_lost("check", before),))
    assert Filed(_rig(), elsewhere, NOW).validity(TravelDocument).is_good
    nothing = OnFile((), (_lost("travel", before),), folder="f")
    lone = Filed(_rig(), nothing, NOW).validity(TravelDocument)
    assert lone.state is State.ODD


@pytest.mark.parametrize(("before", "stale"), [(None, True), (2, True), (1, False)])
def test_a_lost_note_may_say_anything(before: int | None, stale: bool) -> None:
    """What was measured before it is not believed, since it may have been rewired."""
    records = on_file([_record(_check(0.9)), _record(travel("throttle"))])
    file = replace(records, lost=(_lost("note", before),))
    found = Filed(_rig(), file, NOW).validity(TravelDocument)
    assert found.state is (State.STALE if stale else State.GOOD)
    if stale:
        assert found.why == "Since it was measured the machine was changed: rewired."


@pytest.mark.parametrize(("first", "state"), [("note", State.GOOD), ("travel", State.STALE)])
def test_a_note_counts_against_what_was_measured_before_it(first: str, state: State) -> None:
    """By the order on file, whatever the clocks say."""
    note = _record(NoteDocument(verdict=Severity.CAUTION, what="rewired"), NOW)
    measured = _record(travel("throttle"), NOW - timedelta(days=1))
    records = (note, measured) if first == "note" else (measured, note)
    assert _filed(_rig(), *records).validity(TravelDocument).state is state


@pytest.mark.parametrize("count", [1, 2])
def test_what_was_given_without_a_value_is_told_by_its_key_alone(count: int) -> None:
    """A table of the rig file; the first of those that changed."""
    keys = tuple(
        RigKey(key=f"channels.throttle.{name}", value="given") for name in ("scale", "limits")
    )
    record = msgspec.structs.replace(_record(travel("throttle")), rests_on=keys[:count])
    found = _filed(_rig(), record).validity(TravelDocument)
    assert found.why == "Since it was judged the rig file changed: channels.throttle.scale."


@pytest.mark.parametrize(("measured", "judged"), [(1, 0), (0, 1), (2, 1)])
def test_a_record_of_tomorrow_says_the_latest_of_its_dates(measured: int, judged: int) -> None:
    """When it was measured or when it was judged, whichever no honest clock could have said."""
    dates = [(NOW + timedelta(days=days)).isoformat() for days in (measured, judged)]
    record = msgspec.structs.replace(
        _record(travel("throttle")), measured_at=dates[0], judged_at=dates[1]
    )
    found = _filed(_rig(), record).validity(TravelDocument)
    assert found.state is State.ODD
    day = 1 + max(measured, judged)
    assert f"It is dated 2026-04-{day:02d} 12:00, in the future" in found.why


@pytest.mark.parametrize("order", [1, -1])
def test_evidence_that_is_bad_says_its_worst_finding(order: int) -> None:
    """Wherever it stands among the others."""
    found = [
        Finding(code="a", severity=PASS, text="It is fine."),
        Finding(code="b", severity=Severity.FAIL, text="It fell off."),
        Finding(code="c", severity=Severity.CAUTION, text="It squeaks."),
    ]
    document = msgspec.structs.replace(
        travel("throttle", Severity.FAIL), findings=tuple(found[::order])
    )
    filed = _filed(_rig(), _record(document))
    assert filed.validity(TravelDocument).why == "It fell off."
    bare = msgspec.structs.replace(document, findings=())
    assert _filed(_rig(), _record(bare)).validity(TravelDocument).why == "No reason was noted."
