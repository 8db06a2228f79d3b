"""What is said of a measured travel at both sides of each limit, by figures set one by one."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from calib.checks.travel.dead_travel import dead_travel_findings
from calib.checks.travel.judgement import (
    direction_findings,
    hand_findings,
    judge_travel,
    outside_findings,
    signal_findings,
    summary_finding,
    value_findings,
)
from calib.checks.travel.numbers import TravelNumbers, TravelSettings, supply_of, travel_numbers
from calib.controls.presses import Presses
from calib.controls.supply import Supply
from calib.controls.travel import LevelMeasurement, StayLevel, TravelMeasurement, measure_travel
from calib.controls.values import FaultWindow
from calib.measure.uncertainty import coverage_factor
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.travel import DeadBand, TravelDocument
from calib.store.rig import Channel, Rig, read_rig
from tests.hands import pressed
from tests.wheel_files import wheel_capture

ENDS = ((1.0, 4.0), (4.0, 1.0))
"""Rest and full travel of a control, and of one that is reversed: three volts apart."""


def _rig(more: str = "", step_V: float = 0.01, tolerance_pct: float = 1.0) -> Rig:
    text = (
        f"[rig]\nsetting_step_V = {step_V!r}\n"
        '[channels.throttle]\nrole = "control"\ncolumn = "a0"\nunit = "V"\n'
        f"reference_tolerance_pct = {tolerance_pct!r}\n"
    )
    return read_rig(Path("rig.toml"), (text + more).encode())


def _about(more: str = "") -> Channel:
    return _rig(more).channels["throttle"]


def _limits(**own: float) -> str:
    return "[channels.throttle.limits]\n" + "".join(f"{k} = {v!r}\n" for k, v in own.items())


@cache
def _measured(rest_V: float = 1.0, full_V: float = 4.0, presses: int = 5) -> TravelMeasurement:
    """Even presses of a control whose readings flicker by a millivolt."""
    volts = pressed(rest_V=rest_V, full_V=full_V, presses=presses, noise_V=0.0)
    volts += np.resize([0.001, -0.001], len(volts))
    return measure_travel(np.arange(len(volts)) / 100.0, volts)


def _ends(measured: TravelMeasurement) -> tuple[LevelMeasurement, LevelMeasurement]:
    assert measured.rest is not None
    assert measured.full is not None
    return measured.rest, measured.full


def _numbers(measured: TravelMeasurement, rig: Rig, **settings: float) -> TravelNumbers:
    set_ = TravelSettings(**settings)  # type: ignore[arg-type]
    return travel_numbers(measured, *_ends(measured), rig, "throttle", set_, Supply())


def _with_band(numbers: TravelNumbers, start: float, end: float, total_pct: float) -> TravelNumbers:
    return replace(numbers, band=DeadBand(start=start, end=end, dead_travel_pct=total_pct))


def _stays(level: LevelMeasurement, *outer_V: float, sunk_V: float = 0.0, tremble_V: float = 0.0
           ) -> LevelMeasurement:  # fmt: skip
    stays = [StayLevel(np.zeros(3), each, sunk_V, tremble_V) for each in outer_V or (level.mean,)]
    return replace(level, stays=tuple(stays))


def _one(findings: list[Finding], code: str) -> Finding | None:
    found = [each for each in findings if each.code == code]
    assert len(found) <= 1
    return found[0] if found else None


@pytest.mark.parametrize(("rest_V", "full_V"), ENDS)
@pytest.mark.parametrize(
    ("start_pct", "end_pct", "total_pct", "limit", "severity"),
    [
        (2.0, 2.0, 10.0, None, None),
        (2.0, 2.0, 10.1, 10.0, Severity.CAUTION),
        (2.0, 2.0, 20.0, 10.0, Severity.CAUTION),
        (2.0, 2.0, 20.1, 20.0, Severity.UNKNOWN),
        (9.4, 2.0, 9.0, None, None),
        (9.6, 2.0, 9.0, 9.5, Severity.UNKNOWN),
        (2.0, 14.4, 9.0, None, None),
        (2.0, 14.6, 9.0, 14.5, Severity.UNKNOWN),
    ],
)
def test_a_dead_band_costs_its_share_of_the_travel(
    rest_V: float,
    full_V: float,
    start_pct: float,
    end_pct: float,
    total_pct: float,
    limit: float | None,
    severity: Severity | None,
) -> None:
    """From the lowest rest and the farthest stop: a tenth with a word, a fifth is no value."""
    measured = _measured(rest_V, full_V)
    rest, full = _ends(measured)
    span_V = full.mean - rest.mean
    # one rest lay a hundredth lower than the mean, and one stop a fiftieth farther
    rest = _stays(rest, rest.mean + 0.005 * span_V, rest.mean - 0.01 * span_V, rest.mean)
    full = _stays(full, full.mean, full.mean + 0.02 * span_V)
    start_V = rest.mean + (start_pct - 1.0) / 100.0 * span_V
    end_V = full.mean - (end_pct - 2.0) / 100.0 * span_V
    numbers = _with_band(_numbers(measured, _rig()), start_V, end_V, total_pct)
    found = list(dead_travel_findings(replace(measured, rest=rest, full=full), numbers, _about()))
    assert [each.severity for each in found] == ([] if severity is None else [severity])
    if limit is not None:
        value = total_pct if limit in (10.0, 20.0) else max(start_pct, end_pct)
        assert found[0].value == pytest.approx(value)
        assert found[0].limit == limit
        assert (
            f"{start_pct + end_pct:.0f} % of the travel would be given up: {start_pct:.0f} % at "
            f"rest and {end_pct:.0f} % at full travel"
        ) in found[0].text


@pytest.mark.parametrize(("rest_V", "full_V"), ENDS)
@pytest.mark.parametrize(("more_pct", "told"), [(0.001, False), (-0.001, True)])
def test_what_the_rests_scatter_by_costs_its_share_too(
    rest_V: float, full_V: float, more_pct: float, told: bool
) -> None:
    """From the lowest rest to the limit that tonight's readings ask for, the scale aside."""
    measured = _measured(rest_V, full_V)
    rest, full = _ends(measured)
    span_V = full.mean - rest.mean
    asked_V = rest.limits.high if span_V > 0.0 else rest.limits.low
    scatter_pct = 100.0 * (asked_V - rest.mean) / span_V + 3.0
    rest = _stays(rest, rest.mean - 0.03 * span_V)
    about = _about(_limits(start_scatter_pct=scatter_pct + more_pct))
    numbers = _with_band(_numbers(measured, _rig()), rest.mean, full.mean, 1.0)
    found = list(dead_travel_findings(replace(measured, rest=rest), numbers, about))
    assert bool(found) is told
    if told:
        assert found[0].value == pytest.approx(scatter_pct)
        assert found[0].severity is Severity.UNKNOWN


