"""Whether the controller, after typing in, shows what it should; and what the wheel did."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal

import msgspec

from calib.checks.file.validity import Filed
from calib.checks.order import judged
from calib.measure.uncertainty import coverage_factor
from calib.store.documents import said
from calib.store.documents.finding import Finding
from calib.store.documents.sheet import ShownFigure, VerifyDocument
from calib.store.documents.travel import DeadBand, LevelFigures, TravelDocument

Creep = Literal["still", "creeps"]
Figure = Literal["start", "end", "rest", "full"]

CREEP_S = 10
"""Own choice, because a motor that creeps shows it within a few seconds of a free wheel."""


@dataclass(frozen=True, slots=True)
class Answers:
    """What the display shows for one control, in its volts, and what the wheel did; None if unread.

    Attributes:
        rest_V: The live value with the hand off.
        full_V: The live value at full travel.
        start_V: The setting at which the control begins to act.
        end_V: The setting from which it acts in full.
        creep: What the wheel did in ten seconds with the hand off.
        unplugged_between: Whether the tap came off after the travel was measured.
    """

    rest_V: float | None = None
    full_V: float | None = None
    start_V: float | None = None
    end_V: float | None = None
    creep: Creep | None = None
    unplugged_between: bool = field(default=False, kw_only=True)


def verify(
    filed: Filed, channel: str, answers: Answers, cautions: tuple[str, ...] = ()
) -> VerifyDocument:
    """Hold what the controller shows against the travel on file.

    Args:
        filed: What is on file.
        channel: The control.
        answers: What was read off the display and seen of the wheel.
        cautions: What stands on the page.
    """
    validity = filed.validity(TravelDocument, channel=channel)
    document = validity.believed
    comparisons: tuple[ShownFigure, ...] = ()
    if document is not None and document.dead_band is not None:
        band = document.dead_band
        step_V = band.step or filed.rig.rig.setting_step_V
        document = msgspec.structs.replace(document, acts=filed.rig.acts(channel))
        comparisons = tuple(_comparisons(document, band, answers, step_V))
        found = [*map(_compared_finding, comparisons), *_margin_findings(document, answers)]
    else:
        why = f" {validity.why}" if validity.why else ""
        found = [said.unknown("no-travel/verify", channel=channel, why=why)]
    findings = [*found, *_wheel_findings(answers)]
    return VerifyDocument(
        **judged(findings, cautions),
        channel=channel,
        travel=None if validity.record is None else validity.record.id,
        comparisons=comparisons,
        creep=answers.creep,
        unplugged_between=answers.unplugged_between,
    )


def _comparisons(
    document: TravelDocument, band: DeadBand, shown: Answers, step_V: float
) -> Iterator[ShownFigure]:
    """Settings to the step that was typed; live values as well as either side can tell."""
    half_V = step_V / 2 + 1e-9
    rest, full, wording = document.rest, document.full, document.wording
    figures: list[tuple[Figure, str, float, float | None, float]] = [
        ("start", wording.start, band.start, shown.start_V, half_V),
        ("end", wording.end, band.end, shown.end_V, half_V),
    ]
    if document.basis == "logger":  # else its own volts decided, and the means are on no such scale
        if rest is not None:
            allowed_V = _allowed_V(rest, step_V)
            figures.append(("rest", "rest", rest.mean, shown.rest_V, allowed_V))
        if full is not None:
            allowed_V = _allowed_V(full, step_V)
            figures.append(("full", "full travel", full.mean, shown.full_V, allowed_V))
    for figure, name, expected_V, shown_V, allowed_V in figures:
        if shown_V is not None:
            yield ShownFigure(
                figure=figure, name=name, expected=expected_V, shown=shown_V, allowed=allowed_V
            )


def _allowed_V(level: LevelFigures, step_V: float) -> float:
    """How far a live value may lie from the mean that the logger measured, V.

    Source: JCGM 100:2008, G.4; the display's step after F.2.2.1.
    """
    dof = math.inf if level.dof is None else level.dof
    return coverage_factor(dof) * math.hypot(level.u, level.sd_between, step_V / math.sqrt(12))


def _compared_finding(comparison: ShownFigure) -> Finding:
    apart_V, allowed_V = comparison.shown - comparison.expected, comparison.allowed
    if comparison.figure in ("rest", "full"):
        return said.within("level-shown", "level-shown/apart", apart_V, allowed_V, read=comparison)
    if comparison.agrees:
        return said.passes("setting-shown", apart_V, allowed_V, read=comparison)
    return said.fail("setting-shown/other", apart_V, allowed_V, read=comparison)


def _margin_findings(document: TravelDocument, shown: Answers) -> said.Findings:
    """Rest before the start, full travel beyond the end: on the controller's own scale."""
    rest_V, start_V, end_V, full_V = shown.rest_V, shown.start_V, shown.end_V, shown.full_V
    if rest_V is None or full_V is None or start_V is None or end_V is None:
        yield said.unknown("not-read")
        return
    direction = -1.0 if document.reversed else 1.0
    effect = document.wording.effect
    before_V, beyond_V = direction * (start_V - rest_V), direction * (full_V - end_V)
    if before_V > 0.0:
        yield said.passes("rest-before-start", before_V, 0.0, effect=effect)
    else:
        by_V = abs(before_V)
        yield said.fail("rest-before-start/acts", before_V, 0.0, effect=effect, by_V=by_V)
    if beyond_V > 0.0:
        yield said.passes("full-beyond-end", beyond_V, 0.0, effect=effect)
    else:
        by_V = abs(beyond_V)
        yield said.fail("full-beyond-end/short", beyond_V, 0.0, effect=effect, by_V=by_V)


def _wheel_findings(answers: Answers) -> said.Findings:
    """What the wheel did with the hand off, and whether that was with the wire as measured."""
    if answers.creep is None:
        yield said.unknown("creep", seconds=CREEP_S)
    elif answers.creep == "still":
        yield said.passes("creep/still", seconds=CREEP_S)
    else:
        yield said.fail("creep/turned")
    if answers.unplugged_between:
        yield said.caution("wire-changed")
