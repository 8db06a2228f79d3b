"""``calib check``: every input after a rewire, against limits and the last good record."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from calib.cli.flow import Flow
from calib.cli.options import Condition, Shared, Whole, option, shared
from calib.errors import UsageError

if TYPE_CHECKING:
    from calib.checks.bench.unplug import Travel
    from calib.guide.check.watch import CheckWatch
    from calib.guide.protocols import Line, Person
    from calib.store.documents.check import PulledWire
    from calib.store.records import Record


@shared(example="--rewired")
def command(
    shared: Shared,
    quick: Annotated[bool, option()],
    against: Annotated[str | None, option("ID")],
    rewired: Annotated[bool, option()],
    remounted: Annotated[bool, option()],
    unplug: Annotated[str | None, option("CHANNEL")],
    condition: Condition,
    connectors: Annotated[int | None, option("N", kind=Whole(1, 60))],
) -> int:
    """Check every input after a rewire, hands-free, before power reaches the wheel.

    Rest, then each control in the order of the rig file (one slow press, two quick ones), then
    each switch, then flex every connector: calib tells the steps apart by itself and rings on
    every drop-out. --from takes the same sequence from a file.

    Options:
        --quick: Rest and one press each, nothing else.
        --against: Compare with this record; else the last good one.
        --rewired: Note: it was rewired.
        --remounted: Note: the tilt sensor was remounted.
        --unplug: Pull the wires of a control on purpose, one by one.
        --connectors: Connectors of the harness, to be flexed one by one; else it is asked.
    """
    from calib.checks.bench.judgement import CheckSettings, judge_check
    from calib.checks.file.validity import check_to_compare
    from calib.guide.cautions import CONTROL_CAUTIONS, UNPLUG_CAUTIONS

    if unplug is None:
        flow = Flow(shared, "check", CONTROL_CAUTIONS, condition=condition)
    else:
        flow = Flow(shared, "check", UNPLUG_CAUTIONS, channel=unplug, condition="unplugged")
        flow.rig.channel(unplug)
    earlier = check_to_compare(flow.filed(), _named(shared, against))
    flow.note({"rewired": rewired, "remounted": remounted})
    if unplug is not None:
        return _unplug(flow, unplug)
    capture = flow.capture(
        lambda person, line: _begin(flow, person, line, quick=quick, connectors=connectors),
        "work every control and flex the harness",
    )
    settings = CheckSettings(quick=quick, condition=condition)
    document = judge_check(capture, flow.rig, flow.cautions, earlier=earlier, settings=settings)
    return flow.end(document, [capture])


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
        raise UsageError.of("not-a-check", id=record.id, command=record.command)
    return record


def _begin(
    flow: Flow, person: Person, line: Line, *, quick: bool, connectors: int | None
) -> CheckWatch:
    """The observer of a check, once it is known how many connectors there are."""
    from calib.guide.asking import ask_whole
    from calib.guide.check.acts import CONNECTORS
    from calib.guide.check.watch import CheckWatch

    if connectors is None and not quick:
        question = "How many connectors are there to flex"
        connectors = ask_whole(person, question, default=CONNECTORS, most=60)
    return CheckWatch(person, flow.rig, line.columns, quick, connectors or CONNECTORS)


def _unplug(flow: Flow, channel: str) -> int:
    """Pull the wires of a control, one by one.

    Raises:
        UsageError: A file is to be judged.
    """
    from calib.checks.bench.unplug import judge_unplug, travel_on_file

    if flow.shared.from_file is not None:
        raise UsageError.of("unplug-from-file")
    travel = travel_on_file(flow.filed(), channel)
    pulled = _pull_wires(flow, channel, travel)
    return flow.end(judge_unplug(flow.rig, channel, travel, pulled, flow.cautions))


def _pull_wires(flow: Flow, channel: str, travel: Travel | None) -> list[PulledWire]:
    """Signal, ground and supply in turn; then what the controller shows with the tap off.

    Raises:
        PortError: The line cannot be opened.
        StoppedError: The person would rather stop.
    """
    from calib.checks.bench.unplug import WIRES, judge_pulled, typed_pulled
    from calib.guide.recording import gauge_for
    from calib.guide.unplug import PulledWatch, ask_display_V, pull_prompt, put_back_prompt
    from calib.store.capture import read_capture
    from calib.store.columns import in_base_unit

    pulled = []
    with flow.line(f"pull wires of {channel}, key off each time") as (person, line):
        for wire in WIRES:
            person.wait_until_ready(pull_prompt(channel, wire))
            gauge = gauge_for(flow.rig, line.columns, channel)
            path = flow.record(line, PulledWatch(person, gauge, wire), f"unplug-{wire}")
            if travel is not None:  # else there is nothing to judge it by
                capture = read_capture(path).where_present([flow.rig.channel(channel).column])
                volts = in_base_unit(capture, flow.rig, channel)
                pulled.append(judge_pulled(wire, capture.time_s, volts, travel))
        person.wait_until_ready(put_back_prompt(channel))
        typed_V = ask_display_V(person, channel)
    return [*pulled, *(typed_pulled("signal", volts) for volts in typed_V)]
