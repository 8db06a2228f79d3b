"""The document of one run of ``calib wheel``: what was turned, rolled, shown, and what follows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from calib.checks.limits import limit_of_all
from calib.checks.order import in_order
from calib.checks.wheel.turned import Turned, judge_turned, pulses_over_way
from calib.measure.coverage import COVERAGE, KNOWN_FACTOR
from calib.store.capture import Capture
from calib.store.documents import said
from calib.store.documents.budget import BudgetLine
from calib.store.documents.finding import Finding, Severity, worst
from calib.store.documents.wheel import RolledFigures, ShownFigures, ShownSpeed, WheelDocument
from calib.store.rig import Rig
from calib.wheel.rolling import Rolled, circumference, turns_mm, way_mm
from calib.wheel.shown import (
    AT_KMH,
    Factor,
    factor_of_settings,
    folds_from_kmh,
    pulses_a_metre,
    shown_over_true,
    within_r39,
)


@dataclass(frozen=True, slots=True)
class Tape:
    """Ways along a tape.

    Attributes:
        ways_m: Length of each, m.
        turns: Turns of each; None where a running count was logged over one way instead.
        seated: Whether the rider's weight was on.
    """

    ways_m: tuple[float, ...]
    turns: float | None
    seated: bool = False


@dataclass(frozen=True, slots=True)
class Display:
    """What a display showed against what is true, and what is set.

    Attributes:
        kind: ``trip`` or ``speed``; None where only the settings are known.
        shown: What it showed, m or km/h.
        step: Its step, in the same unit.
        true: What is true; None for a trip, whose way the tape or the turns have.
        u_true: Standard uncertainty of that.
        set_pulses: Pulses a turn that the controller has now; None where nobody said.
        set_mm: Circumference that it has now, mm; None likewise.
    """

    kind: str | None = None
    shown: float = 0.0
    step: float = 0.0
    true: float | None = None
    u_true: float = 0.0
    set_pulses: float | None = None
    set_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Known:
    """What an earlier run found that still stands.

    Attributes:
        pulses_a_turn: Of an earlier turning; None without one.
        mm: Circumference of an earlier rolling, mm; None without one.
        u_mm: Its standard uncertainty.
    """

    pulses_a_turn: int | None = None
    mm: float | None = None
    u_mm: float | None = None


@dataclass(frozen=True, slots=True)
class WheelRun:
    """What was done in one run.

    Attributes:
        channel: The wheel sensor's channel; None where no sensor was listened to.
        capture: What it sent; None likewise.
        turns: Turns by hand; None where nobody counted them.
        tape: Ways along a tape; None where it was not rolled.
        display: What a display showed; None where none was read.
        known: What stands from before.
    """

    channel: str | None = None
    capture: Capture | None = None
    turns: int | None = None
    tape: Tape | None = None
    display: Display | None = None
    known: Known = Known()


def judge_wheel(run: WheelRun, rig: Rig, cautions: tuple[str, ...]) -> WheelDocument:
    """The document of one run.

    Args:
        run: What was done.
        rig: What the columns are, and the user's own limits.
        cautions: The usual cautions of the flow.

    Raises:
        UsageError: There is no such channel or column, or it cannot be counted over a way.
    """
    findings: list[Finding] = []
    turned = _turned(run, rig)
    if turned is not None:
        findings += turned.findings
    rolled = _rolled(run)
    if run.tape is not None and rolled is not None:
        findings += _rolled_findings(run.tape, rolled, rig)
    per = run.known.pulses_a_turn if turned is None else turned.pulses_a_turn
    mm, u_mm = (run.known.mm, run.known.u_mm) if rolled is None else (rolled.mm, rolled.budget.u)
    metre = _a_metre(run, rig, per, mm, u_mm)
    if metre is not None:
        findings.append(_metre(*metre))
    shown, factor = _shown(run, per, mm, u_mm)
    if run.display is not None and factor is not None:
        findings += _shown_findings(run.display, factor, per, mm)
    elif run.display is not None:
        findings.append(_nothing_to_hold(run.display))
    rate_hz = None if run.capture is None else run.capture.rate_hz
    folds = None
    if turned is not None and turned.figures is not None and turned.figures.unit == "level":
        usual_mm = mm or USUAL_MM
        if per is not None and rate_hz is not None:
            folds = folds_from_kmh(rate_hz, per, usual_mm)
            findings.append(_folds(folds, rate_hz, per))
    verdict = worst(finding.severity for finding in findings)
    good = verdict.is_good
    return WheelDocument(
        verdict=verdict,
        findings=in_order(findings),
        cautions=cautions,
        capture=None if run.capture is None else run.capture.ref(),
        channel=run.channel,
        pulses_a_turn=per if good else None,
        circumference_mm=mm if good else None,
        u_mm=u_mm if good else None,
        expanded_mm=_expanded(rolled, u_mm) if good else None,
        coverage=COVERAGE if good and mm is not None else None,
        pulses_a_metre=metre[0] if good and metre else None,
        u_pulses_a_metre=metre[1] if good and metre else None,
        folds_from_kmh=folds,
        turned=None if turned is None else turned.figures,
        rolled=None if rolled is None or run.tape is None else _rolled_figures(run.tape, rolled),
        shown=shown,
        shown_at=() if factor is None or not good else tuple(_at(each, factor) for each in AT_KMH),
    )


USUAL_MM = 2000.0
"""Circumference for which folding is told where none was measured, mm. Own choice: a wheel of 25
inches."""


def _turned(run: WheelRun, rig: Rig) -> Turned | None:
    """What turning gave; nothing where a count was logged over a way without turns."""
    if run.capture is None or run.channel is None:
        return None
    if run.tape is not None and run.turns is None:
        return None
    return judge_turned(run.capture, rig, run.channel, run.turns)


def _rolled(run: WheelRun) -> Rolled | None:
    tape = run.tape
    if tape is None or tape.turns is None:
        return None
    return circumference(tape.ways_m, tape.turns, seated=tape.seated)


def _expanded(rolled: Rolled | None, u_mm: float | None) -> float | None:
    if rolled is not None:
        return rolled.budget.expanded()
    return None if u_mm is None else KNOWN_FACTOR * u_mm


def _rolled_figures(tape: Tape, rolled: Rolled) -> RolledFigures:
    return RolledFigures(
        ways_m=tape.ways_m,
        turns=tape.turns or 0.0,
        seated=tape.seated,
        rider_mm=rolled.rider_mm,
        budget=tuple(
            BudgetLine(source=part.source, u=part.u, type=part.kind, dof=None)
            for part in rolled.budget.components
        ),
    )


def _rolled_findings(tape: Tape, rolled: Rolled, rig: Rig) -> Iterator[Finding]:
    wheels = rig.with_role("wheel").values()
    least, most = limit_of_all("wheel_least_mm", wheels), limit_of_all("wheel_most_mm", wheels)
    if not least <= rolled.mm <= most:
        low = rolled.mm < least
        yield said.unknown(
            "circumference-odd",
            rolled.mm,
            least if low else most,
            sum=sum(tape.ways_m) / len(tape.ways_m),
            turns=tape.turns,
            low="little" if low else "far",
        )
        return
    if rolled.apart_mm > rolled.allowed_apart_mm:
        yield said.unknown("ways-differ", rolled.apart_mm, rolled.allowed_apart_mm)
        return
    if not tape.seated:
        yield said.passes("rider-not-on", rolled.rider_mm)
    half = rolled.budget.expanded()
    yield said.passes(
        "circumference", rolled.mm, half=half, source=rolled.budget.components[0].source
    )


def _a_metre(
    run: WheelRun, rig: Rig, per: int | None, mm: float | None, u_mm: float | None
) -> tuple[float, float] | None:
    """Pulses a metre and their u: counted over a way, or of a turn and its way."""
    tape = run.tape
    if tape is not None and tape.turns is None and run.capture is not None and run.channel:
        pulses = pulses_over_way(run.capture, rig, run.channel)
        return pulses_a_metre(pulses, *way_mm(tape.ways_m[0]), loose_pulses=1.0)
    if per is None or mm is None or u_mm is None:
        return None
    return pulses_a_metre(per, mm, u_mm)


def _metre(value: float, u: float) -> Finding:
    return said.passes("pulses-a-metre", value, KNOWN_FACTOR=KNOWN_FACTOR * u)


def _true_way(run: WheelRun, mm: float | None, u_mm: float | None) -> tuple[float, float] | None:
    """The way behind a trip, mm, and its u: by the tape, or by turns of a known wheel."""
    if run.tape is not None:
        return way_mm(sum(run.tape.ways_m))
    if run.turns is None or mm is None or u_mm is None:
        return None
    return turns_mm(run.turns, mm, u_mm)


def _nothing_to_hold(display: Display) -> Finding:
    """A display or settings, and nothing true to hold against them."""
    wanted = "circumference" if display.kind == "trip" else "pulses a turn and circumference"
    return said.unknown("nothing-true", wanted=wanted)


def _shown(
    run: WheelRun, per: int | None, mm: float | None, u_mm: float | None
) -> tuple[ShownFigures | None, Factor | None]:
    """What was shown over what is true; nothing where that cannot be told."""
    display = run.display
    if display is None:
        return None, None
    way = _true_way(run, mm, u_mm)
    if display.kind == "trip":
        if way is None:
            return None, None
        true = way[0] / 1000.0
        factor = shown_over_true(display.shown, display.step, true, way[1] / 1000.0, reads=2)
    elif display.kind == "speed" and display.true is not None:
        true = display.true
        factor = shown_over_true(display.shown, display.step, true, display.u_true, reads=1)
    else:
        by_settings = _of_settings(display, per, mm, u_mm)
        if by_settings is None:
            return None, None
        return ShownFigures(kind="settings", factor=by_settings.value, u=by_settings.u), by_settings
    figures = ShownFigures(
        kind="trip" if display.kind == "trip" else "speed",
        factor=factor.value,
        u=factor.u,
        shown=display.shown,
        true=true,
    )
    return figures, factor


def _of_settings(
    display: Display, per: int | None, mm: float | None, u_mm: float | None
) -> Factor | None:
    """What a display must show by what is set; None where a figure of it is not known."""
    if display.set_pulses is None or display.set_mm is None:
        return None
    if per is None or mm is None or u_mm is None:
        return None
    return factor_of_settings(display.set_pulses, display.set_mm, per, mm, u_mm)


def _shown_findings(
    display: Display, factor: Factor, per: int | None, mm: float | None
) -> Iterator[Finding]:
    by_settings = _of_settings(display, per, mm, 0.0)
    if display.kind is not None and by_settings is not None:
        yield from _contradicts(factor, by_settings)
    off = 100.0 * (factor.value - 1.0)
    half = 100.0 * KNOWN_FACTOR * factor.u
    speeds = ", ".join(f"{factor.shown_kmh(each):.1f} km/h at {each:g}" for each in AT_KMH)
    explained = abs(off) <= half
    yield Finding(
        code="speed-shown",
        severity=Severity.PASS if explained else Severity.CAUTION,
        text=f"With what is set now it shows {off:+.1f} % ± {half:.1f} (95 %) off the true "
        f"speed: {speeds}.",
        value=off,
        limit=half,
        unit="%",
        action="" if explained else _type_in(per, mm),
    )
    allowed = all(within_r39(factor.shown_kmh(each), each) for each in AT_KMH)
    yield said.passes("speed-rule", allowed="does" if allowed else "does not")


def _type_in(per: int | None, mm: float | None) -> str:
    """What to do about a display that is off."""
    if per is None or mm is None:
        return (
            "Find what to type in: 'calib wheel --turns 10' for the pulses a turn, then 'calib "
            "wheel --over-turns 10' for the circumference."
        )
    return "Type in the pulses a turn and the circumference found here."


def _contradicts(shown: Factor, by_settings: Factor) -> Iterator[Finding]:
    """What a display showed that what is set cannot make it show."""
    apart = abs(shown.value - by_settings.value)
    allowed = KNOWN_FACTOR * shown.u + 0.01 * by_settings.value
    if apart > allowed:
        yield said.unknown("shown-contradicts", shown.value, by_settings.value)


def _at(true_kmh: float, factor: Factor) -> ShownSpeed:
    shown_kmh = factor.shown_kmh(true_kmh)
    return ShownSpeed(
        true_kmh=true_kmh,
        shown_kmh=shown_kmh,
        expanded_kmh=KNOWN_FACTOR * factor.u * true_kmh,
        within_r39=within_r39(shown_kmh, true_kmh),
    )


def _folds(folds_kmh: float, rate_hz: float, per: int) -> Finding:
    return said.passes("pulses-fold", folds_kmh, rate_hz=rate_hz, per=per)
