"""``calib travel``: rest, full travel, dead band and fault window of a control."""

from __future__ import annotations

from calib.cli.flow import Flow, now
from calib.cli.options import Shared, Whole, channel_argument, condition_option, option, shared
from calib.store.plausible import SHOWN_V, Usual

CONTENT = Usual(0.5, 0.99999)
CONFIDENCE = Usual(0.5, 0.9999)
FLOOR_PCT = Usual(0.0, 25.0, "per cent")
"""Own choices: whatever makes sense of each, with room."""


@shared(example="throttle --presses 10")
@channel_argument()
@option("--presses N", "Full presses to count before it stops.", Whole(3, 200), default=5)
@option("--content P", "Share of future readings that a limit must hold.", CONTENT, default=0.999)
@option("--confidence P", "How sure the limit must be of that.", CONFIDENCE, default=0.95)
@option("--floor-pct P", "Least dead travel at rest, per cent of the span.", FLOOR_PCT, default=3.0)
@option("--shown-rest V", "What the controller shows at rest.", SHOWN_V, name="shown_rest_V")
@option("--shown-full V", "What the controller shows at full travel.", SHOWN_V, name="shown_full_V")
@option(
    "--shown-step V",
    "Step of the controller's display; else the setting step.",
    Usual(0.0001, 1.0, "V"),
    name="shown_step_V",
)
@option(
    "--temperature-span K",
    "How much warmer or colder the limits shall hold; 5 K unless given.",
    Usual(0.0, 60.0, "K"),
    name="temperature_span_K",
)
@condition_option
def command(
    shared: Shared,
    channel: str,
    presses: int,
    condition: str | None,
    **given: float | None,
) -> int:
    """Find what a control sends at rest and at full travel, and where the dead band goes.

    Press all the way, hold for a second, let go for a second, at your own pace. calib counts, and
    stops by itself when it has enough.
    """
    from calib.checks.travel.evenings import evenings_before
    from calib.checks.travel.judgement import TravelSettings, judge_travel, travel_columns
    from calib.checks.travel.numbers import require_both_shown
    from calib.guide.cautions import CONTROL_CAUTIONS
    from calib.guide.hand import Others
    from calib.guide.recording import gauge_for
    from calib.guide.travel import TravelWatch
    from calib.store.documents.travel import TravelDocument

    flow = Flow(shared, "travel", CONTROL_CAUTIONS, channel=channel, condition=condition)
    flow.rig.control(channel)
    columns = travel_columns(flow.rig, channel)
    settings = TravelSettings(
        presses=presses, **{key: value for key, value in given.items() if value is not None}
    )
    require_both_shown(settings)
    capture = flow.capture(
        lambda person, line: TravelWatch(
            person,
            gauge_for(flow.rig, line.columns, channel),
            Others(flow.rig, line.columns, channel),
            presses,
        ),
        f"work {channel} by hand",
        columns=columns,
    )
    evidence = flow.filed()
    good = evidence.good(TravelDocument, channel)
    before = evidence.comparable(TravelDocument, channel=channel)
    document = judge_travel(
        capture,
        flow.rig,
        channel,
        settings,
        flow.cautions,
        earlier=None if before is None else before[1],
        evenings=evenings_before(good, capture.started_at or now(), condition),
    )
    return flow.end(document, [capture])