def _why(measured: TravelMeasurement, tolerance_pct: float = 1.0) -> Finding:
    """The finding of a dead band that costs too much, whatever it costs."""
    rig = _rig(tolerance_pct=tolerance_pct)
    numbers = _with_band(_numbers(measured, rig), 1.5, 3.5, 15.0)
    found = _one(list(dead_travel_findings(measured, numbers, rig.channels["throttle"])),
                 "dead-travel")  # fmt: skip
    assert found is not None
    return found


def test_stops_farther_apart_than_a_hundredth_are_the_hands() -> None:
    """In whole per cent and in order; a press to the stop each time mends it."""
    measured = _measured()
    for reached, told in (
        ((1.0, 0.9905, 1.0), None),
        ((1.0, 0.99, 1.0), None),
        ((1.0, 0.9895, 1.0), "You stopped at 100, 99 and 100 % of the travel."),
        ((0.8, 1.0), "You stopped at 80 and 100 % of the travel."),
        ((1.0, 0.004, 0.5), "You stopped at 100, 0 and 50 % of the travel."),
    ):
        found = _why(replace(measured, hand=replace(measured.hand, reached=reached)))
        assert ("You stopped" in found.text) is (told is not None)
        assert (told or "") in found.text
        assert ("Press to the stop each time" in found.action) is (told is not None)


@pytest.mark.parametrize(("rest_V", "full_V"), ENDS)
def test_rests_farther_apart_than_a_hundredth_are_the_hands_or_the_cables(
    rest_V: float, full_V: float
) -> None:
    """Counted from the lowest of them."""
    measured = _measured(rest_V, full_V)
    rest, full = _ends(measured)
    span_V = full.mean - rest.mean
    for shares, told in (
        ((0.0, 0.0095, 0.0), None),
        ((0.0, 0.0105, 0.0), "it stood at 0, 1 and 0 % of the travel"),
        ((-0.004, 0.016, 0.046), "it stood at 0, 2 and 5 % of the travel"),
    ):
        means = rest.mean + np.array(shares) * span_V
        uneven = replace(rest, spread=replace(rest.spread, means=means))
        found = _why(replace(measured, rest=uneven))
        assert ("it stood at" in found.text) is (told is not None)
        assert (told or "") in found.text
        assert ("the thumb too" in found.action) is (told is not None)


