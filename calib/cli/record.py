"""``calib record``: capture for a time, or until Ctrl-C."""

from __future__ import annotations

import click

from calib.cli.options import Shared, shared
from calib.cli.quantity import Quantity
from calib.store.plausible import DURATION_S


@click.command()
@shared("port", "out", "as_json")
@click.option(
    "--for",
    "duration_s",
    type=Quantity(DURATION_S),
    metavar="S",
    help="Seconds to capture; until Ctrl-C without it.",
)
def command(shared: Shared, duration_s: float | None) -> int:
    """Capture every column for a time, or until Ctrl-C, and keep it on disk."""
    from calib.checks.capture import judge_record
    from calib.cli.clock import host_clock_s, now
    from calib.cli.output import finish
    from calib.cli.session import live_line, person_at
    from calib.guide.capturing import capture_until
    from calib.guide.cautions import LISTEN_CAUTIONS
    from calib.guide.recording import Recording, gauges_for
    from calib.show.inputs import show_record
    from calib.store.capture import read_capture

    rig = shared.rig()
    with person_at(shared) as person, live_line(rig, person, outlasts_s=0.0) as line:
        observer = Recording(
            person,
            gauges_for(rig, line.columns, tuple(rig.channels)),
            duration_s=duration_s,
            clock=host_clock_s,
        )
        path = capture_until(line, rig, shared.folder, observer, command="record", now=now())
    document = judge_record(read_capture(path), rig, LISTEN_CAUTIONS)
    return finish(document, show_record, as_json=shared.as_json)
