"""``calib watch``: a live view of every channel."""

from __future__ import annotations

import math
from functools import partial
from typing import TYPE_CHECKING, Annotated

from calib.cli.audience import audience
from calib.cli.flow import Flow
from calib.cli.options import LIVE, Shared, option, shared
from calib.errors import StoppedError
from calib.store.plausible import DURATION_S, Usual

if TYPE_CHECKING:
    from contextlib import AbstractContextManager

    from calib.guide.protocols import Line
    from calib.guide.watching import View
    from calib.show.ruler import Ruler
    from calib.store.documents.printed import WatchDocument


@shared("port", "from_file", "out", "as_json", *LIVE, example="--big throttle")
def command(
    shared: Shared,
    big: Annotated[str | None, option("CHANNEL")],
    only: Annotated[tuple[str, ...], option("CHANNEL", multiple=True)],
    duration_s: Annotated[float | None, option("--for S", kind=DURATION_S)],
    speed: Annotated[float, option("X", kind=Usual(0.0, 1e6), default=1.0)],
    keep: Annotated[bool, option()],
) -> int:
    """Watch every channel live, for hours, on scales that stand still.

    Each value stands on a fixed scale with labelled ends, its lowest and highest since the start at
    the right; what moved in the last seconds is marked. Controls show their dead band beneath.

    Options:
        --big: One channel in figures for three metres.
        --only: Only these channels; repeatable.
        --for: Seconds to watch; until Ctrl-C without it.
        --speed: How fast --from is played; 0 is as fast as it goes.
        --keep: Keep a capture of all that is watched.
    """
    from calib.cli.session import ask_isolation, person_at
    from calib.guide.cautions import CONTROL_CAUTIONS, LISTEN_CAUTIONS, isolation_card
    from calib.guide.recording import gauges_for
    from calib.guide.watching import Watching, watch
    from calib.show.scales import scale_of
    from calib.show.watch import WatchScreen, show_watch

    flow = Flow(shared, "watch", LISTEN_CAUTIONS)
    rig = flow.rig
    names = [name for name in rig.channels if not only or name in only]
    for name in (*only, *([] if big is None else [big])):
        rig.channel(name)
    if shared.from_file is None:
        card = isolation_card("work controls and plugs while you watch", CONTROL_CAUTIONS)
        with person_at(shared) as person:
            ask_isolation(rig, person, card)
    scales = {name: scale_of(rig.channel(name)) for name in names}
    page = WatchScreen(scales, _rulers(flow), big, plain=shared.plain, audience=audience())
    with _line(flow, speed) as line, page as screen:
        gauges = gauges_for(rig, line.columns, names)
        watching = Watching(gauges, screen.show, math.inf if duration_s is None else duration_s)
        stopped = None
        try:
            if keep:
                flow.record(line, watching)
            else:
                watch(line, watching)
        except StoppedError as error:
            stopped = error
    document = _document(watching.view, flow.cautions)
    code = flow.show(document, partial(show_watch, scales=scales))
    return code if stopped is None else stopped.exit_code


def _line(flow: Flow, speed: float) -> AbstractContextManager[Line]:
    """The live line, or a file played back."""
    from contextlib import nullcontext

    from calib.guide.watching import Paced
    from calib.link.line import open_line
    from calib.link.replay import Replay

    if flow.shared.from_file is None:
        return open_line(flow.rig, outlasts_s=math.inf)
    played = Replay(flow.shared.from_file, flow.rig)
    return nullcontext(played if speed == 0 else Paced(played, speed))


def _rulers(flow: Flow) -> dict[str, Ruler]:
    """Rulers of the controls whose dead band is on file, in the logger's volts."""
    from calib.show.ruler import travel_ruler
    from calib.store.documents.travel import TravelDocument

    evidence = flow.filed()
    rulers = {}
    for name in flow.rig.with_role("control"):
        found = evidence.comparable(TravelDocument, channel=name)
        if found is not None and found[1].basis == "logger":
            rulers[name] = travel_ruler(found[1])
    return rulers


def _document(view: View, cautions: tuple[str, ...]) -> WatchDocument:
    """What was seen; unknown where not one sample came."""
    from calib.store.documents.finding import Severity
    from calib.store.documents.printed import SeenRange, WatchDocument

    return WatchDocument(
        verdict=Severity.PASS if view.samples else Severity.UNKNOWN,
        cautions=cautions,
        channels={
            each.channel: SeenRange(last=each.value, low=each.low, high=each.high, unit=each.unit)
            for each in (trace.reading for trace in view.traces)
        },
        samples=view.samples,
        rejected_lines=view.rejected_lines,
        gaps=view.gaps,
        resets=view.resets,
        rate_hz=view.rate_hz,
        elapsed_s=view.elapsed_s,
    )