@pytest.mark.parametrize(("rest_V", "full_V"), ENDS)
@pytest.mark.parametrize(("tolerance_pct", "told"), [(1.7, False), (1.8, True), (7.0, True)])
def test_room_for_the_scale_is_a_reason_from_three_hundredths_on(
    rest_V: float, full_V: float, tolerance_pct: float, told: bool
) -> None:
    """What both ends are widened by beyond the limits that the readings ask for."""
    measured = _measured(rest_V, full_V)
    rest, full = _ends(measured)
    numbers = _numbers(measured, _rig(tolerance_pct=tolerance_pct))
    widened_V = [
        abs(allowed.limit_V(upper=upper) - (level.limits.high if upper else level.limits.low))
        for allowed, level, upper in (
            (numbers.rest, rest, rest_V < full_V),
            (numbers.full, full, rest_V > full_V),
        )
    ]
    room_pct = 100.0 * sum(widened_V) / 3.0
    found = _why(measured, tolerance_pct)
    assert (room_pct > 3.0) is told
    words = f"{room_pct:.0f} % is room for what the scale may be off: logger's volts ±"
    assert (words in found.text) is told
    assert ("Hold the logger against a multimeter" in found.action) is told
    assert ("So much is for how the readings" in found.text) is not told


def test_a_travel_that_would_be_given_up_whole_is_no_band() -> None:
    """The scale is no reason that anybody knows of then."""
    measured = _measured()
    numbers = replace(_numbers(measured, _rig()), band=None)
    found = list(dead_travel_findings(measured, numbers, _about()))
    assert [each.severity for each in found] == [Severity.UNKNOWN]
    assert "The whole travel would be given up. So much is for how" in found[0].text
    for less in (replace(measured, rest=None), replace(measured, full=None)):
        assert list(dead_travel_findings(less, numbers, _about())) == []
    weak = replace(numbers.knowledge, supply=Supply(3.3, "stated"))
    beyond = replace(numbers, knowledge=weak)
    assert list(dead_travel_findings(measured, beyond, _about())) == []


@pytest.mark.parametrize(
    ("sunk_pct", "tremble_pct", "at_rest", "at_full"),
    [
        (0.99, 0.99, None, None),
        (1.01, 0.0, "rose by up to 1.0 %", "sank by up to 1.0 %"),
        (0.0, 2.54, "trembled by up to ±2.5 %", "trembled by up to ±2.5 %"),
        (3.0, 1.5, "rose by up to 3.0 % and trembled by up to ±1.5 %",
         "sank by up to 3.0 % and trembled by up to ±1.5 %"),
        (-3.0, 0.5, None, None),
    ],
)  # fmt: skip
def test_what_moves_inside_a_stay_is_told_from_a_hundredth_on(
    sunk_pct: float, tremble_pct: float, at_rest: str | None, at_full: str | None
) -> None:
    """Which end, which way and how far; the larger figure is the finding's."""
    measured = _measured()
    rest, full = _ends(measured)
    span_V = full.mean - rest.mean
    sunk_V, tremble_V = sunk_pct / 100.0 * span_V, tremble_pct / 100.0 * span_V
    numbers = _with_band(_numbers(measured, _rig()), 1.1, 3.9, 5.0)
    for end, level, words in (("rest", rest, at_rest), ("full", full, at_full)):
        moved = _stays(level, sunk_V=sunk_V, tremble_V=tremble_V)
        changed = replace(measured, rest=moved) if end == "rest" else replace(measured, full=moved)
        found = _one(list(dead_travel_findings(changed, numbers, _about())), "moved-inside")
        assert (found is not None) is (words is not None)
        if found is not None and words is not None:
            assert found.severity is Severity.PASS
            assert found.value == pytest.approx(max(sunk_pct, tremble_pct))
            where = "at rest" if end == "rest" else "at full travel"
            assert f"While it stayed {where} it {words} of the travel" in found.text


def _between(rest_V: float, full_V: float) -> TravelMeasurement:
    """A measured travel whose ends lie there to the last digit."""
    measured = _measured()
    rest, full = _ends(measured)
    return replace(
        measured,
        rest=replace(rest, spread=replace(rest.spread, mean=rest_V)),
        full=replace(full, spread=replace(full.spread, mean=full_V)),
    )


@pytest.mark.parametrize(("sunk_V", "told"), [(0.005, True), (0.004, False)])
def test_what_moves_inside_is_told_of_a_short_travel_too(sunk_V: float, told: bool) -> None:
    """Half a volt, of which a hundredth is five millivolts."""
    measured = _between(1.0, 1.5)
    rest, _ = _ends(measured)
    moved = replace(measured, rest=_stays(rest, sunk_V=sunk_V))
    numbers = _with_band(_numbers(_measured(), _rig()), 1.05, 1.45, 5.0)
    found = _one(list(dead_travel_findings(moved, numbers, _about())), "moved-inside")
    assert (found is not None) is told


