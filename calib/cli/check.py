"""``calib check``: every input after a rewire, against limits and the last good record."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from calib.cli.on_file import evidence_of
from calib.cli.options import Shared, shared
from calib.errors import UsageError

if TYPE_CHECKING:
    from pathlib import Path

    from calib.store.documents.note import Happening
    from calib.store.records import Record
    from calib.store.rig import Rig


@click.command()
@shared()
@click.option("--quick", is_flag=True, help="Rest and one press each, nothing else.")
@click.option("--against", metavar="ID", help="Compare with this record; else the last good one.")
@click.option("--rewired", is_flag=True, help="Note: it was rewired.")
@click.option("--remounted", is_flag=True, help="Note: the tilt sensor was remounted.")
@click.option(
    "--unplug", metavar="CHANNEL", help="Pull the wires of a control on purpose, one by one."
)
@click.option("--condition", metavar="TEXT", help="Lights on, cold, after washing ...")
@click.option(
    "--connectors",
    type=click.IntRange(1, 60),
    metavar="N",
    help="Connectors of the harness, to be flexed one by one; else it is asked.",
)
def command(
    shared: Shared,
    quick: bool,
    against: str | None,
    rewired: bool,
    remounted: bool,
    unplug: str | None,
    condition: str | None,
    connectors: int | None,
) -> int:
    """Check every input after a rewire, hands-free, before power reaches the wheel.

    Rest, then each control in the order of the rig file (one slow press, two quick ones), then
    each switch, then flex every connector: calib tells the steps apart by itself and rings on
    every drop-out. --from takes the same sequence from a file.
    """
    from calib.checks.bench.judgement import CheckSettings, judge_check
    from calib.checks.file.on_file import check_to_compare
    from calib.cli.clock import now
    from calib.cli.output import finish
    from calib.cli.session import given_capture
    from calib.guide.cautions import CONTROL_CAUTIONS
    from calib.show.inputs import show_check
    from calib.store.capture import read_capture
    from calib.store.records import Subject, save_record

    rig = shared.rig()
    if unplug is not None:
        rig.channel(unplug)
    earlier = check_to_compare(evidence_of(shared, rig), _named(shared, against))
    _note(shared, rig, rewired=rewired, remounted=remounted)
    if unplug is not None:
        return _unplug(shared, rig, unplug)
    if shared.from_file is None:
        path = _capture(shared, rig, quick=quick, connectors=connectors)
    else:
        path = given_capture(shared, rig, command="check")
    capture = read_capture(path)
    document = judge_check(
        capture,
        rig,
        CONTROL_CAUTIONS,
        earlier=earlier,
        settings=CheckSettings(quick=quick, condition=condition),
    )
    subject = Subject("check", condition=condition)
    save_record(shared.folder, rig, document, subject, now=now(), captures=[capture])
    return finish(document, show_check, as_json=shared.as_json, onward=shared)


def _named(shared: Shared, against: str | None) -> Record | None:
    """The record that was asked for by id.

    Raises:
        UsageError: There is none, or it is not of a check.
    """
    from calib.store.documents.check import CheckDocument
    from calib.store.records import find_record

    if against is None:
        return None
    record = find_record(shared.folder, against)
    if not isinstance(record.document, CheckDocument):
        raise UsageError(
            f"Record {record.id} is of 'calib {record.command}', not of a check.",
            "See the checks with 'calib history'.",
        )
    return record


def _note(shared: Shared, rig: Rig, *, rewired: bool, remounted: bool) -> None:
    """Note what was done to the machine; it makes earlier evidence stale."""
    from calib.cli.clock import now
    from calib.store.documents.finding import Severity
    from calib.store.documents.note import NoteDocument
    from calib.store.records import Subject, save_record

    asked: dict[Happening, bool] = {"rewired": rewired, "remounted": remounted}
    for what in (what for what, happened in asked.items() if happened):
        note = NoteDocument(verdict=Severity.PASS, what=what)
        save_record(shared.folder, rig, note, Subject("note"), now=now())


def _capture(shared: Shared, rig: Rig, *, quick: bool, connectors: int | None) -> Path:
    """Let the person go through the check."""
    from calib.cli.clock import host_clock_s, now
    from calib.cli.session import live_line, person_at
    from calib.guide.asking import ask_whole
    from calib.guide.capturing import capture_until
    from calib.guide.cautions import CONTROL_CAUTIONS, isolation_card
    from calib.guide.check.acts import CONNECTORS
    from calib.guide.check.watch import CheckWatch

    card = isolation_card("work every control and flex the harness", CONTROL_CAUTIONS)
    with person_at(shared) as person, live_line(rig, person, isolation=card) as line:
        if connectors is None and not quick:
            question = "How many connectors are there to flex"
            connectors = ask_whole(person, question, default=CONNECTORS, most=60)
        watch = CheckWatch(
            person,
            rig,
            line.columns,
            quick=quick,
            clock=host_clock_s,
            connectors=connectors or CONNECTORS,
        )
        return capture_until(line, rig, shared.folder, watch, command="check", now=now())


def _unplug(shared: Shared, rig: Rig, channel: str) -> int:
    """Pull the wires of a control, one by one."""
    from calib.checks.bench.unplug import judge_unplug, travel_on_file
    from calib.cli.clock import now
    from calib.cli.output import finish
    from calib.cli.unplugging import pull_wires
    from calib.guide.cautions import UNPLUG_CAUTIONS
    from calib.show.inputs import show_check
    from calib.store.records import Subject, save_record

    if shared.from_file is not None:
        raise UsageError(
            "--unplug cannot be judged from a file: nobody knows which wire was pulled when.",
            "Leave --from out.",
        )
    travel = travel_on_file(evidence_of(shared, rig), channel)
    pulled = pull_wires(shared, rig, channel, travel)
    document = judge_unplug(rig, channel, travel, pulled, UNPLUG_CAUTIONS)
    subject = Subject("check", channel, condition="unplugged")
    save_record(shared.folder, rig, document, subject, now=now())
    return finish(document, show_check, as_json=shared.as_json, onward=shared)
