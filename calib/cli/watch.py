"""``calib watch``: a live view of every channel."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from calib.cli.options import Shared, shared
from calib.cli.quantity import Quantity
from calib.store.plausible import DURATION_S, Usual

if TYPE_CHECKING:
    from contextlib import AbstractContextManager

    from calib.guide.protocols import Line
    from calib.guide.watching import View
    from calib.show.ruler import Ruler
    from calib.store.documents.watch import WatchDocument
    from calib.store.rig import Rig


@click.command()
@shared("port", "from_file", "out", "as_json", "isolated", "plain", "phone", "speak")
@click.option("--big", metavar="CHANNEL", help="One channel in figures for three metres.")
@click.option("--only", multiple=True, metavar="CHANNEL", help="Only these channels; repeatable.")
@click.option(
    "--for",
    "duration_s",
    type=Quantity(DURATION_S),
    metavar="S",
    help="Seconds to watch; until Ctrl-C without it.",
)
@click.option(
    "--speed",
    type=Quantity(Usual(0.0, 1e6)),
    default=1.0,
    show_default=True,
    metavar="X",
    help="How fast --from is played; 0 is as fast as it goes.",
)
@click.option("--keep", is_flag=True, help="Keep a capture of all that is watched.")
def command(
    *,
    shared: Shared,
    big: str | None,
    only: tuple[str, ...],
    duration_s: float | None,
    speed: float,
    keep: bool,
) -> int:
    """Watch every channel live, for hours, on scales that stand still.

    Each value stands on a fixed scale with labelled ends, its lowest and highest since the start at
    the right; what moved in the last seconds is marked. Controls show their dead band beneath.
    """
    from functools import partial

    from calib.cli.audience import audience
    from calib.cli.clock import host_clock_s, now
    from calib.cli.output import finish
    from calib.cli.session import ask_isolation, person_at
    from calib.errors import StoppedError
    from calib.guide.capturing import capture_until
    from calib.guide.cautions import CONTROL_CAUTIONS, isolation_card
    from calib.guide.recording import gauges_for
    from calib.guide.watching import Watching, watch
    from calib.show.scales import scale_of
    from calib.show.watch import WatchScreen, show_watch

    rig = shared.rig()
    names = [name for name in rig.channels if not only or name in only]
    for name in (*only, *([] if big is None else [big])):
        rig.channel(name)
    if shared.from_file is None:
        card = isolation_card("work controls and plugs while you watch", CONTROL_CAUTIONS)
        with person_at(shared) as person:
            ask_isolation(rig, person, card)
    scales = {name: scale_of(rig.channel(name)) for name in names}
    page = WatchScreen(scales, _rulers(shared, rig), big, plain=shared.plain, audience=audience())
    with _line(shared, rig, speed) as line, page as screen:
        gauges = gauges_for(rig, line.columns, names)
        watching = Watching(
            gauges,
            [rig.channel(gauge.name) for gauge in gauges],
            screen.show,
            duration_s=duration_s,
            clock=host_clock_s,
        )
        stopped = None
        try:
            if keep:
                capture_until(line, rig, shared.folder, watching, command="watch", now=now())
            else:
                watch(line, watching)
        except StoppedError as error:
            stopped = error
    code = finish(
        _document(watching.view), partial(show_watch, scales=scales), as_json=shared.as_json
    )
    return code if stopped is None else stopped.exit_code


def _line(shared: Shared, rig: Rig, speed: float) -> AbstractContextManager[Line]:
    """The live line, or a file played back."""
    import math
    import time
    from contextlib import nullcontext

    from calib.cli.clock import host_clock_s
    from calib.guide.watching import Paced
    from calib.link.line import open_line
    from calib.link.replay import Replay

    if shared.from_file is None:
        return open_line(rig, outlasts_s=math.inf)
    played = Replay(shared.from_file, rig)
    if speed == 0:
        return nullcontext(played)
    return nullcontext(Paced(played, speed=speed, clock=host_clock_s, sleep=time.sleep))


def _rulers(shared: Shared, rig: Rig) -> dict[str, Ruler]:
    """Rulers of the controls whose dead band is on file, in the logger's volts."""
    from calib.cli.on_file import evidence_of
    from calib.show.ruler import travel_ruler
    from calib.store.documents.travel import TravelDocument

    evidence = evidence_of(shared, rig)
    found = {
        name: evidence.comparable(TravelDocument, channel=name) for name in rig.with_role("control")
    }
    return {
        name: travel_ruler(each[1])
        for name, each in found.items()
        if each is not None and each[1].basis == "logger"
    }


def _document(view: View) -> WatchDocument:
    """What was seen; unknown where not one sample came."""
    from calib.guide.cautions import LISTEN_CAUTIONS
    from calib.store.documents.finding import Severity
    from calib.store.documents.watch import SeenRange, WatchDocument

    return WatchDocument(
        verdict=Severity.PASS if view.samples else Severity.UNKNOWN,
        cautions=LISTEN_CAUTIONS,
        channels={
            trace.reading.channel: SeenRange(
                last=trace.reading.value,
                low=trace.reading.low,
                high=trace.reading.high,
                unit=trace.reading.unit,
            )
            for trace in view.traces
        },
        samples=view.samples,
        rejected_lines=view.rejected_lines,
        gaps=view.gaps,
        resets=view.resets,
        rate_hz=view.rate_hz,
        elapsed_s=view.elapsed_s,
    )
