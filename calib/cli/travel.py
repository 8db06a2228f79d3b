"""``calib travel``: rest, full travel, dead band and fault window of a control."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from calib.cli.flow import Flow, now
from calib.cli.options import ChannelName, Condition, Shared, Whole, option, shared
from calib.store.plausible import SHOWN_V, Usual

if TYPE_CHECKING:
    from calib.guide.protocols import Line, Person

CONTENT = Usual(0.5, 0.99999)
CONFIDENCE = Usual(0.5, 0.9999)
FLOOR_PCT = Usual(0.0, 25.0, "per cent")
SPAN_K = Usual(0.0, 60.0, "K")
"""Own choices: whatever makes sense of each, with room."""


@shared(example="throttle --presses 10")
def command(
    shared: Shared,
    channel: ChannelName,
    presses: Annotated[int, option("N", kind=Whole(3, 200), default=5)],
    content: Annotated[float, option("P", kind=CONTENT, default=0.999)],
    confidence: Annotated[float, option("P", kind=CONFIDENCE, default=0.95)],
    floor_pct: Annotated[float, option("P", kind=FLOOR_PCT, default=3.0)],
    shown_rest_V: Annotated[float | None, option("--shown-rest V", kind=SHOWN_V)],
    shown_full_V: Annotated[float | None, option("--shown-full V", kind=SHOWN_V)],
    shown_step_V: Annotated[float | None, option("--shown-step V", kind=Usual(0.0001, 1.0, "V"))],
    temperature_span_K: Annotated[float | None, option("--temperature-span K", kind=SPAN_K)],
    condition: Condition,
) -> int:
    """Find what a control sends at rest and at full travel, and where the dead band goes.

    Press all the way, hold for a second, let go for a second, at your own pace. calib counts, and
    stops by itself when it has enough.

    Options:
        --presses: Full presses to count before it stops.
        --content: Share of future readings that a limit must hold.
        --confidence: How sure the limit must be of that.
        --floor-pct: Least dead travel at rest, per cent of the span.
        --shown-rest: What the controller shows at rest.
        --shown-full: What the controller shows at full travel.
        --shown-step: Step of the controller's display; else the setting step.
        --temperature-span: How much warmer or colder the limits shall hold; 5 K unless given.
    """
    from calib.checks.travel.evenings import evenings_before
    from calib.checks.travel.judgement import judge_travel, travel_columns
    from calib.checks.travel.numbers import TravelSettings, require_both_shown
    from calib.controls.scale_budget import TEMPERATURE_SPAN_K
    from calib.guide.cautions import CONTROL_CAUTIONS
    from calib.guide.hand import Others
    from calib.guide.recording import gauge_for
    from calib.guide.travel import TravelWatch
    from calib.store.documents.travel import TravelDocument

    flow = Flow(shared, "travel", CONTROL_CAUTIONS, channel=channel, condition=condition)
    flow.rig.control(channel)
    columns = travel_columns(flow.rig, channel)
    settings = TravelSettings(
        presses=presses,
        content=content,
        confidence=confidence,
        floor_pct=floor_pct,
        shown_rest_V=shown_rest_V,
        shown_full_V=shown_full_V,
        shown_step_V=shown_step_V,
        temperature_span_K=TEMPERATURE_SPAN_K if temperature_span_K is None else temperature_span_K,
    )
    require_both_shown(settings)

    def begin(person: Person, line: Line) -> TravelWatch:
        gauge = gauge_for(flow.rig, line.columns, channel)
        return TravelWatch(person, gauge, Others(flow.rig, line.columns, channel), presses)

    capture = flow.capture(begin, f"work {channel} by hand", columns=columns)
    evidence = flow.filed()
    before = evidence.comparable(TravelDocument, channel=channel)
    earlier = None if before is None else before[1]
    good, began = evidence.good(TravelDocument, channel), capture.started_at or now()
    evenings = evenings_before(good, began, condition)
    document = judge_travel(
        capture, flow.rig, channel, settings, flow.cautions, earlier=earlier, evenings=evenings
    )
    return flow.end(document, [capture])
