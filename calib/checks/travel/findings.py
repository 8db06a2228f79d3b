"""What is said of a control's measured travel: of the hand, the signal, and the values."""

from __future__ import annotations

import numpy as np

from calib.checks.limits import limit
from calib.checks.travel.numbers import TravelNumbers
from calib.controls.deadband import DeadBand
from calib.controls.supply import ASSUMED_V, Supply
from calib.controls.travel import TravelMeasurement
from calib.store.conversion import rails, step
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity
from calib.store.rig import Channel
from calib.store.text import counted


def hand_findings(
    measured: TravelMeasurement, wanted: int, about: Channel, *, broke_off: bool = False
) -> list[Finding]:
    """What the hand did that leaves something unknown, each with what to do about it.

    Args:
        measured: The travel.
        wanted: How many full presses were wanted.
        about: The control, for its own limits.
        broke_off: Whether the line broke off: then no press in it is the control's failure.
    """
    if broke_off and measured.press_count == 0:
        return [said.unknown("broke-off-first")]
    if not measured.worked:
        return [said.fail("no-answer/travel")]
    found = []
    if not measured.released and measured.press_count == 0:
        found.append(said.fail("never-released"))
    elif not measured.released:
        found.append(said.caution("ended-in-hand"))
    if not measured.starts_at_rest:
        found.append(said.caution("began-in-hand"))
    if measured.half:
        found.append(said.caution("half-pressed/travel", float(measured.half)))
    if measured.unheld:
        found.append(said.caution("not-held", float(measured.unheld)))
    if not measured.fast_enough:
        found.append(said.caution("logger-slow", measured.rate_hz))
    if measured.press_count < wanted:
        few = measured.press_count < limit("fewest_presses", about)
        severity = Severity.UNKNOWN if few else Severity.CAUTION
        found.append(
            said.finding(severity, "few-presses", float(measured.press_count), float(wanted))
        )
    return found


def direction_findings(
    measured: TravelMeasurement, was_reversed: bool | None, about: Channel
) -> list[Finding]:
    """Whether it is sure which end is rest: mistaken, the dead band would give power hands-off.

    Args:
        measured: The travel.
        was_reversed: The sense in the last good record; None without one.
        about: The control, for its own limits.
    """
    if measured.rest is None or measured.full is None or not measured.presses:
        return []
    if was_reversed is not None and was_reversed != measured.reversed:
        return [said.fail("direction-changed")]
    if not measured.reversed:
        return []
    push_s = float(np.median([press.full_s - press.leave_s for press in measured.presses]))
    return_s, most_s = measured.return_median_s or 0.0, limit("spring_ratio", about) * push_s
    if was_reversed is None and return_s > most_s:
        why = f"what looks like its return is slower ({return_s:.2f} s) than the press"
        return [which_end_finding(why, return_s, most_s, "s")]
    return [reversed_finding()]


def which_end_finding(
    why: str, value: float, most: float, unit: str, name: str | None = None
) -> Finding:
    """A control of which nobody can say which end is rest.

    Args:
        why: What speaks against the end at which it stood first.
        value: The figure of that.
        most: What it is held against.
        unit: The unit of both.
        name: The control, where a finding must say which one it is about.
    """
    return said.unknown(
        "which-end-is-rest",
        value,
        most,
        channel=name,
        unit=unit,
        name=name or "the control",
        why=why,
    )


def reversed_finding(name: str | None = None) -> Finding:
    """A control that works backwards, and no record that says whether it is meant to.

    Args:
        name: The control, where a finding must say which one it is about.
    """
    return said.caution("reversed", channel=name, name=name or "The control")


