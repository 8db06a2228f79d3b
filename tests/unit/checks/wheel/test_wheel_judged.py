from __future__ import annotations

import numpy as np
import pytest

from calib.checks.bench.signals import signals_of
from calib.checks.bench.switches import standing_findings
from calib.checks.wheel.judgement import Display, Known, Tape, WheelRun, judge_wheel
from calib.errors import UsageError
from calib.store.documents.finding import Severity
from calib.store.documents.wheel import WheelDocument
from calib.store.samples import Event, EventKind
from tests.wheel_files import counts, hand, levels, ring, wheel_capture, wheel_rig

SECOND = 'second_track = "b"\n[channels.b]\nrole = "wheel"\ncolumn = "b"\nunit = "level"\n'


def turned(
    values: np.ndarray,
    unit: str = "level",
    turns: int | None = 10,
    *,
    rate_hz: float = 1000.0,
    more: str = "",
    **others: np.ndarray,
) -> WheelDocument:
    """The document of some turns whose column is given."""
    time_s = np.arange(len(values)) / rate_hz
    capture = wheel_capture(time_s, w=values, **others)
    return judge_wheel(WheelRun("wheel", capture, turns), wheel_rig(unit, more), ("mind",))


def codes(document: WheelDocument) -> dict[str, Severity]:
    """What was found, with its severity."""
    return {each.code: each.severity for each in document.findings}


def test_ten_turns_of_a_level() -> None:
    """Six magnets: six pulses a turn, and the speed from which this rate hides them."""
    document = turned(levels(ring(6), hand(10.0)[1]))
    assert document.verdict is Severity.PASS, document.findings
    assert document.pulses_a_turn == 6
    assert document.folds_from_kmh == pytest.approx(600.0)
    assert document.cautions == ("mind",)


def test_ten_turns_of_a_count_that_wraps() -> None:
    """Forty magnets pass 256 twice; a count hides nothing at any speed."""
    document = turned(counts(ring(40), hand(10.0)[1]), "pulses")
    assert document.pulses_a_turn == 40
    assert document.folds_from_kmh is None


@pytest.mark.parametrize("level", [0.0, 1.0])
def test_no_pulse(level: float) -> None:
    """A level that stands is no wheel; one that stands high is told by its name."""
    document = turned(np.full(5000, level))
    code = "never-falls" if level else "no-pulse"
    assert code in codes(document)
    assert not document.verdict.is_good
    assert document.turned is None


def test_too_few_turns() -> None:
    """Two turns of forty magnets may be more than one number, and how many tell is said."""
    document = turned(counts(ring(40), hand(2.0)[1]), "pulses", 2)
    assert codes(document)["turns-too-few"] is Severity.UNKNOWN
    assert document.pulses_a_turn is None


def test_a_count_whose_gaps_no_sample_shows_wants_twenty_turns() -> None:
    """Forty pulses a turn at twenty readings a second: a missed magnet could hide in ten turns."""
    for turns, told in ((10, None), (20, 40)):
        _, path = hand(float(turns), rate_hz=1000.0)
        document = turned(counts(ring(40), path)[::50], "pulses", turns, rate_hz=20.0)
        assert document.pulses_a_turn == told
        assert ("turns-too-few" in codes(document)) is (told is None)


def test_a_turn_that_stops_between_marks() -> None:
    """Nine and a half turns told as ten give no whole number, and no number to type in."""
    document = turned(counts(ring(6), hand(9.5)[1]), "pulses")
    assert codes(document)["turns-not-whole"] is Severity.UNKNOWN
    assert document.pulses_a_turn is None


def test_nobody_counted() -> None:
    """Even magnets and no count of turns: nothing is claimed."""
    document = turned(levels(ring(6), hand(10.0)[1]), turns=None)
    assert codes(document)["turns-not-counted"] is Severity.UNKNOWN


def test_a_miscount_is_seen_in_an_uneven_ring() -> None:
    """Twelve turns of five magnets told as ten make six, and the gaps repeat after five."""
    magnets = [(at + off, width) for (at, width), off in
               zip(ring(5), (0.0, 0.03, -0.02, 0.015, 0.0), strict=True)]  # fmt: skip
    document = turned(levels(magnets, hand(12.0)[1]))
    assert codes(document)["pattern-differs"] is Severity.UNKNOWN


