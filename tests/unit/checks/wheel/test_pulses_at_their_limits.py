"""Pulses of a hand-turned wheel at both sides of each limit, by columns built sample by sample."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest

from calib.checks.wheel.judgement import Display, Known, Tape, WheelRun, judge_wheel
from calib.measure.coverage import KNOWN_FACTOR
from calib.store.capture import Capture
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.wheel import WheelDocument
from calib.store.samples import Event, EventKind
from tests.wheel_files import wheel_capture, wheel_rig

Array = npt.NDArray[np.float64]
SECOND = 'second_track = "b"\n[channels.b]\nrole = "wheel"\ncolumn = "b"\nunit = "level"\n'


def _count(gaps: Sequence[int], steps: Sequence[float] | None = None) -> Array:
    """A running count from 0: a step after each gap, in samples, and a tail of rest."""
    column = np.zeros(sum(gaps) + 51)
    at = np.cumsum(gaps)
    column[at] = 1.0 if steps is None else steps
    return np.asarray(np.cumsum(column))


def _level(gaps: Sequence[int], widths: Sequence[int]) -> Array:
    """A level that is high for so many samples after each gap."""
    column = np.zeros(sum(gaps) + 51)
    for start, width in zip(np.cumsum(gaps), widths, strict=True):
        column[start : start + width] = 1.0
    return column


def _judged(
    capture: Capture, unit: str = "pulses", turns: int | None = 10, more: str = ""
) -> WheelDocument:
    return judge_wheel(WheelRun("wheel", capture, turns), wheel_rig(unit, more), ())


def _turned(
    column: Array,
    unit: str = "pulses",
    turns: int | None = 10,
    *,
    rate_hz: float = 100.0,
    more: str = "",
    **others: Array,
) -> WheelDocument:
    """The document of a column that was read so often."""
    capture = wheel_capture(np.arange(len(column)) / rate_hz, w=column, **others)
    return _judged(capture, unit, turns, more)


def _said(document: WheelDocument, code: str) -> Finding | None:
    return next((each for each in document.findings if each.code == code), None)


@pytest.mark.parametrize(("back", "told"), [(0, False), (4, False), (5, True)])
def test_nine_tenths_of_a_count_go_one_way(back: int, told: bool) -> None:
    """A wheel that is set to the mark goes back by a pulse or two: four of eighty."""
    steps = [1.0] * (80 - back) + [-1.0] * back
    document = _turned(_count([10] * 80, steps))
    assert (_said(document, "turned-both-ways") is not None) is told
    assert _said(document, "turned-backwards") is None


def test_a_count_that_falls_says_that_the_wheel_turned_backwards() -> None:
    """By its count; the number stands."""
    document = _turned(100.0 - _count([10] * 80))
    found = _said(document, "turned-backwards")
    assert found is not None
    assert (found.severity, document.pulses_a_turn) == (Severity.CAUTION, 8)
    assert "by its count" in found.text
    assert document.turned is not None
    assert (document.turned.backwards, document.turned.pulses) == (True, 80.0)
    assert _said(_turned(_count([10] * 80)), "turned-backwards") is None


@pytest.mark.parametrize(
    ("wrong", "told", "backwards"),
    [(0, False, True), (2, False, True), (3, True, True), (17, True, False), (18, False, False)],
)
def test_nine_tenths_of_the_pulses_say_the_same_way_by_the_second_track(
    wrong: int, told: bool, backwards: bool
) -> None:
    """It stands high at each pulse, or at none; so many of twenty are otherwise."""
    gaps = [10] * 20
    second = np.zeros(sum(gaps) + 51)
    for place, at in enumerate(np.cumsum(gaps)):
        second[at - 3 : at + 2] = float(place >= wrong)
    document = _turned(_level(gaps, [5] * 20), "level", 4, more=SECOND, b=second)
    assert (_said(document, "turned-both-ways") is not None) is told
    assert (_said(document, "turned-backwards") is not None) is (backwards and not told)
    if backwards and not told:
        assert "by its second track" in _said(document, "turned-backwards").text  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("gap", "steps", "timed"),
    [(6, 1.0, True), (5, 1.0, False), (12, 2.0, False)],
)
def test_a_count_shows_its_gaps_up_to_a_pulse_in_five_samples(
    gap: int, steps: float, timed: bool
) -> None:
    """And one pulse a sample; a gap is then known to a fifth. Else it takes twenty turns."""
    document = _turned(_count([gap] * 80, [steps] * 80), turns=10 * round(steps))
    assert document.turned is not None
    assert bool(document.turned.gaps_deg) is timed
    assert document.turned.bounces == 0
    assert (_said(document, "turns-too-few") is None) is (timed or steps > 1.0)


@pytest.mark.parametrize(("turns", "told"), [(19, True), (20, False)])
def test_a_count_without_a_clock_wants_twenty_turns(turns: int, told: bool) -> None:
    """No gap is seen in it; a bounce is, since it comes within one sample."""
    column = _count([10] * (8 * turns))
    capture = wheel_capture(np.arange(len(column)) / 100.0, w=column)
    event = Event(kind=EventKind.NO_CLOCK, time_s=0.0, text="", duration_s=0.0)
    document = _judged(replace(capture, events=(event,)), turns=turns)
    found = _said(document, "turns-too-few")
    assert (found is not None) is told
    if found is not None:
        assert (found.value, found.limit) == (19.0, 20.0)
    assert document.turned is not None
    assert document.turned.gaps_deg == ()
    assert _said(document, "contact-bounces") is None


@pytest.mark.parametrize(("doubles", "told"), [(1, False), (2, True), (50, True)])
def test_two_in_a_hundred_pulses_may_come_at_once(doubles: int, told: bool) -> None:
    """More of them are a contact that bounces, and how many is said."""
    steps = [2.0] * doubles + [1.0] * (100 - 2 * doubles)
    document = _turned(_count([10] * len(steps), steps))
    found = _said(document, "contact-bounces")
    assert (found is not None) is told
    if found is not None:
        assert (found.severity, found.value, found.limit) == (Severity.UNKNOWN, 2.0 * doubles, 2.0)


@pytest.mark.parametrize(("at_once", "told"), [(4.0, False), (5.0, True)])
def test_a_count_may_rise_three_times_as_fast_as_usual(at_once: float, told: bool) -> None:
    """And by one: of a wheel that gives a pulse in each sample, a second's standstill aside."""
    steps = np.ones(100)
    steps[50] = at_once
    gaps = np.ones(100, dtype=int)
    gaps[30] = gaps[70] = 100
    for rate_hz, every in ((100.0, 1), (1000.0, 10)):
        column = _count((gaps * every).tolist(), steps.tolist())
        document = _turned(column, rate_hz=rate_hz)
        assert (_said(document, "contact-bounces") is not None) is told


