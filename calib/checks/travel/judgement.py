"""From a capture of a control's presses to the document of its travel."""

from __future__ import annotations

import math
from collections.abc import Sequence

from calib.checks.capture import capture_findings
from calib.checks.order import judged
from calib.checks.travel import findings as of_travel
from calib.checks.travel.dead_travel import dead_travel_findings
from calib.checks.travel.evenings import evening_findings, over_evenings
from calib.checks.travel.numbers import TravelSettings as TravelSettings
from calib.checks.travel.numbers import measured_in, require_both_shown, supply_of, travel_numbers
from calib.checks.travel.two_track import second_track_findings
from calib.controls.scale_budget import AllowedLevel
from calib.controls.supply import Supply
from calib.controls.travel import LevelMeasurement
from calib.measure.uncertainty import COVERAGE, coverage_factor
from calib.store.capture import Capture
from calib.store.conversion import require_volts
from calib.store.documents import travel as figures
from calib.store.documents.finding import budget_lines
from calib.store.documents.travel import LevelFigures, ReturnTime, TravelDocument
from calib.store.rig import Rig
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
    direction = tuple(of_travel.direction_findings(measured, was_reversed, about))
    findings = [
        *capture_findings(capture, rig),
        *of_travel.hand_findings(measured, settings.presses, about, broke_off=broke_off),
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
            *of_travel.signal_findings(measured, about, supply, second_track=second_track),
            *evening_findings(rest, evenings),
            *second_track_findings(capture, rig, channel, measured),
            *of_travel.value_findings(numbers, settings, about),
            *dead_travel_findings(measured, numbers, about),
        ]
    findings.append(
        of_travel.summary_finding(measured, None if numbers is None else numbers.band, about)
    )
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