def test_a_missing_magnet_and_a_weak_one() -> None:
    """The one leaves no number, the other is a caution beside it."""
    missing = turned(levels(ring(8, missing=3), hand(10.0)[1]))
    assert codes(missing)["magnet-missed"] is Severity.UNKNOWN
    assert missing.pulses_a_turn is None
    assert "magnet-weak" not in codes(missing)
    magnets = ring(6)
    magnets[3] = (magnets[3][0], 0.4 * magnets[3][1])
    weak = turned(levels(magnets, hand(10.0)[1]))
    assert codes(weak)["magnet-weak"] is Severity.CAUTION
    assert weak.pulses_a_turn == 6


def test_double_pulses() -> None:
    """A reed that closes twice at each of six magnets leaves no number."""
    magnets = [(at + off, 0.01) for at, _ in ring(6) for off in (0.0, 0.02)]
    document = turned(levels(magnets, hand(10.0)[1]))
    assert codes(document)["pulses-doubled"] is Severity.UNKNOWN


def test_samples_too_far_apart() -> None:
    """Twenty magnets at 1.6 turns a second, a hundred readings a second: some stays are missed."""
    _, turns = hand(10.0, speed=1.6, rate_hz=100.0)
    document = turned(levels(ring(20), turns), rate_hz=100.0)
    assert codes(document)["pulses-hidden"] is Severity.UNKNOWN


def test_a_gap_in_a_level_hides_pulses_and_none_in_a_count() -> None:
    """What came in between is in the count and in no level."""
    time_s, turns = hand(20.0)
    event = Event(kind=EventKind.REPLUG, time_s=5.0, text="away", duration_s=0.5)
    kept = (time_s < 5.0) | (time_s > 5.5)
    said = {}
    for unit, column in (("level", levels(ring(6), turns)), ("pulses", counts(ring(6), turns))):
        capture = wheel_capture(time_s[kept], w=column[kept])
        capture = type(capture)(**{**capture.__dict__, "events": (event,)})
        said[unit] = judge_wheel(WheelRun("wheel", capture, 20), wheel_rig(unit), ())
    assert codes(said["level"])["pulses-hidden"] is Severity.UNKNOWN
    assert said["pulses"].pulses_a_turn == 6


@pytest.mark.parametrize(("sign", "backwards"), [(1.0, True), (-1.0, False)])
def test_a_second_track_tells_the_way(sign: float, backwards: bool) -> None:
    """Turned backwards is a caution, and the number stands."""
    turns = sign * hand(10.0)[1]
    magnets = ring(8, width=0.5)
    document = turned(levels(magnets, turns), more=SECOND, b=levels(magnets, turns + 0.25 / 8))
    assert document.turned is not None
    assert document.turned.backwards is backwards
    assert ("turned-backwards" in codes(document)) is backwards
    assert document.pulses_a_turn == 8


def test_both_ways() -> None:
    """Ten turns on and four back are no turns."""
    on = hand(10.0)[1]
    back = 10.0 - hand(4.0)[1]
    magnets = ring(8, width=0.5)
    turns = np.concatenate([on, back])
    document = turned(levels(magnets, turns), more=SECOND, b=levels(magnets, turns + 0.25 / 8))
    assert codes(document)["turned-both-ways"] is Severity.UNKNOWN


def test_a_tape_needs_no_sensor() -> None:
    """19.84 m over ten turns: a circumference, and no pulses."""
    document = judge_wheel(WheelRun(tape=Tape((19.84,), 10, seated=True)), wheel_rig(), ())
    assert document.verdict is Severity.PASS
    assert document.circumference_mm == pytest.approx(1985.0, abs=0.1)
    assert document.pulses_a_metre is None
    assert document.rolled is not None
    assert len(document.rolled.budget) == 6


@pytest.mark.parametrize(
    ("tape", "code"),
    [
        (Tape((19.84,), 1), "circumference-odd"),
        (Tape((19.84,), 100), "circumference-odd"),
        (Tape((19.84, 17.8), 10), "ways-differ"),
    ],
)
def test_a_tape_that_cannot_be(tape: Tape, code: str) -> None:
    """A miscounted turn, a slip of the decimal point: no number."""
    document = judge_wheel(WheelRun(tape=tape), wheel_rig(), ())
    assert codes(document)[code] is Severity.UNKNOWN
    assert document.circumference_mm is None


KNOWN = Known(6, 2000.0, 5.0)


def test_what_is_set_shows_wrong() -> None:
    """Set to 2100 mm where a turn rolls 2000: five per cent too much at 25 and at 45 km/h."""
    run = WheelRun(display=Display(set_pulses=6, set_mm=2100.0), known=KNOWN)
    document = judge_wheel(run, wheel_rig(), ())
    assert [each.shown_kmh for each in document.shown_at] == pytest.approx([26.25, 47.25])
    assert all(each.within_r39 for each in document.shown_at)
    assert codes(document)["speed-shown"] is Severity.CAUTION
    assert document.pulses_a_metre == pytest.approx(3.0)