@pytest.mark.parametrize(("at_once", "told"), [(5.0, False), (6.0, True)])
def test_a_standstill_is_six_times_as_long_as_a_gap(at_once: float, told: bool) -> None:
    """It makes no wheel slower: a hand that goes from magnet to magnet turns as fast between."""
    gaps = [1, 1, 1, 6] * 50
    steps = [1.0] * 200
    steps[101] = at_once
    document = _turned(_count(gaps, steps))
    assert (_said(document, "contact-bounces") is not None) is told


def test_what_came_while_samples_were_missing_came_in_their_time() -> None:
    """Twenty pulses in a fifth of a second are no bounce of one."""
    column = np.arange(0.0, 200.0)
    kept = np.r_[0:100, 120:200]
    capture = wheel_capture(np.arange(200)[kept] / 100.0, w=column[kept])
    assert _said(_judged(capture, turns=20), "contact-bounces") is None
    close = wheel_capture(np.arange(len(kept)) / 100.0, w=column[kept])
    assert _said(_judged(close, turns=20), "contact-bounces") is not None


@pytest.mark.parametrize(
    ("column", "unit", "code"),
    [
        (np.r_[np.zeros(50), np.ones(50)], "level", None),
        (np.r_[np.zeros(50), np.ones(50), np.full(50, 2.0)], "level", "unit"),
        (np.full(100, 0.5), "level", "never-falls"),
        (np.zeros(100), "level", "no-pulse"),
        (np.full(100, 7.0), "pulses", "no-pulse"),
    ],
)
def test_a_column_without_turns_says_what_it_is(column: Array, unit: str, code: str | None) -> None:
    """Two numbers may be a level, three are a count; what stands high is told by its name."""
    document = _turned(column, unit)
    codes = {each.code for each in document.findings}
    assert codes.isdisjoint({"unit", "never-falls", "no-pulse"} - {code})
    if code is not None:
        assert code in codes
        assert document.turned is None
    if code == "never-falls":
        assert "stands at 0.5" in document.findings[0].text


