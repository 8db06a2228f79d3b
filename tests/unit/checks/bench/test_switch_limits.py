"""Switches, wheels at rest and wires pulled on purpose, at both sides of each limit."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import msgspec
import numpy as np
import pytest

from calib.checks.bench.supply import SupplyFigures, supply_figures, supply_findings, undo_factor
from calib.checks.bench.switches import (
    SwitchFigures,
    Throw,
    is_on_at,
    standing_findings,
    switch_figures,
    switch_findings,
    threshold_of,
)
from calib.checks.bench.unplug import (
    Travel,
    judge_pulled,
    judge_unplug,
    travel_on_file,
    typed_pulled,
)
from calib.store.documents.finding import Severity
from calib.store.rig import Channel
from tests.hands import VOLT_RIG
from tests.records import record_of
from tests.unit.checks.bench.evening import BRAKE, Floats, checked, level, rig, told
from tests.unit.checks.bench.waves import flat, signals_of_one, volts_signal
from tests.unit.evidence import bench, travel


def _channel(**about: object) -> Channel:
    return Channel(role="switch", column="s", **{"unit": "V", **about})  # type: ignore[arg-type]


def _switch(volts: list[float], rate_hz: float = 64.0, **about: object) -> SwitchFigures:
    signal = volts_signal(np.array(volts), "brake", channel=_channel(**about))
    return switch_figures(signals_of_one(signal, rate_hz), signal)


@pytest.mark.parametrize(
    ("about", "threshold", "below"),
    [({}, 2.5, 2.4375), ({"threshold_V": 1.0}, 1.0, 0.9375), ({"unit": "level"}, 0.5, 0.4375)],
)
def test_a_switch_is_on_above_its_threshold_or_below_it_where_it_is_active_low(
    about: dict[str, object], threshold: float, below: float
) -> None:
    """In volts the middle of 5 V, else a half; at the threshold itself it is not above."""
    for active in ("high", "low"):
        channel = _channel(active=active, **about)
        assert threshold_of(channel) == threshold
        on = is_on_at(channel, np.array([below, threshold, threshold + 0.0625])).tolist()
        assert on == ([False, False, True] if active == "high" else [True, True, False])


@pytest.mark.parametrize(("apart", "throws"), [(19, 1), (20, 2)])
def test_changes_within_three_tenths_of_a_second_are_one_throw(apart: int, throws: int) -> None:
    """From one to the next: 19 readings at 64 Hz are 0.297 s, and 20 are 0.3125 s."""
    figures = _switch([0.0] * 64 + [5.0] * apart + [0.0] * apart + [5.0] * 64)
    first_s, step_s = 1.0, apart / 64.0
    if throws == 1:
        assert figures.throws == (Throw(first_s, 3, 2.0 * step_s, on=True),)
    else:
        assert figures.throws == (
            Throw(first_s, 1, 0.0, on=True),
            Throw(first_s + step_s, 1, 0.0, on=False),
            Throw(first_s + 2.0 * step_s, 1, 0.0, on=True),
        )


def test_a_switch_has_the_middle_of_its_readings_on_and_off() -> None:
    """On first; none of a side that was never seen, and none where it is not in volts."""
    assert _switch([0.0, 0.5, 1.0, 4.0, 4.5, 5.0, 5.0]).levels_V == (4.75, 0.5)
    assert _switch([0.0, 0.5, 1.0, 4.0, 4.5, 5.0, 5.0], active="low").levels_V == (0.5, 4.75)
    assert _switch([0.0, 0.5, 1.0]).levels_V == (0.5,)
    assert _switch([4.0]).levels_V == (4.0,)
    values = np.array([0.0, 1.0, 1.0])
    channel = _channel(unit="level")
    signal = replace(volts_signal(values, "brake", channel=channel), unit="")
    assert switch_figures(signals_of_one(signal, 64.0), signal).levels_V == ()


@pytest.mark.parametrize(
    ("starts_on", "throws", "held_s"),
    [
        (False, [(1.0, 0.25, True), (3.0, 0.5, False)], [(1.25, 3.0)]),
        (True, [(1.0, 0.25, False), (3.0, 0.5, True)], [(1.25, 3.0)]),
        (False, [(1.0, 0.0, True)], []),
        (False, [(1.0, 0.5, True), (2.0, 0.0, True), (4.0, 0.0, False)], [(1.5, 4.0)]),
        (False, [(1.0, 0.0, False), (2.0, 0.0, True), (3.0, 0.0, False), (5.0, 0.5, True),
                 (7.0, 0.0, False)], [(2.0, 3.0), (5.5, 7.0)]),
    ],
)  # fmt: skip
def test_a_switch_is_held_from_the_end_of_one_throw_to_the_start_of_the_next(
    starts_on: bool, throws: list[tuple[float, float, bool]], held_s: list[tuple[float, float]]
) -> None:
    """In the state that it did not begin in; what is never let go is not told how long."""
    given = tuple(Throw(at_s, 1, chatter_s, on=on) for at_s, chatter_s, on in throws)
    assert SwitchFigures(starts_on, given).on_from_to_s == held_s


@pytest.mark.parametrize(
    ("chatter_ms", "changes", "limit_ms", "said"),
    [(15.625, 3, 15.625, False), (15.625, 3, 15.5, True), (15.625, 1, 1.0, False),
     (15.625, 2, 1.0, True)],
)  # fmt: skip
def test_a_switch_may_chatter_for_as_long_as_its_limit(
    chatter_ms: float, changes: int, limit_ms: float, said: bool
) -> None:
    """One change alone is no chatter; the worst throw is told, and how many there were."""
    signal = volts_signal(np.ones(4), "brake", channel=_channel(limits={"bounce_ms": limit_ms}))
    throws = (
        Throw(1.0, 2, 1.0 / 1024.0, on=True),
        Throw(2.0, changes, chatter_ms / 1000.0, on=False),
        Throw(3.0, 1, 0.0, on=True),
    )
    figures = SwitchFigures(starts_on=False, throws=throws)
    found = list(switch_findings(signal, figures, asked=True, then_on=None))
    assert [(each.code, each.value, each.limit) for each in found] == (
        [("switch-bounces", chatter_ms, limit_ms)] if said else []
    )
    for each in found:
        assert f"({changes} changes) in 2 of 3 throws" in each.text


@pytest.mark.parametrize(
    ("levels_V", "gap_pct", "severity"),
    [((5.0, 1.5), 20.0, None), ((3.46875, 0.0), 19.375, Severity.CAUTION),
     ((5.0, 2.0), 10.0, Severity.CAUTION), ((2.96875, 0.0), 9.375, Severity.FAIL), ((), 0.0, None)],
)  # fmt: skip
def test_the_level_nearest_to_the_threshold_is_held_against_five_volts(
    levels_V: tuple[float, ...], gap_pct: float, severity: Severity | None
) -> None:
    """Above as below; a fifth of them is enough, and at a tenth it is still a caution."""
    signal = volts_signal(np.ones(4), "brake", channel=_channel())
    throws = (Throw(1.0, 1, 0.0, on=True),)
    figures = SwitchFigures(starts_on=False, throws=throws, levels_V=levels_V)
    found = list(switch_findings(signal, figures, asked=True, then_on=None))
    assert [(each.severity, each.value) for each in found] == (
        [] if severity is None else [(severity, gap_pct)]
    )
    for each in found:
        assert " and ".join(f"{level_V:.2f} V" for level_V in levels_V) in each.text


@pytest.mark.parametrize(
    ("starts_on", "thrown", "asked", "then_on", "code"),
    [
        (False, False, True, None, "switch-never-changed"),
        (True, False, True, None, "switch-never-changed"),
        (True, False, False, None, "switch-not-worked"),
        (True, True, True, None, "switch-inverted"),
        (True, True, False, False, "switch-inverted"),
        (True, True, True, True, None),
        (False, True, True, True, None),
    ],
)
def test_a_switch_rests_off_but_where_it_did_not_on_record(
    starts_on: bool, thrown: bool, asked: bool, then_on: bool | None, code: str | None
) -> None:
    """One that was never worked is told so, by how it stood and whether it was asked for."""
    signal = volts_signal(np.ones(4), "brake", channel=_channel())
    throws = (Throw(1.0, 1, 0.0, on=not starts_on),) if thrown else ()
    found = list(
        switch_findings(signal, SwitchFigures(starts_on, throws), asked=asked, then_on=then_on)
    )
    assert [each.code for each in found] == ([] if code is None else [code])
    if code == "switch-never-changed":
        assert f"stayed {'on' if starts_on else 'off'}" in found[0].text


def test_a_switch_is_asked_for_but_in_a_quick_check() -> None:
    """And its state on record is that of its rest."""
    about = rig(BRAKE)
    assert told(checked(about, s=level(0.0)), "switch-never-changed") is not None
    assert told(checked(about, s=level(0.0), quick=True), "switch-not-worked") is not None
    thrown = np.concatenate([level(5.0, 10.0), level(0.0, 10.0)])
    first = checked(about, s=thrown)
    assert told(first, "switch-inverted") is not None
    assert told(checked(about, s=thrown, earlier=record_of(first)), "switch-inverted") is None
    rested = checked(about, s=5.0 - thrown)
    again = checked(about, s=thrown, earlier=record_of(rested))
    assert told(again, "switch-inverted") is not None


@pytest.mark.parametrize(
    ("unit", "raw", "pulses"),
    [
        ("pulses", [7.0, 7.0, 9.0], None),
        ("pulses", [7.0, 8.0, 10.0], 3.0),
        ("pulses", [7.0, 9.0, 8.0], 3.0),
        ("level", [0.0, 1.0, 0.0, 1.0, 0.0], None),
        ("level", [0.0, 1.0, 0.0, 1.0, 0.0, 1.0], 3.0),
        ("level", [1.0, 0.0, 1.0, 0.0, 1.0], None),
        ("level", [1.0] * 6, None),
        ("level", [0.0, 1.0, 1.0, 1.0, 1.0, 0.0], None),
    ],
)
def test_a_wheel_that_nobody_turns_may_give_two_pulses(
    unit: str, raw: list[float], pulses: float | None
) -> None:
    """Each step of a count is one, either way; of a level each rise."""
    channel = Channel(role="wheel", column="w", unit=unit)  # type: ignore[arg-type]
    signal = replace(volts_signal(np.array(raw), "wheel", channel=channel), unit=unit)
    found = list(standing_findings(signal))
    assert [each.value for each in found] == ([] if pulses is None else [pulses])
    for each in found:
        assert each.limit == 2.0


RAILED = Channel(role="supply", column="v", unit="V")


def test_a_supply_s_level_is_its_middle_and_its_ends_are_means_of_a_tenth_of_a_second() -> None:
    """At 80 Hz of eight readings; a capture shorter than that is taken as it is."""
    volts = np.full(800, 5.0)
    volts[400:404] = 4.0
    volts[480:488] = 5.5
    rail = volts_signal(volts, "rail", channel=RAILED)
    found = supply_figures(signals_of_one(rail, 80.0), rail)
    assert (found.mean_V, found.low_V, found.high_V, found.dip_V) == (5.0, 4.5, 5.5, 0.5)
    short = volts_signal(np.array([4.0, 5.0, 5.5]), "rail", channel=RAILED)
    found = supply_figures(signals_of_one(short, 80.0), short)
    assert (found.mean_V, found.low_V, found.high_V) == (5.0, 4.0, 5.5)


@pytest.mark.parametrize(
    ("mean_V", "dip_V", "said"),
    [(4.0, 0.125, False), (4.0, 0.1328125, True), (0.0, 0.003, False), (0.0, 0.0034, True)],
)
def test_a_dip_is_a_share_of_the_supply(mean_V: float, dip_V: float, said: bool) -> None:
    """By the user's limit of 3.125 %, of a tenth of a volt at least."""
    channel = Channel(
        role="supply", column="v", unit="V",
        limits={"supply_dip_pct": 3.125, "supply_low_V": -1.0, "supply_dead_low_V": -1.0},
    )  # fmt: skip
    rail = volts_signal(np.ones(4), "rail", channel=channel)
    found = list(supply_findings(rail, SupplyFigures(mean_V, mean_V, mean_V, dip_V)))
    assert bool(found) is said
    for each in found:
        assert each.value == pytest.approx(100.0 * dip_V / max(mean_V, 0.1))


