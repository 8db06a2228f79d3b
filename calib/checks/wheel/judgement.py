"""The document of one run of ``calib wheel``: what was turned, rolled, shown, and what follows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from calib.checks.limits import limit_of_all
from calib.checks.order import judged
from calib.checks.wheel.turned import Turned, judge_turned, pulses_over_way
from calib.measure.coverage import COVERAGE, KNOWN_FACTOR
from calib.store.capture import Capture
from calib.store.documents import said
from calib.store.documents.finding import budget_lines
from calib.store.documents.wheel import RolledFigures, ShownFigures, ShownSpeed, WheelDocument
from calib.store.rig import Rig
from calib.wheel.rolling import Rolled, circumference, turns_mm, way_mm
from calib.wheel.shown import (
    AT_KMH,
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

    kind: Literal["trip", "speed"] | None = None
    shown: float = 0.0
    step: float = 0.0
    true: float | None = None
    u_true: float = 0.0
    set_pulses: float | None = None
    set_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of a wheel, by this run or by an earlier one that still stands.

    Attributes:
        pulses_a_turn: Of a turning; None without one.
        mm: Circumference of a rolling, mm; None without one.
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


USUAL_MM = 2000.0
"""Circumference for which folding is told where none was measured, mm. Own choice: a wheel of 25
inches."""


def judge_wheel(run: WheelRun, rig: Rig, cautions: tuple[str, ...]) -> WheelDocument:
    """The document of one run.

    Args:
        run: What was done.
        rig: What the columns are, and the user's own limits.
        cautions: The usual cautions of the flow.

    Raises:
        UsageError: There is no such channel or column, or it cannot be counted over a way.
    """
    turned, rolled = _turned(run, rig), _rolled(run.tape)
    per = run.known.pulses_a_turn if turned is None else turned.pulses_a_turn
    mm, u_mm = (run.known.mm, run.known.u_mm) if rolled is None else (rolled.mm, rolled.budget.u)
    found = Known(per, mm, u_mm)
    a_metre = _a_metre(run, rig, found)
    shown = _shown(run, found)
    folds_kmh = _folds_from_kmh(run, turned, found)
    findings = [
        *(() if turned is None else turned.findings),
        *(() if rolled is None or run.tape is None else _rolled_findings(run.tape, rolled, rig)),
        *_metre_findings(run, a_metre, folds_kmh, per),
        *_shown_findings(run.display, shown, found),
    ]
    head = judged(findings, cautions, None if run.capture is None else run.capture.ref())
    good = head["verdict"].is_good
    told = found if good else Known()
    value, u = a_metre if a_metre is not None and good else (None, None)
    return WheelDocument(
        **head,
        channel=run.channel,
        pulses_a_turn=told.pulses_a_turn,
        circumference_mm=told.mm,
        u_mm=told.u_mm,
        expanded_mm=_expanded(rolled, told.u_mm),
        coverage=None if told.mm is None else COVERAGE,
        pulses_a_metre=value,
        u_pulses_a_metre=u,
        folds_from_kmh=folds_kmh,
        turned=None if turned is None else turned.figures,
        rolled=None if rolled is None or run.tape is None else _rolled_figures(run.tape, rolled),
        shown=shown,
        shown_at=tuple(_at(each, shown) for each in AT_KMH) if shown is not None and good else (),
    )


def _turned(run: WheelRun, rig: Rig) -> Turned | None:
    """What turning gave; nothing where a count was logged over a way without turns."""
    if run.capture is None or run.channel is None:
        return None
    if run.tape is not None and run.turns is None:
        return None
    return judge_turned(run.capture, rig, run.channel, run.turns)


def _rolled(tape: Tape | None) -> Rolled | None:
    if tape is None or tape.turns is None:
        return None
    return circumference(tape.ways_m, tape.turns, seated=tape.seated)


def _expanded(rolled: Rolled | None, u_mm: float | None) -> float | None:
    if u_mm is None:
        return None
    return KNOWN_FACTOR * u_mm if rolled is None else rolled.budget.expanded()


def _rolled_figures(tape: Tape, rolled: Rolled) -> RolledFigures:
    return RolledFigures(
        ways_m=tape.ways_m,
        turns=tape.turns or 0.0,
        seated=tape.seated,
        rider_mm=rolled.rider_mm,
        budget=budget_lines(rolled.budget),
    )


def _rolled_findings(tape: Tape, rolled: Rolled, rig: Rig) -> said.Findings:
    wheels = rig.with_role("wheel").values()
    least, most = limit_of_all("wheel_least_mm", wheels), limit_of_all("wheel_most_mm", wheels)
    if not least <= rolled.mm <= most:
        end, how = (least, "little") if rolled.mm < least else (most, "far")
        way_m = sum(tape.ways_m) / len(tape.ways_m)
        yield said.unknown(
            "circumference-odd", rolled.mm, end, way_m=way_m, turns=tape.turns, far_or_little=how
        )
        return
    if rolled.apart_mm > rolled.allowed_apart_mm:
        yield said.unknown("ways-differ", rolled.apart_mm, rolled.allowed_apart_mm)
        return
    if not tape.seated:
        yield said.passes("rider-not-on", rolled.rider_mm)
    yield said.passes("circumference", rolled.mm, half=rolled.budget.expanded(), rolled=rolled)


def _a_metre(run: WheelRun, rig: Rig, found: Known) -> tuple[float, float] | None:
    """Pulses a metre and their u: counted over a way, or of a turn and its way."""
    tape = run.tape
    if tape is not None and tape.turns is None and run.capture is not None and run.channel:
        pulses = pulses_over_way(run.capture, rig, run.channel)
        return pulses_a_metre(pulses, *way_mm(tape.ways_m[0]), loose_pulses=1.0)
    if found.pulses_a_turn is None or found.mm is None or found.u_mm is None:
        return None
    return pulses_a_metre(found.pulses_a_turn, found.mm, found.u_mm)


def _folds_from_kmh(run: WheelRun, turned: Turned | None, found: Known) -> float | None:
    """Speed from which this level hides pulses, km/h; None for a count, or where none is known."""
    if turned is None or turned.figures is None or turned.figures.unit != "level":
        return None
    rate_hz = None if run.capture is None else run.capture.rate_hz
    if found.pulses_a_turn is None or rate_hz is None:
        return None
    return folds_from_kmh(rate_hz, found.pulses_a_turn, found.mm or USUAL_MM)


def _metre_findings(
    run: WheelRun, a_metre: tuple[float, float] | None, folds_kmh: float | None, per: int | None
) -> said.Findings:
    """What comes of a turn's pulses and its way."""
    if a_metre is not None:
        yield said.passes("pulses-a-metre", a_metre[0], half=KNOWN_FACTOR * a_metre[1])
    if folds_kmh is not None and run.capture is not None:
        yield said.passes("pulses-fold", folds_kmh, rate_hz=run.capture.rate_hz, per=per)