@pytest.mark.parametrize("unit", ["level", "pulses"])
@pytest.mark.parametrize("kind", [EventKind.RESET, EventKind.GAP, None])
def test_pulses_are_hidden_where_a_logger_started_anew(unit: str, kind: EventKind | None) -> None:
    """Its count is lost then; a gap hides pulses of a level only."""
    column = _count([10] * 80) if unit == "pulses" else _level([10] * 80, [4] * 80)
    capture = wheel_capture(np.arange(len(column)) / 100.0, w=column)
    if kind is not None:
        event = Event(kind=kind, time_s=3.0, text="away", duration_s=0.5)
        capture = replace(capture, events=(event,))
    hidden = kind is EventKind.RESET or (kind is EventKind.GAP and unit == "level")
    assert (_said(_judged(capture, unit), "pulses-hidden") is not None) is hidden


@pytest.mark.parametrize(("width", "told"), [(1, True), (2, False)])
def test_the_shortest_stay_of_a_level_has_two_samples(width: int, told: bool) -> None:
    """With one some stays fall between two; one short stay of many is enough."""
    document = _turned(_level([10] * 40, [width, *[4] * 39]), "level", 5)
    found = _said(document, "pulses-hidden")
    assert (found is not None) is told
    if found is not None:
        assert (found.severity, found.value, found.limit) == (Severity.UNKNOWN, 1.0, 2.0)
        assert document.folds_from_kmh is None
        assert _said(document, "pulses-fold") is None
    own = "[channels.wheel.limits]\nwheel_stay_samples = 4\n"
    strict = _turned(_level([10] * 40, [4] * 40), "level", 5, more=own)
    assert _said(strict, "pulses-hidden") is None


@pytest.mark.parametrize(("short", "told"), [(39, True), (41, False)])
def test_pulses_come_in_pairs_below_four_tenths_of_the_gap_beside_them(
    short: int, told: bool
) -> None:
    """A reed that closes twice at one magnet does so within its width."""
    document = _turned(_count([short, 100] * 40), rate_hz=1000.0)
    found = _said(document, "pulses-doubled")
    assert (found is not None) is told
    if found is not None:
        assert found.severity is Severity.UNKNOWN
        assert found.value == pytest.approx(short / 100.0)
        assert found.limit == 0.4
        assert _said(document, "magnet-missed") is None


@pytest.mark.parametrize(("long", "told"), [(159, False), (161, True)])
def test_a_magnet_is_missed_from_one_and_six_tenths_of_its_neighbours_on(
    long: int, told: bool
) -> None:
    """A missing one makes it two, and magnets placed by hand up to one and four tenths."""
    document = _turned(_count([long, 100, 100, 100, 100, 100] * 10), rate_hz=1000.0)
    found = _said(document, "magnet-missed")
    assert (found is not None) is told
    if found is not None:
        assert found.value == pytest.approx(long / 100.0)
        assert (found.severity, found.limit) == (Severity.UNKNOWN, 1.6)


@pytest.mark.parametrize(("width", "told"), [(29, True), (30, False)])
def test_a_magnet_is_weak_below_six_tenths_of_the_usual_width(width: int, told: bool) -> None:
    """Of six, in per cent; the number stands."""
    widths = [width, 50, 50, 50, 50, 50] * 10
    document = _turned(_level([150] * 60, widths), "level", rate_hz=1000.0)
    found = _said(document, "magnet-weak")
    assert (found is not None) is told
    assert document.pulses_a_turn == 6
    if found is not None:
        assert found.value == pytest.approx(58.0)
        assert (found.severity, found.limit) == (Severity.CAUTION, 60.0)
        assert "one of 6 pulses is only 58 %" in found.text


def test_one_of_two_magnets_may_be_weak() -> None:
    """Held against the middle of both: 15 beside 50 samples are 46 per cent of it."""
    document = _turned(_level([300] * 40, [15, 50] * 20), "level", 20, rate_hz=1000.0)
    found = _said(document, "magnet-weak")
    assert document.pulses_a_turn == 2
    assert found is not None
    assert found.value == pytest.approx(100.0 * 15.0 / 32.5, rel=0.01)
    assert "one of 2 pulses" in found.text