def test_a_supply_s_changes_are_undone_by_means_of_a_twentieth_of_a_second() -> None:
    """At 80 Hz of four readings; the last mean stands for what is left, and 0.1 V is the least."""
    volts = np.array([5.0] * 4 + [4.0, 5.0, 4.0, 3.0] + [2.0, 2.0, 2.0, 2.0] + [0.0] * 4 + [9.0])
    rail = volts_signal(volts, "rail", channel=RAILED)
    factor = undo_factor(signals_of_one(rail, 80.0), rail, 4.0)
    assert factor.tolist() == [0.8] * 4 + [1.0] * 4 + [2.0] * 4 + [4.0 / 0.1] * 5
    short = volts_signal(np.array([5.0, 4.0, 3.0]), "rail", channel=RAILED)
    assert undo_factor(signals_of_one(short, 80.0), short, 4.0).tolist() == [1.0] * 3


TRAVEL = Travel(1.0, 4.0, settle_s=0.5)


@pytest.mark.parametrize(
    ("volts", "inside", "settle_s", "low", "high"),
    [
        ([2.0] * 32 + [0.5] * 32, 0, 31.0 / 64.0, 0.5, 0.5),
        ([2.0] * 33 + [0.5] * 31, 0, 0.5, 0.5, 0.5),
        ([2.0] * 34 + [0.5] * 30, 1, 33.0 / 64.0, 0.5, 2.0),
        ([2.0] * 63 + [4.5], 30, 62.0 / 64.0, 2.0, 4.5),
        ([0.5] * 63 + [2.0], 1, None, 0.5, 2.0),
        ([1.0] * 63 + [4.0], 0, 0.0, 1.0, 4.0),
        ([0.0] * 64, 0, 0.0, 0.0, 0.0),
        ([2.0, 0.5, 0.25], 0, 0.0, 0.25, 2.0),
    ],
)
def test_a_pulled_wire_must_have_left_the_travel_after_half_a_second(
    volts: list[float], inside: int, settle_s: float | None, low: float, high: float
) -> None:
    """At 64 Hz, from a start at 2 s; at the ends of the travel it is outside of it.

    What is shorter than that half second is told by all that was read.
    """
    time_s = 2.0 + np.arange(len(volts)) / 64.0
    found = judge_pulled("ground", time_s, np.array(volts), TRAVEL)
    assert (found.inside, found.settle_s, found.low, found.high) == (inside, settle_s, low, high)
    assert (found.wire, found.samples, found.basis) == ("ground", len(volts), "logger")


