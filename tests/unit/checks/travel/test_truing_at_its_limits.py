"""A truing at both sides of each limit, and the figures that it says, by tables of exact pairs."""

from __future__ import annotations

import itertools
import math
from pathlib import Path

import numpy as np
import pytest

from calib.checks.travel.meter import MeterReadings, judge_meter, rows_in, scale_of, stretches_in
from calib.controls.meter import MeterSpec
from calib.errors import UsageError
from calib.store.capture import Capture
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.meter import MeterDocument
from calib.store.rig import Rig, read_rig
from tests.wheel_files import wheel_capture

TEXT = (
    '[channels.throttle]\nrole = "control"\ncolumn = "a0"\nunit = "V"\n'
    '[channels.truth]\nrole = "other"\ncolumn = "m"\nunit = "V"\n'
    '[channels.slope]\nrole = "pitch"\ncolumn = "p"\nunit = "deg"\n'
)
SPEC = MeterSpec(pct=0.5, digits=2.0, step_V=0.001)
DIGITS_U, SHARE_U = 0.002 / math.sqrt(3.0), 0.005 / math.sqrt(3.0)
"""Two digits of a millivolt, and half a per cent that all readings have in common."""


def _rig(more: str = "") -> Rig:
    return read_rig(Path("rig.toml"), (TEXT + more).encode())


def _table(
    logger: tuple[float, ...],
    meter: tuple[float, ...],
    *,
    curved: bool = False,
    more: str = "",
    spec: MeterSpec = SPEC,
) -> MeterDocument:
    """The document of a table of pairs."""
    capture = wheel_capture(np.arange(len(logger)) / 10.0, a0=np.array(logger), m=np.array(meter))
    readings = MeterReadings((), spec, true_channel="truth", curved=curved)
    return judge_meter(capture, _rig(more), "throttle", readings, ())


def _capture(logger: tuple[float, ...], noise_V: float = 0.001) -> Capture:
    """Voltages that were held for two seconds each, with a quick turn of the knob between them."""
    turned = [np.linspace(*pair, 5)[1:-1] for pair in itertools.pairwise((logger[0], *logger))]
    held = [np.full(200, volts) for volts in logger]
    volts = np.concatenate([part for pair in zip(turned, held, strict=True) for part in pair])
    volts += np.resize([noise_V, 0.0, -noise_V, 0.0], len(volts))
    return wheel_capture(np.arange(len(volts)) / 100.0, a0=volts)


def _held(
    logger: tuple[float, ...],
    meter: tuple[float, ...],
    check_V: float | None = None,
    *,
    assumed: bool = False,
    more: str = "",
) -> MeterDocument:
    """The document of voltages that were held for two seconds each, and read on the meter."""
    capture = _capture(logger)
    readings = MeterReadings(meter, SPEC, spec_assumed=assumed, check_V=check_V)
    return judge_meter(capture, _rig(more), "throttle", readings, ("mind",))


def _said(document: MeterDocument, code: str) -> Finding | None:
    return next((each for each in document.findings if each.code == code), None)


def _u(volts: float, count: int) -> float:
    """What is known of the middle of so many exact readings, V, by hand."""
    return math.hypot(DIGITS_U / math.sqrt(count), SHARE_U * volts)


def test_a_trued_logger_says_how_far_it_was_off() -> None:
    """It read 25 per cent and 100 mV too much: true is 0.8 of what it reads, less 80 mV.

    Known in the middle to 1.96 times what digits and per cent leave there.
    """
    logger = (1.35, 2.6, 3.85)
    document = _table(logger, (1.0, 2.0, 3.0))
    assert document.gain == pytest.approx(0.8)
    assert document.offset_V == pytest.approx(-0.08)
    found = _said(document, "trued")
    assert found is not None
    assert found.severity is Severity.PASS
    assert found.value == pytest.approx(_u(2.0, 3))
    assert _said(document, "meter-assumed") is None
    assert found.text == (
        "Trued from 1.00 to 3.00 V: the logger read +25.00 % and +100 mV off. "
        f"Now known to ±{1960.0 * _u(2.0, 3):.0f} mV (95 %) at 2.0 V."
    )


@pytest.mark.parametrize(
    ("gain", "told"), [(1.095, False), (1.105, True), (0.905, False), (0.895, True)]
)
def test_volts_are_off_by_a_tenth_or_the_rig_file_is(gain: float, told: bool) -> None:
    """Either way; in per cent of what the logger reads."""
    found = _said(_table((1.0, 2.0, 4.0), (gain, 2.0 * gain, 4.0 * gain)), "scale-far-off")
    assert (found is not None) is told
    if found is not None:
        assert found.severity is Severity.CAUTION
        assert found.value == pytest.approx(gain)
        assert f"are {100.0 * (gain - 1.0):+.1f} % off" in found.text


