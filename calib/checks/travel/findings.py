"""What is said of a control's measured travel: of the hand, the signal, and the values."""

from __future__ import annotations

import numpy as np

from calib.checks.limits import limit
from calib.checks.travel.numbers import TravelNumbers
from calib.controls.deadband import DeadBand
from calib.controls.supply import ASSUMED_V, Supply
from calib.controls.travel import TravelMeasurement
from calib.store.conversion import rails, step
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
        return [
            Finding(
                code="broke-off-first",
                severity=Severity.UNKNOWN,
                text="The line broke off before one press was complete; nothing is known of the "
                "control.",
                action="Mend cable and plug, then run it again.",
            )
        ]
    if not measured.worked:
        return [
            Finding(
                code="no-answer",
                severity=Severity.FAIL,
                text="The control never moved.",
                action="Press all the way. If you did: wrong channel, or its signal wire is off.",
            )
        ]
    found = []
    if not measured.released and measured.press_count == 0:
        found.append(
            Finding(
                code="never-released",
                severity=Severity.FAIL,
                text="The control never came back to rest.",
                action="Let go between presses, hand off for a second. If you did: it sticks.",
            )
        )
    elif not measured.released:
        found.append(
            Finding(
                code="ended-in-hand",
                severity=Severity.CAUTION,
                text="The capture ends with the control held; that press does not count.",
                action="Let go before the capture ends. If you did: it sticks.",
            )
        )
    if not measured.starts_at_rest:
        found.append(
            Finding(
                code="began-in-hand",
                severity=Severity.CAUTION,
                text="The capture began with the control held.",
                action="Begin with the hand off.",
            )
        )
    if measured.half:
        found.append(
            Finding(
                code="half-pressed",
                severity=Severity.CAUTION,
                text=f"{counted(measured.half, 'press', 'presses')} turned back before full "
                "travel: not counted.",
                value=float(measured.half),
                action="If full travel was meant, press to the stop; see whether something is in "
                "the way.",
            )
        )
    if measured.unheld:
        found.append(
            Finding(
                code="not-held",
                severity=Severity.CAUTION,
                text=f"{counted(measured.unheld, 'press', 'presses')} not held at full travel: "
                "not counted.",
                value=float(measured.unheld),
                action="Hold each for half a second.",
            )
        )
    if not measured.fast_enough:
        found.append(
            Finding(
                code="logger-slow",
                severity=Severity.CAUTION,
                text=f"The logger sends {measured.rate_hz:.3g} samples a second: a short hold "
                "has too few of them.",
                value=measured.rate_hz,
                unit="Hz",
                action="Hold each press for two seconds, or set the logger faster.",
            )
        )
    if measured.press_count < wanted:
        few = measured.press_count < limit("fewest_presses", about)
        severity = Severity.UNKNOWN if few else Severity.CAUTION
        found.append(
            Finding(
                code="few-presses",
                severity=severity,
                text=f"{counted(measured.press_count, 'full press', 'full presses')} counted; "
                f"{wanted} were wanted.",
                value=float(measured.press_count),
                limit=float(wanted),
                action="Capture again and work the control more often.",
            )
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
        return [
            Finding(
                code="direction-changed",
                severity=Severity.FAIL,
                text="Rest and full travel have changed places since the last good record.",
                action="Look for swapped supply and ground at the sensor; or the capture began "
                "with the control held: then begin with the hand off.",
            )
        ]
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
    return Finding(
        code="which-end-is-rest",
        severity=Severity.UNKNOWN,
        text=f"Either {name or 'the control'} is reversed or it was held when the capture began: "
        f"{why}.",
        value=value,
        limit=most,
        unit=unit,
        action="Begin with the hand off, press slowly, let go at once.",
        channel=name,
    )


def reversed_finding(name: str | None = None) -> Finding:
    """A control that works backwards, and no record that says whether it is meant to.

    Args:
        name: The control, where a finding must say which one it is about.
    """
    return Finding(
        code="reversed",
        severity=Severity.CAUTION,
        text=f"{name or 'The control'} is reversed: rest reads higher than full travel.",
        action="Legal, but the controller must be told. If it was not so before, look for "
        "swapped supply and ground, or a turned magnet.",
        channel=name,
    )


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
            Finding(
                code="return-slow",
                severity=Severity.FAIL if slowest_s > fail_s else Severity.CAUTION,
                text=f"The slowest return from full travel to rest took {slowest_s:.2f} s.",
                value=slowest_s,
                limit=fail_s if slowest_s > fail_s else slow_s,
                unit="s",
                action="Let go at once and let it snap back; if you did, look for cable drag, "
                "dirt or a weak spring.",
            )
        )
    if measured.glitches or measured.dropouts:
        found.append(
            Finding(
                code="drop-outs",
                severity=Severity.CAUTION,
                text=f"{counted(measured.glitches, 'glitch', 'glitches')} and "
                f"{counted(measured.dropouts, 'drop-out')} while the control stood still; they "
                "are not part of the averages.",
                value=float(measured.glitches + measured.dropouts),
                limit=0.0,
                action="Wiggle plug and wire by hand while 'calib watch' runs.",
            )
        )
    found += _wander(measured, limit("wander_pct", about))
    span_V = measured.span_V
    # The limit is written for 5 V, and what a sensor gives goes with what feeds it.
    least_V = limit("span_low_V", about) * supply.volts / ASSUMED_V
    if span_V is not None and span_V < least_V and not second_track:
        found.append(
            Finding(
                code="span-short",
                severity=Severity.CAUTION,
                text=f"Rest and full travel are only {span_V:.2f} V apart.",
                value=span_V,
                limit=least_V,
                unit="V",
                action="Check the magnet, the stop and the sensor's 5 V; a dying sensor looks "
                "like this.",
            )
        )
    found += _pinned(measured, about)
    return found


