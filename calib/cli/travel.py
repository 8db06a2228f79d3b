"""``calib travel``: rest, full travel, dead band and fault window of a control."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from calib.cli.completion import channel_names
from calib.cli.options import Shared, shared
from calib.cli.quantity import Quantity
from calib.store.plausible import SHOWN_V, Usual

if TYPE_CHECKING:
    from pathlib import Path

    from calib.store.rig import Rig


@click.command()
@click.argument("channel", shell_complete=channel_names)
@shared()
@click.option(
    "--presses",
    type=click.IntRange(3, 200),
    default=5,
    show_default=True,
    metavar="N",
    help="Full presses to count before it stops.",
)
@click.option(
    "--content",
    type=Quantity(Usual(0.5, 0.99999)),
    default=0.999,
    show_default=True,
    metavar="P",
    help="Share of future readings that a limit must hold.",
)
@click.option(
    "--confidence",
    type=Quantity(Usual(0.5, 0.9999)),
    default=0.95,
    show_default=True,
    metavar="P",
    help="How sure the limit must be of that.",
)
@click.option(
    "--floor-pct",
    type=Quantity(Usual(0.0, 25.0, "per cent")),
    default=3.0,
    show_default=True,
    metavar="P",
    help="Least dead travel at rest, per cent of the span.",
)
@click.option(
    "--shown-rest",
    "shown_rest_V",
    type=Quantity(SHOWN_V),
    metavar="V",
    help="What the controller shows at rest.",
)
@click.option(
    "--shown-full",
    "shown_full_V",
    type=Quantity(SHOWN_V),
    metavar="V",
    help="What the controller shows at full travel.",
)
@click.option(
    "--shown-step",
    "shown_step_V",
    type=Quantity(Usual(0.0001, 1.0, "V")),
    metavar="V",
    help="Step of the controller's display; else the setting step.",
)
@click.option(
    "--temperature-span",
    "temperature_span_K",
    type=Quantity(Usual(0.0, 60.0, "K")),
    metavar="K",
    help="How much warmer or colder the limits shall hold; 5 K unless given.",
)
@click.option("--condition", metavar="TEXT", help="Lights on, cold, after washing ...")
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
    from calib.cli.clock import now
    from calib.cli.on_file import evidence_of
    from calib.cli.output import finish
    from calib.cli.session import given_capture
    from calib.guide.cautions import CONTROL_CAUTIONS
    from calib.show.travel import show_travel
    from calib.store.capture import read_capture
    from calib.store.documents.travel import TravelDocument
    from calib.store.records import Subject, save_record

    rig = shared.rig()
    rig.control(channel)
    columns = travel_columns(rig, channel)
    settings = TravelSettings(
        presses=presses, **{key: value for key, value in given.items() if value is not None}
    )
    require_both_shown(settings)
    if shared.from_file is None:
        path = _capture(shared, rig, channel, presses)
    else:
        path = given_capture(shared, rig, command="travel")
    capture = read_capture(path, columns)
    evidence = evidence_of(shared, rig)
    good = evidence.good(TravelDocument, channel=channel)
    before = evidence.comparable(TravelDocument, channel=channel)
    document = judge_travel(
        capture,
        rig,
        channel,
        settings,
        CONTROL_CAUTIONS,
        earlier=None if before is None else before[1],
        evenings=evenings_before(good, capture.started_at or now(), condition),
    )
    subject = Subject("travel", channel, condition)
    save_record(shared.folder, rig, document, subject, now=now(), captures=[capture])
    return finish(document, show_travel, as_json=shared.as_json, onward=shared)


def _capture(shared: Shared, rig: Rig, channel: str, presses: int) -> Path:
    """Let the person work the control until there are enough presses."""
    from calib.cli.clock import host_clock_s, now
    from calib.cli.session import live_line, person_at
    from calib.guide.capturing import capture_until
    from calib.guide.cautions import CONTROL_CAUTIONS, isolation_card
    from calib.guide.hand import Others
    from calib.guide.recording import gauge_for
    from calib.guide.travel import TravelWatch

    card = isolation_card(f"work {channel} by hand", CONTROL_CAUTIONS)
    with (
        person_at(shared) as person,
        live_line(rig, person, isolation=card) as line,
    ):
        watch = TravelWatch(
            person,
            gauge_for(rig, line.columns, channel),
            Others(rig, line.columns, channel),
            presses=presses,
            clock=host_clock_s,
        )
        return capture_until(line, rig, shared.folder, watch, command="travel", now=now())