@pytest.mark.parametrize(
    ("shown_V", "drives"), [(1.0, False), (1.0625, True), (3.9375, True), (4.0, False)]
)
def test_a_display_must_show_no_reading_inside_the_travel(shown_V: float, drives: bool) -> None:
    """At its ends it is outside; and it is told on which side."""
    about = rig(VOLT_RIG)
    document = judge_unplug(about, "throttle", TRAVEL, [typed_pulled("signal", shown_V)], ())
    code = "broken-wire-drives" if drives else "broken-wire-safe"
    found = told(document, code, "throttle")
    assert found is not None
    assert "the controller shows" in found.text
    if not drives:
        assert ("below" if shown_V == 1.0 else "above") in found.text
        assert (found.value, found.limit) == (0.0, 0.5)
    else:
        assert (found.value, found.limit) == (0.0, 0.0)
    # what the display shows stands for no wire of the logger's
    assert [each.code for each in document.findings].count("wire-not-pulled") == 3


def _pulled(volts: Floats) -> str:
    about = rig(VOLT_RIG)
    pulled = judge_pulled("signal", np.arange(len(volts)) / 64.0, volts, TRAVEL)
    found = judge_unplug(about, "throttle", TRAVEL, [pulled], ()).findings
    return next(each.text for each in found if each.code.startswith("broken-wire"))