def _signal(measured: TravelMeasurement, about: Channel | None = None) -> list[Finding]:
    return list(signal_findings(measured, about or _about(), Supply()))


@pytest.mark.parametrize(
    ("returns_s", "severity", "limit"),
    [
        ((), None, None),
        ((0.3, 0.1), None, None),
        ((0.1, 0.31), Severity.CAUTION, 0.3),
        ((1.0, 0.1), Severity.CAUTION, 0.3),
        ((0.1, 1.01), Severity.FAIL, 1.0),
    ],
)
def test_the_slowest_return_counts(
    returns_s: tuple[float, ...], severity: Severity | None, limit: float | None
) -> None:
    """Three tenths of a second with a word, more than a second fails."""
    found = _one(_signal(replace(_measured(), returns_s=returns_s)), "return-slow")
    assert (None if found is None else found.severity) == severity
    if found is not None:
        assert (found.value, found.limit) == (max(returns_s), limit)


@pytest.mark.parametrize(("glitches", "dropouts"), [(0, 0), (1, 0), (0, 2), (1, 2)])
def test_glitches_and_drop_outs_are_told_together(glitches: int, dropouts: int) -> None:
    """None is allowed."""
    measured = replace(_measured(), glitches=glitches, dropouts=dropouts)
    found = _one(_signal(measured), "drop-outs")
    assert (found is None) is (glitches + dropouts == 0)
    if found is not None:
        assert (found.value, found.limit) == (float(glitches + dropouts), 0.0)


@pytest.mark.parametrize(
    ("drift_V", "after_V", "code"),
    [
        (None, None, None),
        (0.03, 0.2, None),
        (-0.03, 0.2, None),
        (0.0301, 0.2, "rest-drifts"),
        (-0.0301, None, "rest-drifts"),
        (None, 0.03, None),
        (None, 0.0301, "rest-after-release"),
        (None, -0.0301, "rest-after-release"),
    ],
)
def test_rest_wanders_by_a_hundredth_of_the_travel(
    drift_V: float | None, after_V: float | None, code: str | None
) -> None:
    """A drift, or another place after a release; a drift explains the place as well."""
    found = _signal(replace(_between(1.0, 4.0), drift_V=drift_V, hysteresis_V=after_V))
    assert [each.code for each in found] == ([] if code is None else [code])
    if code is not None:
        moved_V = after_V if drift_V is None else drift_V
        assert found[0].value == moved_V
        assert found[0].limit == pytest.approx(0.03, rel=1e-3)
        assert f"by {1000.0 * (moved_V or 0.0):+.0f} mV" in found[0].text.replace("lies", "by")


def _counting() -> Rig:
    """Of a logger that sends counts: five millivolts each, up to five volts."""
    text = (
        '[channels.throttle]\nrole = "control"\ncolumn = "a0"\nunit = "count"\n'
        "full_scale = 1000\nreference_V = 5.0\nreference_tolerance_pct = 1\n"
    )
    return read_rig(Path("rig.toml"), text.encode())


@pytest.mark.parametrize(
    ("rest_V", "full_V", "word"),
    [
        (0.007, 4.0, "rest"),
        (0.008, 4.0, None),
        (1.0, 4.993, "full travel"),
        (1.0, 4.992, None),
    ],
)
def test_a_level_within_a_step_of_a_rail_is_none(
    rest_V: float, full_V: float, word: str | None
) -> None:
    """Five millivolts from the middle of the first code, and of the last."""
    found = _one(_signal(_between(rest_V, full_V), _counting().channels["throttle"]), "clips")
    assert (found is not None) is (word is not None)
    if found is not None:
        assert f"At {word} the logger" in found.text


@pytest.mark.parametrize(
    ("full_V", "told"), [(3.0, False), (2.984375, True), (-1.0, False), (-0.984375, True)]
)
def test_two_volts_are_the_least_span(full_V: float, told: bool) -> None:
    """Either way round."""
    found = _one(_signal(_between(1.0, full_V)), "span-short")
    assert (found is not None) is told
    if found is not None:
        assert (found.value, found.limit) == (1.984375, 2.0)


@pytest.mark.parametrize(("second", "told"), [(False, True), (True, False)])
def test_the_least_span_is_the_first_tracks(second: bool, told: bool) -> None:
    """Many controls give half the volts on the second."""
    measured = _measured(1.0, 2.5)
    found = signal_findings(measured, _about(), Supply(), second_track=second)
    assert [each.code for each in found] == ["span-short"] * told
    assert ("span-short" in {each.code for each in _signal(measured)}) is True


