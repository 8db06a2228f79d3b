"""``calib still``: noise and drift of a channel at rest."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from calib.cli.flow import Flow
from calib.cli.options import ChannelIfAny, Shared, ShownStep, option, shared
from calib.store.plausible import SHOWN_DEG, Usual

if TYPE_CHECKING:
    from calib.guide.protocols import Line, Person


@shared(example="--for 300")
def command(
    shared: Shared,
    channel: ChannelIfAny,
    duration_s: Annotated[float, option("--for S", kind=Usual(30.0, 86_400.0, "s"), default=600.0)],
    shown: Annotated[tuple[float, float, float] | None, option("A B C", kind=SHOWN_DEG, nargs=3)],
    shown_step_deg: ShownStep,
) -> int:
    """Find how long to average a channel and how far it wanders; pitch without CHANNEL.

    Leave it alone until the bell: nobody near it, no fan, no door.

    Options:
        --for: Seconds of rest.
        --shown: The controller's display: at the start, at the end, and from lowest to highest.
    """
    from calib.checks.tilt.still import judge_shown_still, judge_still
    from calib.guide.cautions import LISTEN_CAUTIONS
    from calib.guide.recording import RestWatch, gauges_for
    from calib.tilt.inputs import find_inputs

    flow = Flow(shared, "still", LISTEN_CAUTIONS, channel=channel, tilt=channel is None)
    if channel is not None:
        flow.rig.channel(channel)
        flow.tilt = channel in flow.rig.plain.tilt_channels

    def begin(person: Person, line: Line) -> RestWatch:
        names = (channel,) if channel else find_inputs(flow.rig, line.columns).names
        gauges = gauges_for(flow.rig, line.columns, names)
        return RestWatch(person, gauges, duration_s)

    if shown is not None:
        document = judge_shown_still(shown, duration_s, shown_step_deg, flow.rig, flow.cautions)
        return flow.end(document)
    capture = flow.capture(begin)
    return flow.end(judge_still(capture, flow.rig, channel, flow.cautions), [capture])