def signal_findings(
    measured: TravelMeasurement, about: Channel, supply: Supply, *, second_track: bool = False
) -> list[Finding]:
    """What the signal itself says: return, span, drop-outs, a stuck rail.

    The span of a second track is judged by the first track's, and no least one is asked of it.
    """
    found = []
    slowest_s = measured.return_max_s
    slow_s, fail_s = limit("return_slow_s", about), limit("return_fail_s", about)
    if slowest_s is not None and slowest_s > slow_s:
        found.append(
            said.finding(
                Severity.FAIL if slowest_s > fail_s else Severity.CAUTION,
                "return-slow",
                slowest_s,
                fail_s if slowest_s > fail_s else slow_s,
            )
        )
    if measured.glitches or measured.dropouts:
        found.append(
            said.caution(
                "drop-outs",
                float(measured.glitches + measured.dropouts),
                0.0,
                glitches=measured.glitches,
                dropouts=measured.dropouts,
            )
        )
    found += _wander(measured, limit("wander_pct", about))
    span_V = measured.span_V
    # The limit is written for 5 V, and what a sensor gives goes with what feeds it.
    least_V = limit("span_low_V", about) * supply.volts / ASSUMED_V
    if span_V is not None and span_V < least_V and not second_track:
        found.append(said.caution("span-short/travel", span_V, least_V))
    found += _pinned(measured, about)
    return found


def _wander(measured: TravelMeasurement, most_pct: float) -> list[Finding]:
    """Rest that drifts through the capture, or that lies elsewhere after a release."""
    span_V = measured.span_V or 0.0
    limit_V = most_pct / 100.0 * span_V
    found = []
    drift_V = measured.drift_V
    if drift_V is not None and abs(drift_V) > limit_V:
        found.append(said.caution("rest-drifts/travel", drift_V, limit_V, mV=1000.0 * drift_V))
    after_V = measured.hysteresis_V
    if after_V is not None and drift_V is None and abs(after_V) > limit_V:
        found.append(said.caution("rest-after-release", after_V, limit_V, mV=1000.0 * after_V))
    return found


def _pinned(measured: TravelMeasurement, about: Channel) -> list[Finding]:
    """A level that stands at the converter's rail is not a level."""
    ends = rails(about)
    if ends is None:
        return []
    code_V = step(about) or 0.0
    found = []
    for word, level in (("rest", measured.rest), ("full travel", measured.full)):
        if level is None:
            continue
        if min(abs(level.mean - ends[0]), abs(level.mean - ends[1])) < code_V:
            found.append(said.fail("clips/travel", level.mean, word=word))
    return found


def ends_are_sure(findings: list[Finding]) -> bool:
    """Whether it is known which level is rest and which is full travel."""
    unsure = {
        "broke-off-first",
        "no-answer",
        "never-released",
        "which-end-is-rest",
        "direction-changed",
    }
    return not any(finding.code in unsure for finding in findings)


def band_findings(numbers: TravelNumbers) -> list[Finding]:
    """What the values to type in leave open: no travel between them, no room for a broken wire."""
    band, window = numbers.band, numbers.window
    if window is None:
        return []  # a limit is unknown, and that was said
    found = []
    if band is None:
        found.append(said.fail("no-travel-left"))
    if window.unreadable_V is not None:
        found.append(said.caution("beyond-the-logger", unreadable_V=window.unreadable_V))
    if window.low_V is None or (window.high_V is None and window.unreadable_V is None):
        side = "below rest" if window.low_V is None else "above full travel"
        room_V = window.room_low_V if window.low_V is None else window.room_high_V
        found.append(said.caution("no-fault-room", max(room_V, 0.0), side=side))
    return found


def summary_finding(measured: TravelMeasurement, band: DeadBand | None, about: Channel) -> Finding:
    """The finding that says what was reached."""
    if band is None:
        return said.unknown("travel-measured")
    enough = measured.press_count >= limit("fewest_presses", about)
    return Finding(
        code="travel-measured",
        severity=Severity.PASS if enough else Severity.UNKNOWN,
        text="Rest and full travel measured over "
        f"{counted(measured.press_count, 'full press', 'full presses')}."
        + ("" if enough else " That is too few to promise anything."),
        action="" if enough else "Work it at least three times, better five.",
        value=float(measured.press_count),
    )