@pytest.mark.parametrize(
    ("presses", "wanted", "severity"),
    [(5, 5, None), (4, 5, Severity.CAUTION), (3, 5, Severity.CAUTION), (2, 5, Severity.UNKNOWN)],
)
def test_fewer_than_three_presses_promise_nothing(
    presses: int, wanted: int, severity: Severity | None
) -> None:
    """Fewer than were wanted are a word."""
    measured = _measured(presses=presses)
    found = _one(list(hand_findings(measured, wanted, _about())), "few-presses")
    assert (None if found is None else found.severity) == severity
    band = DeadBand(start=1.1, end=3.9, dead_travel_pct=5.0)
    summary = summary_finding(measured, band, _about())
    assert summary.severity is (Severity.UNKNOWN if presses < 3 else Severity.PASS)
    assert summary.value == presses
    assert summary_finding(measured, None, _about()).severity is Severity.UNKNOWN


def test_what_the_hand_did_is_told_each_for_itself() -> None:
    """Half presses, presses that were not held, a capture that began or ended in the hand."""
    measured = _measured()
    hand = measured.hand

    def said(changed: Presses, wanted: int = 5, *, broke_off: bool = False) -> list[str]:
        other = replace(measured, hand=changed)
        found = list(hand_findings(other, wanted, _about(), broke_off=broke_off))
        if not broke_off:
            assert found == list(hand_findings(other, wanted, _about()))
        return [f"{each.code}: {each.severity.value}" for each in found]

    assert said(hand) == said(hand, broke_off=True) == []
    assert said(replace(hand, half=2)) == ["half-pressed: caution"]
    assert said(replace(hand, unheld=2)) == ["not-held: caution"]
    assert said(replace(hand, starts_at_rest=False)) == ["began-in-hand: caution"]
    assert said(replace(hand, released=False)) == ["ended-in-hand: caution"]
    none = replace(hand, presses=())
    assert said(none) == ["few-presses: unknown"]
    assert said(replace(none, released=False), 0) == ["never-released: fail"]
    assert said(replace(none, worked=False)) == ["no-answer: fail"]
    assert said(none, broke_off=True) == ["broke-off-first: unknown"]


@pytest.mark.parametrize(
    ("return_s", "was_reversed", "code"),
    [
        (0.44, None, "reversed"),
        (0.46, None, "which-end-is-rest"),
        (0.46, True, "reversed"),
        (0.46, False, "direction-changed"),
    ],
)
def test_a_control_that_reads_high_at_rest_comes_back_faster_than_it_is_pressed(
    return_s: float, was_reversed: bool | None, code: str
) -> None:
    """Half as long again at the most, where no record knows it; or it was held at the start."""
    measured = _measured(4.0, 1.0)
    presses = tuple(replace(each, full_s=each.leave_s + 0.3) for each in measured.hand.presses)
    hand = replace(measured.hand, presses=presses)
    other = replace(measured, hand=hand, returns_s=(return_s,))
    found = list(direction_findings(other, was_reversed, _about()))
    assert [each.code for each in found] == [code]
    if code == "which-end-is-rest":
        assert found[0].value == return_s
        assert found[0].limit == pytest.approx(0.45)
        assert f"slower ({return_s:.2f} s) than the press" in found[0].text
    unknown = replace(other, returns_s=())
    assert [e.code for e in direction_findings(unknown, None, _about())] == ["reversed"]


SCALE = (
    "[channels.throttle.scale]\ngain = 1.0\noffset_V = 0.0\nu_gain = 0.001\nu_offset_V = 0.001\n"
    'cov = 0.0\ndate = "2026-03-01"\n'
)