@pytest.mark.parametrize(("limit_pct", "told"), [(25.001, False), (24.999, True)])
def test_a_persons_own_limit_of_the_scale_counts(limit_pct: float, told: bool) -> None:
    """A quarter too little."""
    own = f"[channels.throttle.limits]\nmeter_gain_pct = {limit_pct}\n"
    document = _table((1.0, 2.0, 4.0), (1.25, 2.5, 5.0), more=own)
    assert (_said(document, "scale-far-off") is not None) is told


@pytest.mark.parametrize("off_V", [0.051, 0.0523, 0.0532, 0.06, -0.0523, -0.0532])
def test_an_offset_is_far_beyond_fifty_millivolts_and_twice_what_it_is_known_to(
    off_V: float,
) -> None:
    """Either way; the ground is then the first thing to look at."""
    document = _table((1.0, 2.0, 4.0), (1.0 + off_V, 2.0 + off_V, 4.0 + off_V))
    assert document.u_offset_V is not None
    # at nought: three readings of two digits each, whose mean lies at 7/3 V
    x = np.array([1.0, 2.0, 4.0])
    spread = math.sqrt(1.0 / 3.0 + x.mean() ** 2 / ((x - x.mean()) ** 2).sum())
    u_V = math.hypot(DIGITS_U * spread, SHARE_U * off_V)
    assert document.u_offset_V == pytest.approx(u_V, rel=1e-3)
    found = _said(document, "offset-far-off")
    assert (found is not None) is (abs(off_V) > 0.05 + 2.0 * u_V)
    if found is not None:
        assert found.value == pytest.approx(off_V)
        assert found.limit == 0.05
        assert f"reads {1000.0 * off_V:+.0f} mV off" in found.text


def test_readings_that_are_near_say_what_the_gain_is_worth() -> None:
    """By the gain's own uncertainty, at 95 per cent; of a meter that is good to a tenth."""
    document = _table((1.0, 1.5, 2.0), (1.0, 1.5, 2.0), spec=MeterSpec(10.0, 2.0, 0.001))
    found = _said(document, "readings-near")
    assert found is not None
    assert (found.value, found.limit) == (1.0, 1.5)
    u_gain = math.hypot(DIGITS_U / math.sqrt(0.5), 20.0 * SHARE_U)
    assert document.u_gain == pytest.approx(u_gain)
    assert f"±{196.0 * u_gain:.1f} % (95 %)" in found.text


@pytest.mark.parametrize(
    ("logger", "meter", "words"),
    [
        ((1.0,), (1.0,), "One reading fixes"),
        ((0.0, 0.05, 0.0), (1.0, 2.0, 3.0), "3 readings at one voltage"),
        ((1.0, 1.0625), (1.0, 1.25), None),
        ((1.0, 2.0, 3.0), (1.2, 1.2, 1.2), "1.2 V each time, at 3 voltages"),
    ],
)
def test_a_line_wants_two_voltages_and_two_readings(
    logger: tuple[float, ...], meter: tuple[float, ...], words: str | None
) -> None:
    """Twenty readings of one are one; what the meter shows has to change as well."""
    document = _table(logger, meter)
    found = _said(document, "one-reading")
    assert (None if found is None else found.severity) == (words and Severity.UNKNOWN)
    assert (document.gain is None) is (words is not None)
    if found is not None and words is not None:
        assert words in found.text


def test_readings_of_a_voltage_that_was_held_twice_may_fall() -> None:
    """Two stays of the logger at one voltage, a digit apart on the meter."""
    document = _table((1.0, 1.04, 4.0), (1.02, 1.0, 4.0))
    assert _said(document, "readings-fall") is None
    later = _table((1.0, 1.07, 4.0), (1.05, 1.0, 4.0))
    assert _said(later, "readings-fall") is not None


@pytest.mark.parametrize(("count", "told"), [(2, True), (3, False)])
def test_two_readings_make_a_line_whatever_lies_between(count: int, told: bool) -> None:
    """A third one tells."""
    volts = (1.0, 4.0, 2.5)[:count]
    found = _said(_table(volts, volts), "two-readings")
    assert (found is not None) is told
    if found is not None:
        assert (found.severity, found.value, found.limit) == (Severity.CAUTION, 2.0, 3.0)


