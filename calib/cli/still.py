"""``calib still``: noise and drift of a channel at rest."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calib.cli.flow import Flow
from calib.cli.options import Shared, channel_argument, option, shared, shown_step_option
from calib.store.plausible import SHOWN_DEG, Usual

if TYPE_CHECKING:
    from calib.guide.protocols import Line, Person


@shared(example="--for 300")
@channel_argument(required=False)
@option("--for S", "Seconds of rest.", Usual(30.0, 86_400.0, "s"), name="duration_s", default=600.0)
@option(
    "--shown A B C",
    "The controller's display: at the start, at the end, and from lowest to highest.",
    SHOWN_DEG,
    nargs=3,
)
@shown_step_option
def command(
    shared: Shared,
    channel: str | None,
    duration_s: float,
    shown: tuple[float, float, float] | None,
    shown_step_deg: float,
) -> int:
    """Find how long to average a channel and how far it wanders; pitch without CHANNEL.

    Leave it alone until the bell: nobody near it, no fan, no door.
    """
    from calib.checks.tilt.still import judge_shown_still, judge_still
    from calib.guide.cautions import LISTEN_CAUTIONS
    from calib.guide.recording import RestWatch, gauges_for
    from calib.tilt.inputs import find_inputs, tilt_channels

    flow = Flow(shared, "still", LISTEN_CAUTIONS, channel=channel, tilt=channel is None)
    if channel is not None:
        flow.rig.channel(channel)
        flow.tilt = channel in tilt_channels(flow.rig.plain)

    def begin(person: Person, line: Line) -> RestWatch:
        names = (channel,) if channel else find_inputs(flow.rig, line.columns).names
        gauges = gauges_for(flow.rig, line.columns, names)
        return RestWatch(person, gauges, duration_s)

    if shown is not None:
        own = flow.rig, flow.cautions
        return flow.end(judge_shown_still(shown, duration_s, shown_step_deg, *own))
    capture = flow.capture(begin)
    return flow.end(judge_still(capture, flow.rig, channel, flow.cautions), [capture])