@pytest.mark.parametrize(
    ("from_V", "to_V", "start", "end", "told"),
    [
        (1.0, 4.0, 1.0, 4.0, []),
        (1.0625, 4.0, 1.25, 3.75, [("rest", 1.0, 0.3 * 0.0625, Severity.CAUTION)]),
        (1.015625, 4.0, 1.25, 3.75, []),
        (1.125, 4.0, 1.25, 3.75, [("rest", 1.0, 0.3 * 0.125, Severity.UNKNOWN)]),
        (1.0, 4.0, 0.9375, 3.75, [("rest", 0.9375, 0.3 * 0.0625, Severity.CAUTION)]),
        (1.0, 3.9375, 1.25, 3.75, [("full travel", 4.0, 0.3 * 0.0625, Severity.CAUTION)]),
        (1.0, 3.875, 1.25, 3.96875, [("full travel", 4.0, 0.3 * 0.125, Severity.UNKNOWN)]),
        (1.0, 4.0, 1.25, 4.03125, [("full travel", 4.03125, 0.3 * 0.03125, Severity.CAUTION)]),
    ],
)
def test_a_value_lies_where_the_logger_was_trued(
    from_V: float,
    to_V: float,
    start: float,
    end: float,
    told: list[tuple[str, float, float, Severity]],
) -> None:
    """A level may lie two hundredths of a volt beyond, a value not at all.

    Three tenths of it may be off, and beyond three hundredths of a volt of that is no value.
    """
    rig = _rig(f"{SCALE}from_V = {from_V}\nto_V = {to_V}\n")
    numbers = _numbers(_measured(), rig)
    rest, full = (
        replace(level, level=replace(level.level, limits=replace(level.level.limits, centre=volts)))
        for level, volts in ((numbers.rest, 1.0), (numbers.full, 4.0))
    )
    band = DeadBand(start=start, end=end, dead_travel_pct=5.0)
    about = rig.channels["throttle"]
    found = list(outside_findings(about, rest, full, band))
    assert [(each.severity, each.limit) for each in found] == [(each[3], 0.03) for each in told]
    for finding, (word, farthest_V, doubt_V, _) in zip(found, told, strict=True):
        assert finding.value == pytest.approx(doubt_V)
        assert (
            f"At {word} {farthest_V:.2f} V lies outside the {from_V:.2f} to {to_V:.2f} V in which"
        ) in finding.text
        assert f"may be {1000.0 * doubt_V:.0f} mV off" in finding.text


def test_without_a_band_the_levels_are_held_against_what_was_trued() -> None:
    """And nothing of it where nobody trued it; where nobody noted the range, that is told."""
    numbers = _numbers(_measured(), _rig())
    ends = (numbers.rest, numbers.full, None)
    trued = _about(f"{SCALE}from_V = 1.5\nto_V = 4.0\n")
    assert [each.code for each in outside_findings(trued, *ends)] == ["outside-trued"]
    found = list(outside_findings(_about(SCALE), *ends))
    assert [each.code for each in found] == ["trued-range-unknown"]
    assert list(outside_findings(_about(), *ends)) == []


@pytest.mark.parametrize(
    ("window", "told"),
    [
        (FaultWindow(0.6, 4.5, 0.5, 0.5), []),
        (FaultWindow(None, 4.5, 0.08, 0.5), [("below rest", 0.08)]),
        (FaultWindow(None, 4.5, -0.2, 0.5), [("below rest", 0.0)]),
        (FaultWindow(0.6, None, 0.5, 0.09), [("above full travel", 0.09)]),
        (FaultWindow(0.6, None, 0.5, -0.2), [("above full travel", 0.0)]),
        (FaultWindow(0.6, None, 0.5, 0.5, 3.4), []),
    ],
)
def test_there_is_room_for_a_broken_wire_at_both_rails(
    window: FaultWindow, told: list[tuple[str, float]]
) -> None:
    """How much there is, from none on; what the logger cannot read is told as that."""
    numbers = replace(_numbers(_measured(), _rig()), window=window)
    found = list(value_findings(numbers, TravelSettings(), _about()))
    rooms = [each for each in found if each.code == "no-fault-room"]
    assert [each.value for each in rooms] == [room_V for _, room_V in told]
    for finding, (side, _) in zip(rooms, told, strict=True):
        assert side in finding.text
    beyond = [each for each in found if each.code == "beyond-the-logger"]
    assert bool(beyond) is (window.unreadable_V is not None)
    assert "no-travel-left" not in {each.code for each in found}
    whole = list(value_findings(replace(numbers, band=None), TravelSettings(), _about()))
    assert "no-travel-left" in {each.code for each in whole}
    unknown = list(
        value_findings(replace(numbers, window=None, band=None), TravelSettings(), _about())
    )
    assert {"no-fault-room", "no-travel-left"}.isdisjoint({each.code for each in unknown})


@pytest.mark.parametrize(
    ("shown_V", "severity"), [(0.91, Severity.CAUTION), (0.89, Severity.UNKNOWN)]
)
def test_the_controllers_volts_are_far_off_by_a_tenth(shown_V: float, severity: Severity) -> None:
    """Of its own; the display shows the middle of what it may stand for."""
    numbers = _numbers(_measured(), _rig(), shown_rest_V=shown_V, shown_full_V=4.0)
    settings = TravelSettings(shown_rest_V=shown_V, shown_full_V=4.0)
    found = [e for e in value_findings(numbers, settings, _about()) if e.code == "scales-disagree"]
    assert [each.severity for each in found] == [severity]
    assert found[0].value == pytest.approx(shown_V + 0.0025 - 1.0, abs=1e-5)
    assert "At rest the controller" in found[0].text


