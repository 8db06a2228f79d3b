"""Whether the controller, after typing in, shows what it should; and what the wheel did."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import msgspec

from calib.checks.file.standing import Evidence, Standing
from calib.checks.order import in_order
from calib.measure.uncertainty import coverage_factor
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity, worst
from calib.store.documents.sheet import Comparison, VerifyDocument
from calib.store.documents.travel import DeadBand, LevelFigures, TravelDocument

CREEP_S = 10
"""Own choice, because a motor that creeps shows it within a few seconds of a free wheel."""


@dataclass(frozen=True, slots=True)
class Shown:
    """What the controller's display shows for one control, in its volts; None where not read.

    Attributes:
        rest_V: The live value with the hand off.
        full_V: The live value at full travel.
        start_V: The setting at which the control begins to act.
        end_V: The setting from which it acts in full.
    """

    rest_V: float | None = None
    full_V: float | None = None
    start_V: float | None = None
    end_V: float | None = None


def verify(
    evidence: Evidence,
    channel: str,
    shown: Shown,
    *,
    creep: Literal["still", "creeps"] | None = None,
    unplugged_between: bool = False,
    cautions: tuple[str, ...] = (),
) -> VerifyDocument:
    """Hold what the controller shows against the travel on file.

    Args:
        evidence: What is on file.
        channel: The control.
        shown: What the display shows.
        creep: What the wheel did in ten seconds with the hand off.
        unplugged_between: Whether the tap came off after the travel was measured.
        cautions: What stands on the page.
    """
    standing = evidence.standing(TravelDocument, channel=channel)
    document = standing.document
    comparisons: tuple[Comparison, ...] = ()
    if standing.is_good and document is not None and document.dead_band is not None:
        band = document.dead_band
        step_V = band.step or evidence.rig.rig.setting_step_V
        document = msgspec.structs.replace(document, acts=evidence.rig.acts(channel))
        comparisons = tuple(_comparisons(document, band, shown, step_V))
        findings = [
            *(_settings(comparison) for comparison in comparisons),
            *_margins(document, shown),
        ]
    else:
        findings = [_no_travel(channel, standing)]
    findings.append(_creep(creep))
    if unplugged_between:
        findings.append(_UNPLUGGED)
    return VerifyDocument(
        verdict=worst(finding.severity for finding in findings),
        findings=in_order(findings),
        cautions=cautions,
        channel=channel,
        travel=None if standing.record is None else standing.record.id,
        comparisons=comparisons,
        creep=creep,
        unplugged_between=unplugged_between,
    )


def _comparisons(
    document: TravelDocument, band: DeadBand, shown: Shown, step_V: float
) -> Iterator[Comparison]:
    """Settings to the step that was typed; live values as well as either side can tell."""
    half_V = step_V / 2 + 1e-9
    if shown.start_V is not None:
        yield _compared("start", document.wording.start, band.start, shown.start_V, half_V)
    if shown.end_V is not None:
        yield _compared("end", document.wording.end, band.end, shown.end_V, half_V)
    if document.basis == "controller":
        return  # its own volts decided the dead band; the logger's means are not on that scale
    if document.rest is not None and shown.rest_V is not None:
        allowed_V = _allowed_V(document.rest, step_V)
        yield _compared("rest", "rest", document.rest.mean, shown.rest_V, allowed_V)
    if document.full is not None and shown.full_V is not None:
        allowed_V = _allowed_V(document.full, step_V)
        yield _compared("full", "full travel", document.full.mean, shown.full_V, allowed_V)


def _compared(
    figure: Literal["start", "end", "rest", "full"],
    name: str,
    expected_V: float,
    shown_V: float,
    allowed_V: float,
) -> Comparison:
    return Comparison(
        figure=figure, name=name, expected=expected_V, shown=shown_V, allowed=allowed_V
    )


def _allowed_V(level: LevelFigures, step_V: float) -> float:
    """How far a live value may lie from the mean that the logger measured, V.

    Source: JCGM 100:2008, G.4; the display's step after F.2.2.1.
    """
    dof = math.inf if level.dof is None else level.dof
    return coverage_factor(dof) * math.hypot(level.u, level.sd_between, step_V / math.sqrt(12))


def _settings(comparison: Comparison) -> Finding:
    is_setting = comparison.figure in ("start", "end")
    apart_V = comparison.shown - comparison.expected
    if comparison.agrees:
        severity, text, action = Severity.PASS, "as it should be", ""
    elif is_setting:
        severity, text = Severity.FAIL, f"and the sheet says {comparison.expected:.3f} V"
        action = "Type it in again; if the controller rounds, run travel with its setting step."
    else:
        severity = Severity.CAUTION
        text = f"{apart_V:+.3f} V from what the logger measured: they do not count alike"
        action = "Run travel again with --shown-rest and --shown-full, and type in its values."
    return Finding(
        code="setting-shown" if is_setting else "level-shown",
        severity=severity,
        text=f"The controller shows {comparison.shown:.3f} V for {comparison.name}, {text}.",
        value=apart_V,
        limit=comparison.allowed,
        unit="V",
        action=action,
    )


def _margins(document: TravelDocument, shown: Shown) -> Iterator[Finding]:
    """Rest before the start, full travel beyond the end: on the controller's own scale."""
    direction = -1.0 if document.reversed else 1.0
    effect = document.wording.effect
    rest_V, start_V, end_V, full_V = shown.rest_V, shown.start_V, shown.end_V, shown.full_V
    if rest_V is None or full_V is None or start_V is None or end_V is None:
        yield said.unknown("not-read")
        return
    for end, margin_V, bad, good, action in (
        (
            "rest",
            direction * (start_V - rest_V),
            f"At rest the controller already sees {effect}",
            f"At rest the controller sees no {effect}",
            "Do not turn the wheel. Measure again and type in a start beyond rest.",
        ),
        (
            "full",
            direction * (full_V - end_V),
            f"At full travel the controller does not reach full {effect}",
            f"At full travel the controller is at full {effect}",
            "Measure again and type in an end that full travel passes.",
        ),
    ):
        failed = margin_V <= 0
        yield Finding(
            code="rest-before-start" if end == "rest" else "full-beyond-end",
            severity=Severity.FAIL if failed else Severity.PASS,
            text=f"{bad if failed else good}, by {abs(margin_V):.3f} V.",
            value=margin_V,
            limit=0.0,
            unit="V",
            action=action if failed else "",
        )


def _no_travel(channel: str, standing: Standing[TravelDocument]) -> Finding:
    return Finding(
        code="no-travel",
        severity=Severity.UNKNOWN,
        text=f"There is no good travel of {channel} to hold it against. {standing.why}".strip(),
        action=f"Run 'calib travel {channel}'.",
        channel=channel,
    )


def _creep(creep: Literal["still", "creeps"] | None) -> Finding:
    if creep == "still":
        return said.passes("creep/sheet", CREEP_S=CREEP_S)
    if creep == "creeps":
        return said.fail("creep/creep")
    return said.unknown("creep", CREEP_S=CREEP_S)


_UNPLUGGED = said.caution("wire-changed")