def test_the_only_magnet_of_a_wheel_is_as_wide_as_is_usual() -> None:
    """There is none to hold it against."""
    document = _turned(_level([500] * 20, [100] * 20), "level", 20, rate_hz=1000.0)
    assert document.pulses_a_turn == 1
    assert _said(document, "magnet-weak") is None
    assert document.turned is not None
    assert document.turned.widths == (1.0,)


def _with_gaps(turns: int, missed: Sequence[int] = (), doubled: Sequence[int] = ()) -> Array:
    """A count of six pulses a turn that come a tenth of a second apart, but for these places."""
    gaps: list[int] = []
    for place in range(6 * turns):
        if place in doubled:
            gaps += [40, 60]
        elif place in missed:
            gaps.append(200)
        elif place - 1 not in missed:
            gaps.append(100)
    return _count(gaps)


@pytest.mark.parametrize(
    ("turns", "missed", "doubled", "severity"),
    [
        (10, (), (), None),
        (10, (20,), (), Severity.CAUTION),
        (5, (20,), (), Severity.CAUTION),
        (10, (), (20,), Severity.CAUTION),
        (10, (20,), (40,), Severity.UNKNOWN),
        (10, (20, 30), (40, 50), Severity.UNKNOWN),
        (30, (50,), (100,), Severity.CAUTION),
    ],
)
def test_a_pulse_may_be_missed_now_and_then(
    turns: int, missed: tuple[int, ...], doubled: tuple[int, ...], severity: Severity | None
) -> None:
    """One is, of however many; of several it is two in a hundred. Their share is said."""
    document = _turned(_with_gaps(turns, missed, doubled), turns=turns, rate_hz=1000.0)
    found = _said(document, "gaps-odd")
    assert (None if found is None else found.severity) == severity
    if found is not None:
        pulses = 6 * turns - len(missed) + len(doubled)
        assert document.turned is not None
        odd = document.turned.missed + document.turned.doubled
        assert found.value == pytest.approx(100.0 * odd / pulses)
        assert found.limit == 2.0
        assert (document.turned.missed, document.turned.doubled) == (len(missed), len(doubled))
        assert (document.pulses_a_turn == 6) is (severity is Severity.CAUTION)


@pytest.mark.parametrize(
    ("pulses", "turns", "code", "words"),
    [
        (80, None, "turns-not-counted", "80 pulses, and nobody counted"),
        (57, 10, "turns-not-whole", "57 pulses over 10 turns make 5.70 a turn"),
        (17, 2, "turns-too-few", "17 pulses over 2 turns may be 8 or 9 a turn"),
        (80, 10, "pulses-a-turn", "8 pulses a turn (80 over 10 turns)"),
    ],
)
def test_pulses_over_turns_make_a_number_or_say_why_not(
    pulses: int, turns: int | None, code: str, words: str
) -> None:
    """With both figures."""
    document = _turned(_count([10] * pulses), turns=turns)
    found = _said(document, code)
    assert found is not None
    assert words in found.text
    assert found.severity is (Severity.PASS if code == "pulses-a-turn" else Severity.UNKNOWN)
    if code == "turns-too-few":
        # one at each end, and three hundredths of a turn twice, of the next number: 2 x 1.6
        assert (found.value, found.limit) == (2.0, 4.0)
    if code == "turns-not-whole":
        assert found.value == pytest.approx(5.7)


UNEVEN = (90, 110, 100, 120, 95)
"""Gaps of a ring of five magnets that a hand placed, in samples."""


@pytest.mark.parametrize(
    ("turns", "told"),
    [(None, "turns-not-counted"), (20, None), (10, None), (25, "pattern-differs")],
)
def test_a_ring_repeats_after_a_turn(turns: int | None, told: str | None) -> None:
    """A hundred pulses that repeat after five: twenty turns, or ten of twice as many; no four."""
    document = _turned(_count(UNEVEN * 20), turns=turns, rate_hz=1000.0)
    for code in ("turns-not-counted", "pattern-differs"):
        assert (_said(document, code) is not None) is (code == told)
    if turns is None:
        assert "the gaps repeat after 5" in _said(document, "turns-not-counted").text  # type: ignore[union-attr]
    if told == "pattern-differs":
        found = _said(document, "pattern-differs")
        assert found is not None
        assert (found.value, found.limit) == (5.0, 4.0)