def _wander(measured: TravelMeasurement, most_pct: float) -> list[Finding]:
    """Rest that drifts through the capture, or that lies elsewhere after a release."""
    span_V = measured.span_V or 0.0
    limit_V = most_pct / 100.0 * span_V
    found = []
    drift_V = measured.drift_V
    if drift_V is not None and abs(drift_V) > limit_V:
        found.append(
            Finding(
                code="rest-drifts",
                severity=Severity.CAUTION,
                text=f"Rest drifted by {1e3 * drift_V:+.0f} mV from the first release to the last.",
                value=drift_V,
                limit=limit_V,
                unit="V",
                action="Let it warm up and measure again: the limit is for the drift seen so far.",
            )
        )
    after_V = measured.hysteresis_V
    if after_V is not None and drift_V is None and abs(after_V) > limit_V:
        found.append(
            Finding(
                code="rest-after-release",
                severity=Severity.CAUTION,
                text=f"After a release rest lies {1e3 * after_V:+.0f} mV from where it began.",
                value=after_V,
                limit=limit_V,
                unit="V",
                action="Look for cable drag or a weak spring; the first rest may have been another "
                "hand's.",
            )
        )
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
            found.append(
                Finding(
                    code="clips",
                    severity=Severity.FAIL,
                    text=f"At {word} the logger's input is stuck at its rail ({level.mean:.2f} V).",
                    value=level.mean,
                    unit="V",
                    action="The true voltage is beyond what the logger can read: fit a divider, "
                    "or look for a broken wire.",
                )
            )
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
        found.append(
            Finding(
                code="no-travel-left",
                severity=Severity.FAIL,
                text="The spread of rest and full travel leaves no travel between them.",
                action="Find what makes the readings wander before typing in anything.",
            )
        )
    if window.unreadable_V is not None:
        found.append(
            Finding(
                code="beyond-the-logger",
                severity=Severity.CAUTION,
                text=f"A broken-wire threshold above full travel would lie at "
                f"{window.unreadable_V:.2f} V, beyond what this logger can read: it names none.",
                action="Fit a divider, so that the logger sees the whole supply.",
            )
        )
    if window.low_V is None or (window.high_V is None and window.unreadable_V is None):
        side = "below rest" if window.low_V is None else "above full travel"
        room_V = window.room_low_V if window.low_V is None else window.room_high_V
        found.append(
            Finding(
                code="no-fault-room",
                severity=Severity.CAUTION,
                text=f"There is no room for a broken-wire threshold {side}.",
                value=max(room_V, 0.0),
                unit="V",
                action="A broken wire on that side cannot be told from a hand by voltage.",
            )
        )
    return found


def summary_finding(measured: TravelMeasurement, band: DeadBand | None, about: Channel) -> Finding:
    """The finding that says what was reached."""
    if band is None:
        return Finding(
            code="travel-measured",
            severity=Severity.UNKNOWN,
            text="Rest and full travel are not both known, so there is no value to type in.",
            action="See the findings, then run 'calib travel' again.",
        )
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