@pytest.mark.parametrize(("rest_V", "full_V"), ENDS)
@pytest.mark.parametrize("presses", [5, 9, 10])
def test_ten_presses_are_advised_where_they_move_the_limit_by_a_step(
    rest_V: float, full_V: float, presses: int
) -> None:
    """So many more rests as are missing to ten; from what to what, and whether it falls."""
    knots_s, shares = [0.0, 1.5], [0.0, 0.0]
    for press in range(presses):
        rest_at = 0.01 * (-1.0) ** press
        for more_s, share in ((0.3, 1.0), (1.0, 1.0), (0.12, rest_at), (1.2, rest_at)):
            knots_s.append(knots_s[-1] + more_s)
            shares.append(share)
    time_s = np.arange(0.0, knots_s[-1], 0.01)
    volts = rest_V + (full_V - rest_V) * np.interp(time_s, knots_s, shares)
    measured = measure_travel(time_s, volts + np.resize([0.001, -0.001], len(time_s)))
    rest, full = _ends(measured)
    settings = TravelSettings()
    upper, more = rest_V < full_V, 10 - presses
    worths = []
    for step_V in (0.001, 0.01, 0.02, 0.03, 0.06, 0.5):
        rig = _rig(step_V=step_V)
        numbers = travel_numbers(measured, rest, full, rig, "throttle", settings, Supply())
        now_V = numbers.rest.limit_V(upper=upper)
        then_V = numbers.rest.limit_after_V(rest.spread.plateaus + more, upper=upper)
        worths.append(abs(now_V - then_V) >= step_V)
        told = [each for each in numbers.advice if each.startswith("Ten presses")]
        assert bool(told) is (worths[-1] and more > 0)
        if told:
            verb = "falls" if upper else "rises"
            assert f"the limit of rest {verb} from {now_V:.2f} to {then_V:.2f} V" in told[0]
        remedied_V = numbers.rest.limit_remedied_V(upper=upper)
        if told and abs(now_V - remedied_V) >= step_V:
            presses_first = abs(now_V - then_V) > abs(now_V - remedied_V)
            assert numbers.advice.index(told[0]) == (0 if presses_first else 1)
    assert more == 0 or {True, False} == set(worths)


RAIL = (
    'supply = "rail"\nsupply_V = 4.8\n[channels.rail]\nrole = "supply"\ncolumn = "r"\nunit = "V"\n'
)


@pytest.mark.parametrize(
    ("rail", "expected"),
    [
        ([4.9, 5.0, 5.1], Supply(5.0, "logged", 2.0)),
        ([0.8, 0.8, 0.8], Supply(0.8, "logged", 0.0)),
        ([4.0, 5.0, np.nan], Supply(4.5, "logged", 50.0 * 1.0 / 4.5)),
        ([0.0, 0.0, 0.0], Supply(4.8, "stated")),
        ([-1.0, -1.0, -1.0], Supply(4.8, "stated")),
        ([np.nan] * 3, Supply(4.8, "stated")),
    ],
)
def test_a_logged_rail_is_the_supply(rail: list[float], expected: Supply) -> None:
    """Its median and half its range; a rail that reads nothing is none."""
    readings = np.tile(rail, 200)
    capture = wheel_capture(np.arange(600) / 100.0, a0=np.ones(600), r=readings)
    found = supply_of(_rig(RAIL), "throttle", capture)
    assert found.origin == expected.origin
    assert found.volts == pytest.approx(expected.volts)
    assert found.half_range_pct == (
        None if expected.half_range_pct is None else pytest.approx(expected.half_range_pct)
    )


@pytest.mark.parametrize("to_V", [3.0, 7.0])
@pytest.mark.parametrize(("readings", "half_range_pct"), [(2, 0.0), (3, 20.0)])
def test_single_readings_of_the_rail_are_no_range(
    readings: int, half_range_pct: float, to_V: float
) -> None:
    """The outermost thousandths are left out: two readings of two thousand and one."""
    rail = np.full(2001, 5.0)
    rail[1000 : 1000 + readings] = to_V
    capture = wheel_capture(np.arange(2001) / 100.0, a0=np.ones(2001), r=rail)
    found = supply_of(_rig(RAIL), "throttle", capture)
    assert found.half_range_pct == pytest.approx(half_range_pct)