def test_a_wheel_that_stops_with_its_pattern_says_its_number() -> None:
    """Under caution, as nobody counted."""
    gaps = (UNEVEN * 3 + UNEVEN[:-1] + (1500,)) * 8
    document = _turned(_count(gaps[:-1]), turns=None, rate_hz=1000.0)
    assert document.turned is not None
    assert document.turned.basis == "pattern"
    counted = _turned(_count(gaps[:-1]), turns=32, rate_hz=1000.0)
    assert counted.turned is not None
    assert counted.turned.basis == "turns"


@pytest.mark.parametrize(("turns", "severity"), [(5, Severity.CAUTION), (10, Severity.UNKNOWN)])
def test_stops_half_a_turn_from_the_mark_are_told(turns: int, severity: Severity) -> None:
    """Where the number stands they are a caution; a turn that was counted twice halves it."""
    gaps = ([100] * 3 + [1500] + [100] * 3 + [1500]) * 5
    document = _turned(_count(gaps[:-1]), turns=turns, rate_hz=1000.0)
    found = _said(document, "turned-half")
    if turns == 5:
        assert document.pulses_a_turn == 8
        assert found is not None
        assert found.severity is severity
        assert "stops half a turn" in found.text
    else:
        assert document.pulses_a_turn == 4
        assert found is None


def test_a_half_turn_leaves_a_number_unknown_that_is_not_whole() -> None:
    """Eight pulses from stop to stop, and four once: 44 over six turns."""
    gaps = ([100] * 7 + [1500]) * 5 + [100] * 3 + [1500]
    document = _turned(_count(gaps), turns=6, rate_hz=1000.0)
    found = _said(document, "turned-half")
    assert document.pulses_a_turn is None
    assert found is not None
    assert found.severity is Severity.UNKNOWN
    assert "1 stop half a turn" in found.text


def test_a_turned_wheel_keeps_what_its_number_rests_on() -> None:
    """Pulses, turns, the angles between them and how wide each was."""
    widths = [40, 50, 50, 50, 50] * 10
    document = _turned(_level(UNEVEN * 10, widths), "level", 10, rate_hz=1000.0)
    figures = document.turned
    assert figures is not None
    assert (figures.unit, figures.pulses, figures.turns, figures.basis) == (
        "level",
        50.0,
        10,
        "turns",
    )
    assert (figures.missed, figures.doubled, figures.bounces) == (0, 0, 0)
    assert figures.backwards is None
    assert sum(figures.gaps_deg) == pytest.approx(360.0)
    assert max(figures.gaps_deg) / min(figures.gaps_deg) == pytest.approx(120.0 / 90.0)
    assert len(figures.widths) == 5


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_a_count_over_a_way_gives_pulses_a_metre(way: float) -> None:
    """Whichever way it counts; a pulse more or less at the ends, and the tape."""
    column = 500.0 + way * _count([10] * 60)
    capture = wheel_capture(np.arange(len(column)) / 100.0, w=column)
    document = judge_wheel(WheelRun("wheel", capture, None, Tape((20.0,), None)),
                           wheel_rig("pulses"), ())  # fmt: skip
    assert document.pulses_a_metre == pytest.approx(60.0 / 20.01, rel=1e-6)
    # ±1 pulse in 20 m; tape ±4.3 mm, way longer by 10 ± 10 mm, two marks ±5 mm
    u_mm = np.sqrt((4.3**2 + 10.0**2 + 2.0 * 5.0**2) / 3.0)
    u = np.hypot(60.0 / 20.01 * u_mm / 20010.0, 1.0 / 3.0**0.5 / 20.01)
    assert document.u_pulses_a_metre == pytest.approx(u, rel=1e-3)
    found = _said(document, "pulses-a-metre")
    assert found is not None
    assert found.text.endswith(f"± {KNOWN_FACTOR * u:.3f} (95 %).")
    assert document.turned is None


KNOWN = Known(6, 2000.0, 5.0)


def test_a_known_wheel_gives_pulses_a_metre_and_a_known_way() -> None:
    """Six in two metres, known to a quarter of a per cent."""
    document = judge_wheel(WheelRun(known=KNOWN), wheel_rig(), ())
    assert document.pulses_a_metre == pytest.approx(3.0)
    assert document.u_pulses_a_metre == pytest.approx(3.0 * 5.0 / 2000.0)
    assert (document.circumference_mm, document.u_mm, document.pulses_a_turn) == (2000.0, 5.0, 6)
    assert document.expanded_mm == pytest.approx(1.96 * 5.0, rel=1e-4)
    found = _said(document, "pulses-a-metre")
    assert found is not None
    assert found.text == "3.000 pulses a metre ± 0.015 (95 %)."


