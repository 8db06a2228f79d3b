"""``calib surge``: false pitch from shaking fore and aft."""

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
    from calib.tilt.surge import Strokes


@click.command()
@shared()
@click.option(
    "--stroke-mm",
    type=Quantity(Usual(1.0, 2000.0, "mm")),
    metavar="N",
    help="Without an accelerometer: how far it was pushed there and back.",
)
@click.option("--strokes", type=click.IntRange(3, 1000), metavar="N", help="How often.")
@click.option(
    "--over-s", type=Quantity(Usual(1.0, 600.0, "s")), metavar="S", help="In how many seconds."
)
@click.option(
    "--shown-most",
    type=Quantity(SHOWN_DEG),
    metavar="A",
    help="How far the controller's display went from rest while you shook.",
)
@shown_step_option
def command(
    shared: Shared,
    stroke_mm: float | None,
    strokes: int | None,
    over_s: float | None,
    shown_most: float | None,
    shown_step_deg: float,
) -> int:
    """Find how much false pitch a push makes, and whether the sensor tells it from a tilt.

    Upright on level ground, drive disabled: let it stand, push and pull it fore and aft at frame
    or seat a hand's breadth each way for five seconds, let it stand.
    """
    from calib.checks.tilt.surge import judge_shown_surge, judge_surge
    from calib.cli.on_file import keep_tilt
    from calib.cli.output import finish
    from calib.cli.tilting import captures_in
    from calib.guide.cautions import TILT_CAUTIONS
    from calib.show.surge import show_surge

    rig = shared.rig()
    counted = _counted(stroke_mm, strokes, over_s)
    captures: tuple[Capture, ...] = ()
    if shown_most is not None:
        document = judge_shown_surge(
            rig,
            TILT_CAUTIONS,
            most_deg=shown_most,
            step_deg=shown_step_deg,
            strokes=_needed(counted),
        )
    else:
        captures = (
            (_live(shared, rig),)
            if shared.from_file is None
            else captures_in((shared.from_file,), shared, rig, command="surge")
        )
        document = judge_surge(captures[0], rig, TILT_CAUTIONS, strokes=counted)
    keep_tilt(shared, rig, document, command="surge", captures=captures)
    return finish(document, show_surge, as_json=shared.as_json, onward=shared)


def _counted(stroke_mm: float | None, strokes: int | None, over_s: float | None) -> Strokes | None:
    """The shake as the person counted it."""
    from calib.errors import UsageError
    from calib.tilt.surge import Strokes

    if stroke_mm is None and strokes is None and over_s is None:
        return None
    if stroke_mm is None or strokes is None or over_s is None:
        raise UsageError(
            "A counted shake needs its stroke, its count and its time.",
            "Give --stroke-mm N, --strokes N and --over-s S together.",
        )
    return Strokes(stroke_mm, strokes, over_s)


def _needed(counted: Strokes | None) -> Strokes:
    """The counted shake, which a display alone cannot do without."""
    from calib.errors import UsageError

    if counted is None:
        raise UsageError(
            "What the display showed says nothing without the shake.",
            "Give --stroke-mm N, --strokes N and --over-s S with --shown-most.",
        )
    return counted


def _live(shared: Shared, rig: Rig) -> Capture:
    """The shake with the person."""
    from calib.cli.clock import host_clock_s
    from calib.cli.session import person_at
    from calib.cli.tilting import Listener
    from calib.guide.tilt import SurgeWatch
    from calib.store.capture import read_capture

    with (
        person_at(shared) as person,
        Listener(
            shared, rig, person, command="surge", about="push and pull it fore and aft"
        ) as listener,
    ):
        path = listener.capture(lambda inputs: SurgeWatch(person, inputs, clock=host_clock_s))
    return read_capture(path)