@pytest.mark.parametrize(
    ("rest_V", "full_V", "supply_V"), [(1.0, 4.0, 3.3), (4.0, 1.0, 3.3), (-0.1, 3.0, 5.0)]
)
def test_ends_that_the_supply_cannot_give_have_no_values(
    rest_V: float, full_V: float, supply_V: float
) -> None:
    """One of them is enough."""
    measured = _measured(rest_V, full_V)
    supply = Supply(supply_V, "stated")
    settings = TravelSettings()
    found = travel_numbers(measured, *_ends(measured), _rig(), "throttle", settings, supply)
    assert (found.band, found.window) == (None, None)


@pytest.mark.parametrize(("rest_V", "full_V"), ENDS)
def test_a_broken_wire_lies_beyond_the_outer_limits_of_both_ends(
    rest_V: float, full_V: float
) -> None:
    """Between the lowest that the hand may send and what a rail may reach: a quarter of a volt."""
    numbers = _numbers(_measured(rest_V, full_V), _rig())
    ends = (numbers.rest, numbers.full)
    lowest_V = min(each.limit_V(upper=False) for each in ends)
    highest_V = max(each.limit_V(upper=True) for each in ends)
    assert lowest_V < 1.0 < 4.0 < highest_V
    assert numbers.window is not None
    assert numbers.window.room_low_V == pytest.approx(lowest_V - 0.25)
    assert numbers.window.room_high_V == pytest.approx(4.75 - highest_V)
    assert numbers.window.low_V == pytest.approx((0.25 + lowest_V) / 2.0, abs=0.0051)
    assert numbers.window.high_V == pytest.approx((4.75 + highest_V) / 2.0, abs=0.0051)
    assert numbers.basis == "logger"
    counted = _numbers(_measured(rest_V, full_V), _counting())
    assert counted.window is not None
    assert counted.window.high_V == numbers.window.high_V
    assert counted.window.unreadable_V is None
    half = _numbers(_measured(rest_V, full_V), _rig(), shown_rest_V=rest_V / 2.0,
                    shown_full_V=full_V / 2.0)  # fmt: skip
    assert half.basis == "controller"
    assert half.window is not None
    # what is not logged feeds the controller with as many volts of its own
    assert half.window.room_high_V > 2.0


@pytest.mark.parametrize(
    ("rest_V", "full_V", "tolerance_pct", "decided", "advised"),
    [
        (1.0, 4.0, 1.0, "floor", False),
        (1.0, 4.0, 7.0, "floor", True),
        (4.0, 1.0, 2.0, "floor", True),
        (4.0, 1.0, 3.0, "limit", True),
    ],
)
def test_advice_says_where_a_nearer_limit_would_not_move_the_start(
    rest_V: float, full_V: float, tolerance_pct: float, decided: str, advised: bool
) -> None:
    """Where the least share set it; without an advice nothing of it is said."""
    measured = _measured(rest_V, full_V)
    numbers = _numbers(measured, _rig(tolerance_pct=tolerance_pct))
    assert numbers.band is not None
    assert numbers.band.start_decided_by == decided
    upper = rest_V < full_V
    now_V = numbers.rest.limit_V(upper=upper)
    then_V = numbers.rest.limit_remedied_V(upper=upper)
    expected = [
        "Hold the logger against a multimeter with 'calib meter', then measure again: the limit "
        f"of rest {'falls' if upper else 'rises'} from {now_V:.2f} to {then_V:.2f} V (logger's "
        "volts)."
    ] * advised
    if advised and decided == "floor":
        expected.append(
            "The least share (--floor-pct) set the start: a nearer limit would not move it."
        )
    assert list(numbers.advice) == expected


@pytest.mark.parametrize(("presses", "dof"), [(0, 1.0), (5, 5.0)])
def test_an_end_of_which_there_is_no_value_is_known_by_its_stays(presses: int, dof: float) -> None:
    """One stay has one degree of freedom at the least, six have five."""
    volts = np.full(600, 1.0) if presses == 0 else pressed(rest_V=4.0, full_V=1.0, noise_V=0.0)
    volts = volts + np.resize([0.001, -0.001], len(volts))
    capture = wheel_capture(np.arange(len(volts)) / 100.0, a0=volts)
    was = TravelDocument(verdict=Severity.PASS, channel="throttle", reversed=False)
    document = judge_travel(capture, _rig(), "throttle", TravelSettings(), (), earlier=was)
    assert document.dead_band is None
    assert document.rest is not None
    assert document.rest.dof == dof
    assert document.rest.expanded == pytest.approx(coverage_factor(dof) * document.rest.u)
    assert (document.supply, document.budget, document.advice) == (None, (), ())