@pytest.mark.parametrize(
    ("known", "folds_kmh"), [(Known(), 1200.0 * 0.3), (Known(mm=1500.0, u_mm=5.0), 900.0 * 0.3)]
)
def test_a_level_hides_pulses_from_half_its_rate_on(known: Known, folds_kmh: float) -> None:
    """Ten pulses a turn at 1000 a second: 50 turns of two metres a second, or of what is known."""
    column = _level([100] * 100, [40] * 100)
    capture = wheel_capture(np.arange(len(column)) / 1000.0, w=column)
    document = judge_wheel(WheelRun("wheel", capture, 10, known=known), wheel_rig(), ())
    assert document.folds_from_kmh == pytest.approx(folds_kmh)
    assert "1000 times a second" in _said(document, "pulses-fold").text  # type: ignore[union-attr]


def _shown(
    factor: float,
    *,
    true: float = 25.0,
    u_true: float = 0.0,
    step: float = 0.0,
    known: Known = KNOWN,
    **more: float,
) -> WheelDocument:
    """The document of a speed that is shown so many times too large."""
    display = Display("speed", factor * true, step, true, u_true, **more)
    return judge_wheel(WheelRun(display=display, known=known), wheel_rig(), ())


@pytest.mark.parametrize(
    ("off", "told"), [(1.0095, False), (1.0105, True), (0.9905, False), (0.9895, True)]
)
def test_what_is_shown_follows_from_what_is_set_within_a_hundredth(off: float, told: bool) -> None:
    """And what both are known to; else what is set is not what counts."""
    document = _shown(1.05 * off, set_pulses=6.0, set_mm=2100.0)
    found = _said(document, "shown-contradicts")
    assert (found is not None) is told
    if found is not None:
        assert found.severity is Severity.UNKNOWN
        assert found.value == pytest.approx(1.05 * off)
        assert found.limit == pytest.approx(1.05)
        assert document.pulses_a_turn is None
        assert document.pulses_a_metre is None
    unsure = _shown(1.05 * off, u_true=0.25, set_pulses=6.0, set_mm=2100.0)
    assert _said(unsure, "shown-contradicts") is None
    assert _said(_shown(1.05 * off), "shown-contradicts") is None


@pytest.mark.parametrize(
    ("factor", "does"),
    [(0.99, "does not"), (1.0, "does"), (1.18, "does"), (1.24, "does not"), (1.3, "does not")],
)
def test_a_road_vehicle_may_show_a_tenth_and_four_more(factor: float, does: str) -> None:
    """At both speeds: 31.5 at 25 and 53.5 at 45 km/h."""
    document = _shown(factor)
    found = _said(document, "speed-rule")
    assert found is not None
    assert found.text.endswith(f"and this {does}.")
    shown = ", ".join(f"{factor * kmh:.1f} km/h at {kmh:g}" for kmh in (25.0, 45.0))
    said = _said(document, "speed-shown")
    assert said is not None
    assert shown in said.text
    assert said.value == pytest.approx(100.0 * (factor - 1.0))


def test_how_well_a_shown_speed_is_known_goes_with_the_speed() -> None:
    """A hundredth of the true one, twice nearly."""
    document = _shown(1.1, u_true=0.25)
    assert [each.true_kmh for each in document.shown_at] == [25.0, 45.0]
    assert [each.shown_kmh for each in document.shown_at] == pytest.approx([27.5, 49.5])
    expanded = [KNOWN_FACTOR * 1.1 * 0.01 * kmh for kmh in (25.0, 45.0)]
    assert [each.expanded_kmh for each in document.shown_at] == pytest.approx(expanded)
    assert [each.within_r39 for each in document.shown_at] == [True, True]


@pytest.mark.parametrize(
    ("known", "found"), [(KNOWN, True), (Known(6), False), (Known(mm=2000.0, u_mm=5.0), False)]
)
def test_what_to_type_in_is_named_where_it_was_found(known: Known, found: bool) -> None:
    """Pulses a turn and circumference both; else they are to be found first."""
    said = _said(_shown(1.2, known=known), "speed-shown")
    assert said is not None
    assert said.severity is Severity.CAUTION
    assert ("found here" in said.action) is found