@pytest.mark.parametrize(("high_V", "side"), [(0.5, "below"), (1.0, "below"), (4.0, "above"),
                                              (4.5, "above")])  # fmt: skip
def test_a_broken_wire_is_safe_below_or_above_the_travel(high_V: float, side: str) -> None:
    """By the highest that it read once it had settled."""
    text = _pulled(flat(high_V, 2.0, 64.0))
    assert "it reads" in text
    assert side in text


def test_a_wheel_that_stands_still_gives_no_pulse_at_all() -> None:
    """Not one, where the user allows none."""
    channel = Channel(role="wheel", column="w", unit="level", limits={"wheel_standing_pulses": 0.0})
    signal = replace(volts_signal(np.ones(6), "wheel", channel=channel), unit="level")
    assert list(standing_findings(signal)) == []
    moved = replace(signal, raw=np.array([0.0, 1.0, 0.0]))
    assert [each.value for each in standing_findings(moved)] == [1.0]


def test_four_deviations_of_a_mean_of_a_tenth_of_a_second_are_no_dip() -> None:
    """Readings that turn by 20 mV each time: of eight of them that is 20 mV as well."""
    volts = 5.0 + np.resize([0.01, -0.01], 800)
    volts[400:424] -= 0.25
    rail = volts_signal(volts, "rail", channel=RAILED)
    found = supply_figures(signals_of_one(rail, 80.0), rail)
    assert found.mean_V == 4.99
    assert found.dip_V == pytest.approx(4.99 - 4.75 - 0.02, abs=5e-4)


def test_what_a_display_shows_is_one_reading() -> None:
    """Of the controller's, and it has settled."""
    found = typed_pulled("supply", 1.5)
    assert (found.samples, found.settle_s, found.inside, found.basis) == (1, 0.0, 0, "controller")
    assert (found.wire, found.low, found.high) == ("supply", 1.5, 1.5)


@pytest.mark.parametrize("lacking", ["rest", "full"])
def test_a_travel_that_lacks_an_end_says_nothing_of_where_the_drive_acts(
    lacking: str, tmp_path: Path
) -> None:
    """One that has both does."""
    here = bench(tmp_path)
    whole = travel(rest_V=0.8, full_V=3.8, start_V=0.95)
    here.keep(whole, "grip", days=2)
    assert travel_on_file(here.filed, "grip") is not None
    here.keep(msgspec.structs.replace(whole, **{lacking: None}), "grip", days=1)
    assert travel_on_file(here.filed, "grip") is None