def _true_way(run: WheelRun, found: Known) -> tuple[float, float] | None:
    """The way behind a trip, mm, and its u: by the tape, or by turns of a known wheel."""
    if run.tape is not None:
        return way_mm(sum(run.tape.ways_m))
    if run.turns is None or found.mm is None or found.u_mm is None:
        return None
    return turns_mm(run.turns, found.mm, found.u_mm)


def _shown(run: WheelRun, found: Known) -> ShownFigures | None:
    """What was shown over what is true; nothing where that cannot be told."""
    display = run.display
    if display is None:
        return None
    if display.kind == "trip":
        way = _true_way(run, found)
        if way is None:
            return None
        true, u_true, reads = way[0] / 1000.0, way[1] / 1000.0, 2
    elif display.kind == "speed" and display.true is not None:
        true, u_true, reads = display.true, display.u_true, 1
    else:
        return _of_settings(display, found)
    factor, u = shown_over_true(display.shown, display.step, true, u_true, reads)
    return ShownFigures(kind=display.kind, factor=factor, u=u, shown=display.shown, true=true)


def _of_settings(display: Display, found: Known) -> ShownFigures | None:
    """What a display must show by what is set; None where a figure of it is not known."""
    if display.set_pulses is None or display.set_mm is None:
        return None
    per, mm, u_mm = found.pulses_a_turn, found.mm, found.u_mm
    if per is None or mm is None or u_mm is None:
        return None
    factor, u = factor_of_settings(display.set_pulses, display.set_mm, per, mm, u_mm)
    return ShownFigures(kind="settings", factor=factor, u=u)


def _shown_findings(
    display: Display | None, shown: ShownFigures | None, found: Known
) -> said.Findings:
    if display is None:
        return
    if shown is None:
        wanted = "circumference" if display.kind == "trip" else "pulses a turn and circumference"
        yield said.unknown("nothing-true", wanted=wanted)
        return
    by_settings = None if display.kind is None else _of_settings(display, found)
    if by_settings is not None:
        explained = KNOWN_FACTOR * shown.u + 0.01 * by_settings.factor
        if abs(shown.factor - by_settings.factor) > explained:
            yield said.unknown("shown-contradicts", shown.factor, by_settings.factor)
    off_pct, half_pct = 100.0 * (shown.factor - 1.0), 100.0 * KNOWN_FACTOR * shown.u
    speeds = ", ".join(f"{shown.factor * each:.1f} km/h at {each:g}" for each in AT_KMH)
    if abs(off_pct) <= half_pct:
        yield said.passes("speed-shown", off_pct, half_pct, speeds=speeds)
    elif found.pulses_a_turn is None or found.mm is None:
        yield said.caution("speed-shown/not-measured", off_pct, half_pct, speeds=speeds)
    else:
        yield said.caution("speed-shown/off", off_pct, half_pct, speeds=speeds)
    allowed = all(within_r39(shown.factor * each, each) for each in AT_KMH)
    yield said.passes("speed-rule", does="does" if allowed else "does not")


def _at(true_kmh: float, shown: ShownFigures) -> ShownSpeed:
    shown_kmh = shown.factor * true_kmh
    return ShownSpeed(
        true_kmh=true_kmh,
        shown_kmh=shown_kmh,
        expanded_kmh=KNOWN_FACTOR * shown.u * true_kmh,
        within_r39=within_r39(shown_kmh, true_kmh),
    )
