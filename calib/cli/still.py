"""``calib still``: noise and drift of a channel at rest."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from calib.cli.options import Shared, shared
from calib.cli.quantity import Quantity
from calib.cli.tilt_options import shown_step_option
from calib.store.plausible import SHOWN_DEG, Usual

if TYPE_CHECKING:
    from calib.store.capture import Capture
    from calib.store.rig import Rig


@click.command()
@click.argument("channel", required=False)
@shared()
@click.option(
    "--for",
    "duration_s",
    type=Quantity(Usual(30.0, 86_400.0, "s")),
    default=600.0,
    show_default=True,
    metavar="S",
    help="Seconds of rest.",
)
@click.option(
    "--shown",
    nargs=3,
    type=Quantity(SHOWN_DEG),
    metavar="A B C",
    help="The controller's display: at the start, at the end, and from lowest to highest.",
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
    from calib.checks.tilt.still import ShownRest, judge_shown_still, judge_still
    from calib.cli.clock import now
    from calib.cli.output import finish
    from calib.cli.tilting import captures_in
    from calib.guide.cautions import LISTEN_CAUTIONS
    from calib.show.still import show_still
    from calib.store.records import Subject, save_record
    from calib.tilt.inputs import tilt_channels

    rig = shared.rig()
    if channel is not None:
        rig.channel(channel)
    captures: tuple[Capture, ...] = ()
    if shown is not None:
        rest = ShownRest(shown[0], shown[1], shown[2], duration_s, shown_step_deg)
        document = judge_shown_still(rest, rig, LISTEN_CAUTIONS)
    else:
        captures = (
            (_live(shared, rig, channel, duration_s),)
            if shared.from_file is None
            else captures_in((shared.from_file,), shared, rig, command="still")
        )
        document = judge_still(captures[0], rig, channel, LISTEN_CAUTIONS)
    subject = Subject("still", channel, tilt=channel is None or channel in tilt_channels(rig.plain))
    save_record(shared.folder, rig, document, subject, now=now(), captures=captures)
    return finish(document, show_still, as_json=shared.as_json, onward=shared)


def _live(shared: Shared, rig: Rig, channel: str | None, duration_s: float) -> Capture:
    """The rest, live."""
    from calib.cli.clock import host_clock_s, now
    from calib.cli.session import live_line, person_at
    from calib.guide.capturing import capture_until
    from calib.guide.recording import RestWatch, gauges_for
    from calib.store.capture import read_capture
    from calib.tilt.inputs import find_inputs

    with person_at(shared) as person, live_line(rig, person) as line:
        names = (channel,) if channel else find_inputs(rig, line.columns).names
        watch = RestWatch(
            person,
            gauges_for(rig, line.columns, names),
            duration_s=duration_s,
            clock=host_clock_s,
        )
        path = capture_until(line, rig, shared.folder, watch, command="still", now=now())
    return read_capture(path)