@pytest.mark.parametrize(("count", "words"), [(4, "with 5 readings"), (5, "take the readings")])
def test_one_slip_leaves_the_line_unknown(count: int, words: str) -> None:
    """How far it lies off is said; with fewer than five a bow looks alike."""
    logger = tuple(np.linspace(1.0, 4.0, count).tolist())
    meter = tuple(volts + 0.2 * (place == 2) for place, volts in enumerate(logger))
    document = _table(logger, meter)
    found = _said(document, "residuals")
    assert found is not None
    assert found.severity is Severity.UNKNOWN
    left = np.array(meter) - np.polyval(np.polyfit(logger, meter, 1), logger)
    assert found.value == pytest.approx(float(np.abs(left).max()))
    assert found.limit == pytest.approx(max(0.005 * volts + 0.002 for volts in meter))
    assert f"lies {1000.0 * np.abs(left).max():.0f} mV off" in found.text
    assert words in found.action
    assert _said(document, "trued") is None


BOWED = tuple(np.linspace(0.5, 4.5, 9).tolist())


def _bowed(by_V: float) -> tuple[float, ...]:
    return tuple(volts + by_V * (1.0 - ((volts - 2.5) / 2.0) ** 2) for volts in BOWED)


@pytest.mark.parametrize(
    ("by_V", "digits", "severity"),
    [
        (0.012, 10.0, Severity.CAUTION),
        (-0.012, 10.0, Severity.CAUTION),
        (0.1, 2.0, Severity.UNKNOWN),
        (-0.1, 2.0, Severity.UNKNOWN),
    ],
)
def test_readings_bow_away_from_a_straight_line(
    by_V: float, digits: float, severity: Severity
) -> None:
    """A caution while the meter's accuracy explains it, and no line beyond it."""
    document = _table(BOWED, _bowed(by_V), spec=MeterSpec(0.5, digits, 0.001))
    found = _said(document, "converter-bends")
    assert found is not None
    assert found.severity is severity
    meter = np.array(_bowed(by_V))
    left_V = float(np.abs(meter - np.polyval(np.polyfit(BOWED, meter, 1), BOWED)).max())
    assert found.value == document.bend_V == pytest.approx(left_V)
    assert found.limit == pytest.approx(0.005 * meter.max() + digits / 1000.0)
    assert f"by {1000.0 * left_V:.0f} mV" in found.text
    assert (_said(document, "trued") is not None) is (severity is Severity.CAUTION)
    assert _said(document, "residuals") is None


def test_a_bow_is_trued_by_a_curve_where_one_is_asked_for() -> None:
    """What a straight line would be off is said; the gain of the line is no matter then."""
    meter = tuple(1.2 * volts for volts in _bowed(0.1))
    document = _table(BOWED, meter, curved=True)
    assert document.curve is not None
    left_V = float(np.abs(meter - np.polyval(np.polyfit(BOWED, meter, 1), BOWED)).max())
    found = _said(document, "trued")
    assert found is not None
    low_V, high_V = min(meter), max(meter)
    assert found.value is not None
    assert found.text == (
        f"Trued from {low_V:.2f} to {high_V:.2f} V by a curve; a straight line would be up to "
        f"{1000.0 * left_V:.0f} mV off. Now known to ±{1960.0 * found.value:.0f} mV (95 %) at "
        f"{(low_V + high_V) / 2.0:.1f} V."
    )
    codes = {each.code for each in document.findings}
    assert codes.isdisjoint({"scale-far-off", "converter-bends", "residuals", "no-bend"})


@pytest.mark.parametrize(("curved", "told"), [(True, True), (False, False)])
def test_a_curve_that_is_asked_for_in_vain_is_told(curved: bool, told: bool) -> None:
    """Readings on a line have no bend; five millivolts would be one."""
    found = _said(_table(BOWED, BOWED, curved=curved), "no-bend")
    assert (found is not None) is told
    if found is not None:
        assert found.severity is Severity.PASS
        assert found.value == pytest.approx(0.0, abs=1e-9)
        assert found.limit == 0.005
    few = _said(_table(BOWED[:4], BOWED[:4], curved=True), "no-bend")
    assert few is not None
    assert few.value is None


def test_a_curve_that_one_reading_alone_bends_is_told() -> None:
    """Where all others lie on a line, the end may be a slip."""
    meter = (*BOWED[:-1], BOWED[-1] - 0.1)
    found = _said(_table(BOWED, meter, curved=True), "bend-on-one-reading")
    assert found is not None
    assert (found.severity, found.value) == (Severity.CAUTION, 4.5)
    assert _said(_table(BOWED, meter), "bend-on-one-reading") is None
    assert _said(_table(BOWED, _bowed(0.1), curved=True), "bend-on-one-reading") is None