@pytest.mark.parametrize(
    ("kind", "wanted"), [("trip", "no good circumference"), ("speed", "no good pulses a turn and")]
)
def test_what_is_missing_to_hold_a_display_against_is_named(kind: str, wanted: str) -> None:
    """A way for a trip, all of the wheel for a speed that nobody measured."""
    display = Display("trip" if kind == "trip" else "speed", 21.0, 1.0)
    document = judge_wheel(WheelRun(turns=10, display=display), wheel_rig(), ())
    found = _said(document, "nothing-true")
    assert found is not None
    assert wanted in found.text


@pytest.mark.parametrize(
    ("ways_m", "told"), [((20.0, 20.08), False), ((20.0, 20.1), True), ((20.1, 20.0), True)]
)
def test_ways_differ_beyond_marks_and_valve(ways_m: tuple[float, float], told: bool) -> None:
    """Each five millimetres and three degrees off, at both ends of both ways: 8.7 mm a turn."""
    document = judge_wheel(WheelRun(tape=Tape(ways_m, 10, seated=True)), wheel_rig(), ())
    found = _said(document, "ways-differ")
    assert (found is not None) is told
    if found is not None:
        assert found.value == pytest.approx(10.0)
        assert found.limit == pytest.approx(4.0 * (5.0 + 2005.0 * 3.0 / 360.0) / 10.0)
        assert document.circumference_mm is None


@pytest.mark.parametrize("seated", [True, False])
def test_a_rider_who_was_not_on_is_told(seated: bool) -> None:
    """A third of a centimetre of sag makes twenty-one millimetres of a turn, half is taken off."""
    document = judge_wheel(WheelRun(tape=Tape((20.0,), 10, seated=seated)), wheel_rig(), ())
    found = _said(document, "rider-not-on")
    assert (found is None) is seated
    rider_mm = 0.0 if seated else 2.0 * np.pi * 10.0 / 3.0 / 2.0
    assert document.circumference_mm == pytest.approx(2001.0 - rider_mm)
    if found is not None:
        assert found.value == pytest.approx(rider_mm)
    said = _said(document, "circumference")
    assert said is not None
    assert document.expanded_mm is not None
    assert (
        f"A turn rolls {document.circumference_mm:.0f} mm ± {document.expanded_mm:.0f} (95 %)"
        in said.text
    )
    assert document.rolled is not None
    assert (document.rolled.ways_m, document.rolled.turns) == ((20.0,), 10)


@pytest.mark.parametrize(("ways_m", "words"), [((5.0, 5.0), "little"), ((40.0, 20.0), "far")])
def test_a_way_that_no_wheel_rolls_is_told_with_what_was_typed(
    ways_m: tuple[float, ...], words: str
) -> None:
    """The mean of the ways, its turns, and whether it is too little or too far."""
    document = judge_wheel(WheelRun(tape=Tape(ways_m, 10, seated=True)), wheel_rig(), ())
    found = _said(document, "circumference-odd")
    assert found is not None
    assert f"{np.mean(ways_m):.2f} m over 10 turns" in found.text
    assert f"rolls so {words}" in found.text


def test_a_way_is_rolled_without_the_rider_unless_it_is_said() -> None:
    """As most do it alone."""
    document = judge_wheel(WheelRun(tape=Tape((20.0,), 10)), wheel_rig(), ())
    assert document.rolled is not None
    assert not document.rolled.seated
    assert _said(document, "rider-not-on") is not None


@pytest.mark.parametrize("kind", ["speed", "trip"])
def test_a_display_is_read_once_for_a_speed_and_twice_for_a_way(kind: str) -> None:
    """Each reading is rounded to its step: a kilometre an hour of 25, a metre of twenty."""
    if kind == "speed":
        document = _shown(1.0, step=1.0)
        u = 1.0 / 12.0**0.5 / 25.0
    else:
        run = WheelRun(display=Display("trip", 20.0, 1.0), tape=Tape((20.0,), 10))
        document = judge_wheel(run, wheel_rig(), ())
        way_m, u_m = 20.01, np.sqrt((4.3**2 + 10.0**2 + 2.0 * 5.0**2) / 3.0) / 1000.0
        u = 20.0 / way_m * np.hypot(2.0**0.5 / 12.0**0.5 / 20.0, u_m / way_m)
    assert document.shown is not None
    assert document.shown.u == pytest.approx(u, rel=1e-3)