def test_a_trip_over_the_way_that_was_rolled() -> None:
    """104 m shown over 99.2: between three and seven per cent too much."""
    run = WheelRun(tape=Tape((99.2,), 50, seated=True), display=Display("trip", 104.0, 1.0))
    document = judge_wheel(run, wheel_rig(), ())
    assert document.shown is not None
    assert document.shown.factor == pytest.approx(104.0 / 99.25, abs=1e-3)
    assert codes(document)["speed-shown"] is Severity.CAUTION


def test_a_trip_over_turns_of_the_raised_wheel() -> None:
    """Ten turns of a wheel that rolls 2 m, and 21 m shown: a step in 20 m is much, and told."""
    run = WheelRun(turns=10, display=Display("trip", 21.0, 1.0), known=KNOWN)
    document = judge_wheel(run, wheel_rig(), ())
    assert document.shown is not None
    assert document.shown.factor == pytest.approx(1.05)
    assert document.shown.true == pytest.approx(20.0)
    # two readings in metres, two marks, and the circumference ten times
    assert document.shown.u == pytest.approx(1.05 * np.hypot(0.408 / 21.0, 0.07 / 20.0), rel=0.05)


@pytest.mark.parametrize(
    "display", [Display(set_pulses=6, set_mm=2100.0), Display("trip", 21.0, 1.0)]
)
def test_nothing_true_on_file(display: Display) -> None:
    """What is set or shown alone says nothing, and the first step is named."""
    document = judge_wheel(WheelRun(turns=10, display=display), wheel_rig(), ())
    assert codes(document) == {"nothing-true": Severity.UNKNOWN}


def test_figures_that_contradict_one_another() -> None:
    """Set to what comes, and yet it shows a fifth too much: then what is set is not what counts."""
    display = Display("speed", 30.0, 0.1, 25.0, 0.1, 6, 2000.0)
    document = judge_wheel(WheelRun(display=display, known=KNOWN), wheel_rig(), ())
    assert codes(document)["shown-contradicts"] is Severity.UNKNOWN
    assert document.shown_at == ()


def test_a_level_over_a_way_is_refused() -> None:
    """At speed its pulses may be hidden, so only a running count is taken."""
    time_s, turns = hand(10.0)
    capture = wheel_capture(time_s, w=levels(ring(6), turns))
    with pytest.raises(UsageError, match="is a level"):
        judge_wheel(WheelRun("wheel", capture, None, Tape((20.0,), None)), wheel_rig(), ())


def test_pulses_of_a_standing_wheel_are_noise() -> None:
    """In a bench check nobody turns the wheel; two nudges are forgiven, a flicker is not."""
    time_s = np.arange(1000) / 100.0
    for pulses, told in ((2, False), (9, True)):
        column = np.zeros(1000)
        column[100 : 100 + 20 * pulses : 20] = 1.0
        signals = signals_of(wheel_capture(time_s, w=column), wheel_rig())
        assert bool(list(standing_findings(signals.by_name["wheel"]))) is told


@pytest.mark.parametrize(("unit", "other"), [("level", "pulses"), ("pulses", "level")])
def test_a_unit_that_the_column_belies_is_told(unit: str, other: str) -> None:
    """A count called a level and a level called a count: the one thing to mend is named."""
    _, turns = hand(10.0)
    column = counts(ring(6), turns, 65536.0) if unit == "level" else levels(ring(6), turns)
    document = turned(column, unit)
    assert codes(document) == {"unit": Severity.UNKNOWN}
    assert f"--unit wheel={other}" in document.findings[0].action


@pytest.mark.parametrize("rate_hz", [50.0, 1000.0])
def test_a_count_of_a_bouncing_reed_is_no_number(rate_hz: float) -> None:
    """Ten pulses at once for each magnet are 60 a turn, whole and wrong, at whatever rate."""
    _, turns = hand(20.0)
    starts = np.flatnonzero(np.diff(levels(ring(6), turns)) > 0.5)
    column = np.zeros(len(turns))
    for start in starts.tolist():
        column[start + 1 : start + 6] += 2.0  # within 5 ms
    every = round(1000.0 / rate_hz)
    document = turned(np.cumsum(column)[::every], "pulses", 20, rate_hz=rate_hz)
    assert codes(document)["contact-bounces"] is Severity.UNKNOWN
    assert document.pulses_a_turn is None