@pytest.mark.parametrize("off", [1.95, 2.05, -1.95, -2.05])
def test_a_check_reading_lies_within_two_standard_uncertainties(off: float) -> None:
    """Of the line at that place, of the meter, and of the logger's own mean, with its sign."""
    at_V = 2.5
    u_V = math.hypot(_u(at_V, 2), (0.005 * at_V + 0.002) / math.sqrt(3.0))
    check_V = at_V + off * u_V
    u_V = math.hypot(_u(at_V, 2), (0.005 * check_V + 0.002) / math.sqrt(3.0))
    document = _held((1.0, 4.0, at_V), (1.0, 4.0), check_V)
    found = _said(document, "check-reading")
    assert found is not None
    assert found.severity is (Severity.PASS if abs(off) < 2.0 else Severity.FAIL)
    assert found.value == pytest.approx(off * u_V, rel=0.01)
    assert found.limit == pytest.approx(2.0 * u_V, rel=1e-3)
    assert f"lies {1000.0 * (check_V - at_V):+.0f} mV off" in found.text
    assert f"±{2000.0 * u_V:.0f} mV is allowed" in found.text
    assert document.cautions == ("mind",)
    assert _said(document, "no-bend") is None


def test_a_check_that_the_logger_gives_by_half_counts_by_the_gain() -> None:
    """What the logger scatters by is volts of its own."""
    capture = _capture((0.5, 2.0, 1.25), noise_V=0.01)
    readings = MeterReadings((1.0, 4.0), SPEC, check_V=2.5)
    document = judge_meter(capture, _rig(), "throttle", readings, ())
    stretch = stretches_in(capture, _rig(), "throttle")[-1]
    assert document.gain == pytest.approx(2.0, rel=1e-4)
    assert document.u_gain is not None
    assert document.u_offset_V is not None
    assert document.cov is not None
    line_V = math.sqrt((1.25 * document.u_gain) ** 2 + document.u_offset_V**2 + 2.5 * document.cov)
    u_V = math.hypot(line_V, (0.005 * 2.5 + 0.002) / math.sqrt(3.0), 2.0 * stretch.u_V)
    found = _said(document, "check-reading")
    assert found is not None
    assert found.limit == pytest.approx(2.0 * u_V, rel=1e-6)


def test_a_voltage_that_was_not_held_is_missed() -> None:
    """The check reading wants a stretch of its own."""
    for check_V, found in ((None, 2), (2.5, 3)):
        document = _held((1.0, 4.0, 2.5, 3.5), (1.0, 4.0), check_V)
        missed = _said(document, "stretches-miscounted")
        assert missed is not None
        assert (missed.value, missed.limit) == (4.0, float(found))
        assert document.gain is None


@pytest.mark.parametrize("assumed", [True, False])
def test_an_accuracy_that_was_assumed_is_told(assumed: bool) -> None:
    """With its figures."""
    found = _said(_held((1.0, 4.0), (1.0, 4.0), assumed=assumed), "meter-assumed")
    assert (found is not None) is assumed
    if found is not None:
        assert "±(0.5 % + 2 digits of 0.001 V)" in found.text


def test_a_row_in_which_one_is_missing_is_no_pair() -> None:
    """Nor is one of another unit a truth."""
    rig = _rig()
    logger, meter = np.array([1.0, np.nan, 3.0, 4.0]), np.array([1.1, 2.1, np.nan, 4.1])
    capture = wheel_capture(np.arange(4) / 10.0, a0=logger, m=meter, p=logger)
    stretches, true_V = rows_in(capture, rig, "throttle", "truth")
    assert [each.mean_V for each in stretches] == [1.0, 4.0]
    assert true_V == (1.1, 4.1)
    assert {(each.start_s, each.hold_s) for each in stretches} == {(0.0, 0.0)}
    for pair in (("throttle", "slope"), ("slope", "truth")):
        with pytest.raises(UsageError, match="not volts"):
            rows_in(capture, rig, *pair)


def test_a_row_of_counts_is_known_to_its_step() -> None:
    """Five volts in a thousand: five millivolts, rectangular."""
    text = TEXT.replace('unit = "V"\n', 'unit = "count"\nfull_scale = 1000\nreference_V = 5.0\n', 1)
    rig = read_rig(Path("rig.toml"), text.encode())
    capture = wheel_capture(np.arange(2) / 10.0, a0=np.array([200, 800]), m=np.array([1.0, 4.0]))
    stretches, _ = rows_in(capture, rig, "throttle", "truth")
    assert [each.u_V for each in stretches] == pytest.approx([0.005 / math.sqrt(12.0)] * 2)


def test_a_scale_is_written_with_its_date_and_its_curve_in_microvolts() -> None:
    """No finer than that: the rig file is read by people."""
    document = _table(BOWED, _bowed(0.1), curved=True)
    scale = scale_of(document, "2026-03-01")
    assert document.curve is not None
    assert scale["curve"] == [[round(figure, 6) for figure in row] for row in document.curve]
    assert (scale["date"], scale["gain"]) == ("2026-03-01", document.gain)
    assert "curve" not in scale_of(_table(BOWED, BOWED), "2026-03-01")
