"""From a capture of a control's presses to the document of its travel."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from calib.checks.capture import capture_findings
from calib.checks.limits import limit
from calib.checks.order import judged
from calib.checks.travel.dead_travel import dead_travel_findings
from calib.checks.travel.evenings import evening_findings, over_evenings
from calib.checks.travel.numbers import (
    TravelNumbers,
    TravelSettings,
    inner_limits_V,
    measured_in,
    require_both_shown,
    supply_of,
    travel_numbers,
)
from calib.checks.travel.two_track import second_track_findings
from calib.controls.scale_budget import AllowedLevel, doubt_outside_V, outside_V, scale_components
from calib.controls.shown_scale import disagreements
from calib.controls.supply import ASSUMED_V, Supply
from calib.controls.travel import LevelMeasurement, TravelMeasurement
from calib.controls.values import FaultWindow
from calib.measure.coverage import COVERAGE
from calib.measure.uncertainty import budget, coverage_factor
from calib.store.capture import Capture
from calib.store.conversion import rails, require_volts, step
from calib.store.documents import said
from calib.store.documents import travel as figures
from calib.store.documents.finding import Finding, Severity, budget_lines
from calib.store.documents.travel import DeadBand, LevelFigures, ReturnTime, TravelDocument
from calib.store.rig import Channel, Rig
from calib.store.samples import EventKind


def travel_columns(rig: Rig, channel: str) -> tuple[str | int, ...]:
    """The columns that a control's travel is judged from: its own, its rail's, its second track's.

    Raises:
        UsageError: There is no such channel, or it carries no voltage.
    """
    about = rig.channel(channel)
    require_volts(channel, about)
    beside = (name for name in (about.supply, about.second_track) if name is not None)
    return (about.column, *(rig.channel(name).column for name in beside))


def judge_travel(
    capture: Capture,
    rig: Rig,
    channel: str,
    settings: TravelSettings,
    cautions: tuple[str, ...],
    *,
    earlier: TravelDocument | None = None,
    evenings: Sequence[TravelDocument] = (),
) -> TravelDocument:
    """The document of one control from its capture.

    Args:
        capture: Presses and releases of the control.
        rig: What the columns are.
        channel: The control.
        settings: What the person set.
        cautions: The usual cautions of the flow.
        earlier: The last good document of this control, for the sense in which it worked.
        evenings: Its good documents of earlier evenings, one an evening.

    Raises:
        UsageError: The channel or its column does not exist.
    """
    about = rig.channel(channel)
    require_both_shown(settings)
    capture = capture.where_present(travel_columns(rig, channel))
    measured = measured_in(capture, rig, channel, settings)
    broke_off = any(event.kind is EventKind.CUT for event in capture.events)
    was_reversed = None if earlier is None else earlier.reversed
    direction = tuple(direction_findings(measured, was_reversed, about))
    findings = [
        *capture_findings(capture, rig),
        *hand_findings(measured, settings.presses, about, broke_off=broke_off),
        *direction,
    ]
    numbers, supply = None, supply_of(rig, channel, capture)
    rest, full = measured.rest, measured.full
    ends_are_sure = all(finding.severity.is_good for finding in direction)
    if rest is not None and full is not None and ends_are_sure:
        alike = [each for each in evenings if each.reversed == measured.hand.reversed]
        rest, full = over_evenings(rest, full, alike)
        numbers = travel_numbers(measured, rest, full, rig, channel, settings, supply)
        second_track = channel not in rig.worked_controls()
        findings += [
            *signal_findings(measured, about, supply, second_track=second_track),
            *evening_findings(rest, evenings),
            *second_track_findings(capture, rig, channel, measured),
            *value_findings(numbers, settings, about),
            *dead_travel_findings(measured, numbers, about),
        ]
    findings.append(summary_finding(measured, None if numbers is None else numbers.band, about))
    head = judged(findings, cautions, capture.ref())
    # Values to type in go with a good verdict only.
    typed = numbers if head["verdict"].is_good else None
    fed = figures.SupplyFigures(volts=supply.volts, origin=supply.origin)
    return TravelDocument(
        **head,
        channel=channel,
        acts=rig.acts(channel),
        acts_assumed=rig.acts_assumed(channel),
        rest=_figures(rest, None if numbers is None else numbers.rest, supply),
        full=_figures(full, None if numbers is None else numbers.full, supply)
        if measured.hand.presses
        else None,
        presses=measured.hand.count,
        reversed=measured.hand.reversed,
        dead_band=None if typed is None else typed.band,
        fault_window=None
        if typed is None or typed.window is None
        else figures.FaultWindow(low=typed.window.low_V, high=typed.window.high_V),
        supply=None if numbers is None else fed,
        return_s=ReturnTime(median=measured.return_median_s, max=measured.return_max_s)
        if capture.has_clock
        else ReturnTime(median=None, max=None),
        budget=() if numbers is None else budget_lines(numbers.rest.budget),
        budget_full=() if numbers is None else budget_lines(numbers.full.budget),
        basis="logger" if numbers is None else numbers.basis,
        advice=() if typed is None else typed.advice,
        still_range=measured.hand.plateaus.still_range,
        still_window_s=measured.hand.plateaus.window_s,
    )


def _figures(
    level: LevelMeasurement | None, allowed: AllowedLevel | None, supply: Supply
) -> LevelFigures | None:
    """One end; a level or a limit that no wire of this supply can read is unknown."""
    if level is None or not supply.holds(level.mean):
        return None
    spread, limits = level.spread, level.limits
    u, dof = spread.u, max(spread.plateaus - 1.0, 1.0)
    if allowed is not None:
        u, dof = allowed.budget.u, allowed.budget.dof
    return LevelFigures(
        mean=spread.mean,
        sd_within=spread.sd_within,
        sd_between=spread.sd_between,
        plateaus=spread.plateaus,
        samples=spread.samples,
        n_effective=spread.n_effective,
        limit_low=limits.low if supply.holds(limits.low) else None,
        limit_high=limits.high if supply.holds(limits.high) else None,
        u=u,
        dof=dof if math.isfinite(dof) else None,
        expanded=coverage_factor(dof) * u,
        coverage=COVERAGE,
        levels=tuple(spread.means.tolist()),
    )


def hand_findings(
    measured: TravelMeasurement, wanted: int, about: Channel, *, broke_off: bool = False
) -> said.Findings:
    """What the hand did that leaves something unknown, each with what to do about it.

    Args:
        measured: The travel.
        wanted: How many full presses were wanted.
        about: The control, for its own limits.
        broke_off: Whether the line broke off: then no press in it is the control's failure.
    """
    presses = measured.hand.count
    if broke_off and presses == 0:
        yield said.unknown("broke-off-first")
        return
    if not measured.hand.worked:
        yield said.fail("no-answer/travel")
        return
    if not measured.hand.released:
        yield said.fail("never-released") if presses == 0 else said.caution("ended-in-hand")
    if not measured.hand.starts_at_rest:
        yield said.caution("began-in-hand")
    if measured.hand.half:
        yield said.caution("half-pressed/travel", float(measured.hand.half))
    if measured.hand.unheld:
        yield said.caution("not-held", float(measured.hand.unheld))
    if not measured.hand.plateaus.fast_enough:
        yield said.caution("logger-slow", measured.hand.plateaus.rate_hz)
    if presses < wanted:
        few = presses < limit("fewest_presses", about)
        severity = Severity.UNKNOWN if few else Severity.CAUTION
        yield said.finding(severity, "few-presses", float(presses), float(wanted))


def direction_findings(
    measured: TravelMeasurement, was_reversed: bool | None, about: Channel
) -> said.Findings:
    """Whether it is sure which end is rest: mistaken, the dead band would give power hands-off.

    It is not sure where what is found is worse than a caution.

    Args:
        measured: The travel.
        was_reversed: The sense in the last good record; None without one.
        about: The control, for its own limits.
    """
    if measured.rest is None or measured.full is None or not measured.hand.presses:
        return
    if was_reversed is not None and was_reversed != measured.hand.reversed:
        yield said.fail("direction-changed/travel")
    elif measured.hand.reversed:
        push_s = float(np.median([press.full_s - press.leave_s for press in measured.hand.presses]))
        return_s, most_s = measured.return_median_s or 0.0, limit("spring_ratio", about) * push_s
        if was_reversed is None and return_s > most_s:
            why = f"what looks like its return is slower ({return_s:.2f} s) than the press"
            yield said.unknown(
                "which-end-is-rest", return_s, most_s, unit="s", name="the control", why=why
            )
        else:
            yield said.caution("reversed", name="The control")


def signal_findings(
    measured: TravelMeasurement, about: Channel, supply: Supply, *, second_track: bool = False
) -> said.Findings:
    """What the signal itself says: return, span, drop-outs, a stuck rail.

    The span of a second track is judged by the first track's, and no least one is asked of it.
    """
    slowest_s = measured.return_max_s
    slow_s, fail_s = limit("return_slow_s", about), limit("return_fail_s", about)
    if slowest_s is not None and slowest_s > fail_s:
        yield said.fail("return-slow", slowest_s, fail_s)
    elif slowest_s is not None and slowest_s > slow_s:
        yield said.caution("return-slow", slowest_s, slow_s)
    glitches, dropouts = measured.glitches, measured.dropouts
    if glitches or dropouts:
        count = float(glitches + dropouts)
        yield said.caution("drop-outs", count, 0.0, glitches=glitches, dropouts=dropouts)
    yield from _wander_findings(measured, limit("wander_pct", about))
    span_V = measured.span_V
    # The limit is written for 5 V, and what a sensor gives goes with what feeds it.
    least_V = limit("span_low_V", about) * supply.volts / ASSUMED_V
    if not second_track:
        yield from said.below("span-short/travel", span_V, least_V)
    ends_V, code_V = rails(about), step(about) or 0.0
    for word, level in (("rest", measured.rest), ("full travel", measured.full)):
        # A level that stands at the converter's rail is not a level.
        if ends_V and level and min(abs(level.mean - end_V) for end_V in ends_V) < code_V:
            yield said.fail("clips/travel", level.mean, word=word)


def _wander_findings(measured: TravelMeasurement, most_pct: float) -> said.Findings:
    """Rest that drifts through the capture, or that lies elsewhere after a release."""
    limit_V = most_pct / 100.0 * (measured.span_V or 0.0)
    drift_V, after_V = measured.drift_V, measured.hysteresis_V
    if drift_V is not None and abs(drift_V) > limit_V:
        yield said.caution("rest-drifts/travel", drift_V, limit_V)
    if after_V is not None and drift_V is None and abs(after_V) > limit_V:
        yield said.caution("rest-after-release", after_V, limit_V)


def value_findings(
    numbers: TravelNumbers, settings: TravelSettings, about: Channel
) -> said.Findings:
    """What the values to type in rest on, and what they leave open.

    Args:
        numbers: The values.
        settings: What the person set.
        about: The control, for its truing and its own limits.
    """
    yield from _beyond_findings(numbers)
    supply = numbers.knowledge.supply
    if supply.origin == "assumed":
        yield said.passes("supply-assumed", supply.volts)
    yield said.passes("temperature-span", settings.temperature_span_K)
    yield from _shown_findings(numbers, settings, limit("scales_far_pct", about))
    if numbers.shown is None:
        yield from outside_findings(about, numbers.rest, numbers.full, numbers.band)
    if numbers.window is not None:  # else a limit is unknown, and that was said
        yield from _room_findings(numbers.band, numbers.window)


def _beyond_findings(numbers: TravelNumbers) -> said.Findings:
    """Levels that the supply cannot bring about, else limits that no wire can read."""
    supply, ends = numbers.knowledge.supply, (("Rest", numbers.rest), ("Full travel", numbers.full))
    impossible = [each for each in ends if not supply.holds(each[1].level.mean)]
    for word, level in impossible:
        mean_V = level.level.mean
        yield said.unknown("level-impossible", mean_V, word=word, beyond=supply.beyond(mean_V))
    if impossible:
        return
    inner_V = inner_limits_V(numbers.rest, numbers.full)
    for (word, level), limit_V in zip(ends, inner_V, strict=True):
        if not supply.holds(limit_V):
            beyond, mean_V = supply.beyond(limit_V), float(level.mean_V)
            yield said.unknown("limit-outside", mean_V, word=word.lower(), beyond=beyond)


def _shown_findings(
    numbers: TravelNumbers, settings: TravelSettings, far_pct: float
) -> said.Findings:
    """Whether the controller's own volts and the logger's can be reconciled."""
    shown = numbers.shown
    if shown is None:
        if settings.shown_rest_V is not None:
            yield said.unknown("shown-values-odd")
        return
    u_rest, u_full = (
        budget(scale_components(level_V, numbers.knowledge)).u
        for level_V in (shown.rest.mean_V, shown.full.mean_V)
    )
    for one in disagreements(shown, u_logger_rest_V=u_rest, u_logger_full_V=u_full):
        level_V = (shown.rest if one.at == "rest" else shown.full).mean_V
        far = abs(one.difference_V) > far_pct / 100.0 * level_V
        severity = Severity.UNKNOWN if far else Severity.CAUTION
        yield said.finding(severity, "scales-disagree", one.difference_V, one.allowed_V, at=one.at)


def outside_findings(
    about: Channel, rest: AllowedLevel, full: AllowedLevel, band: DeadBand | None
) -> said.Findings:
    """Whether the values to type in lie where the logger was held against a meter.

    Args:
        about: The control, for its truing and its own limits.
        rest: Rest with its allowance, trued volts.
        full: Full travel likewise.
        band: The values to type in; None where there is no travel left.
    """
    scale = about.scale
    if scale is None:
        return
    if scale.from_V is None or scale.to_V is None:
        yield said.caution("trued-range-unknown")
        return
    for word, mean_V, limit_V in (
        ("rest", rest.mean_V, rest.mean_V if band is None else band.start),
        ("full travel", full.mean_V, full.mean_V if band is None else band.end),
    ):
        limit_out_V = 0.0 if band is None else outside_V(limit_V, scale)
        mean_out_V = outside_V(mean_V, scale)
        if limit_out_V <= 0.0 and mean_out_V <= limit("taped_end_V", about):
            continue
        farthest_V = mean_V if mean_out_V >= limit_out_V else limit_V
        doubt_V, most_V = doubt_outside_V(farthest_V, scale), limit("outside_trued_V", about)
        severity = Severity.UNKNOWN if doubt_V > most_V else Severity.CAUTION
        yield said.finding(
            severity, "outside-trued", doubt_V, most_V, word=word, at_V=farthest_V, scale=scale
        )


def _room_findings(band: DeadBand | None, window: FaultWindow) -> said.Findings:
    """No travel between the values, no room for a broken wire."""
    if band is None:
        yield said.fail("no-travel-left")
    if window.unreadable_V is not None:
        yield said.caution("beyond-the-logger", unreadable_V=window.unreadable_V)
    if window.low_V is None:
        yield said.caution("no-fault-room", max(window.room_low_V, 0.0), side="below rest")
    elif window.high_V is None and window.unreadable_V is None:
        yield said.caution("no-fault-room", max(window.room_high_V, 0.0), side="above full travel")


def summary_finding(measured: TravelMeasurement, band: DeadBand | None, about: Channel) -> Finding:
    """The finding that says what was reached."""
    if band is None:
        return said.unknown("travel-measured/no-value")
    presses = float(measured.hand.count)
    if presses < limit("fewest_presses", about):
        return said.unknown("travel-measured/too-few", presses)
    return said.passes("travel-measured", presses)
