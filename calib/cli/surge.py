"""``calib surge``: false pitch from shaking fore and aft."""

from __future__ import annotations

from typing import Annotated

from calib.cli.flow import Flow
from calib.cli.options import Shared, ShownStep, Whole, option, shared
from calib.errors import UsageError
from calib.store.plausible import SHOWN_DEG, Usual


@shared()
def command(
    shared: Shared,
    stroke_mm: Annotated[float | None, option("N", kind=Usual(1.0, 2000.0, "mm"))],
    strokes: Annotated[int | None, option("N", kind=Whole(3, 1000))],
    over_s: Annotated[float | None, option("S", kind=Usual(1.0, 600.0, "s"))],
    shown_most: Annotated[float | None, option("A", kind=SHOWN_DEG)],
    shown_step_deg: ShownStep,
) -> int:
    """Find how much false pitch a push makes, and whether the sensor tells it from a tilt.

    Upright on level ground, drive disabled: let it stand, push and pull it fore and aft at frame
    or seat a hand's breadth each way for five seconds, let it stand.

    Options:
        --stroke-mm: Without an accelerometer: how far it was pushed there and back.
        --strokes: How often.
        --over-s: In how many seconds.
        --shown-most: How far the controller's display went from rest while you shook.
    """
    from calib.checks.tilt.surge import judge_shown_surge, judge_surge
    from calib.guide.cautions import TILT_CAUTIONS
    from calib.guide.tilt import SurgeWatch
    from calib.tilt.inputs import find_inputs
    from calib.tilt.surge import Strokes

    flow = Flow(shared, "surge", TILT_CAUTIONS, tilt=True)
    counted = None
    if stroke_mm is not None and strokes is not None and over_s is not None:
        counted = Strokes(stroke_mm, strokes, over_s)
    elif (stroke_mm, strokes, over_s) != (None, None, None):
        raise UsageError.of("shake-by-halves")
    if shown_most is None:
        capture = flow.capture(
            lambda person, line: SurgeWatch(person, find_inputs(flow.rig, line.columns)),
            "push and pull it fore and aft",
        )
        document = judge_surge(capture, flow.rig, flow.cautions, strokes=counted)
        return flow.end(document, [capture])
    if counted is None:
        raise UsageError.of("shown-without-shake")
    document = judge_shown_surge(
        flow.rig, flow.cautions, most_deg=shown_most, step_deg=shown_step_deg, strokes=counted
    )
    return flow.end(document)
