"""The session in which a control's wires are pulled, one capture each."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calib.cli.options import Shared

if TYPE_CHECKING:
    from calib.checks.bench.unplug import Travel
    from calib.guide.protocols import Line, Person
    from calib.store.documents.check import PulledWire
    from calib.store.rig import Rig


def pull_wires(shared: Shared, rig: Rig, channel: str, travel: Travel | None) -> list[PulledWire]:
    """Signal, ground and supply in turn; then what the controller shows with the tap off.

    Raises:
        PortError: The line cannot be opened.
        StoppedError: The person would rather stop.
    """
    from calib.checks.bench.unplug import WIRES, typed_pulled
    from calib.cli.session import live_line, person_at
    from calib.guide.cautions import UNPLUG_CAUTIONS, isolation_card
    from calib.guide.unplug import ask_display_V, pull_prompt, put_back_prompt

    card = isolation_card(f"pull wires of {channel}, key off each time", UNPLUG_CAUTIONS)
    pulled = []
    with person_at(shared) as person, live_line(rig, person, isolation=card) as line:
        for wire in WIRES:
            person.wait_until_ready(pull_prompt(channel, wire))
            found = _listen(shared, rig, channel, wire, person, line, travel)
            if found is not None:
                pulled.append(found)
        person.wait_until_ready(put_back_prompt(channel))
        typed_V = ask_display_V(person, channel)
    return [*pulled, *(typed_pulled("signal", volts) for volts in typed_V)]


def _listen(
    shared: Shared,
    rig: Rig,
    channel: str,
    wire: str,
    person: Person,
    line: Line,
    travel: Travel | None,
) -> PulledWire | None:
    """Capture one pulled wire and judge it; None where there is no travel to judge it by."""
    from calib.checks.bench.unplug import judge_pulled
    from calib.cli.clock import host_clock_s, now
    from calib.guide.capturing import capture_until
    from calib.guide.recording import gauge_for
    from calib.guide.unplug import PulledWatch
    from calib.store.capture import read_capture
    from calib.store.columns import in_base_unit

    watch = PulledWatch(person, gauge_for(rig, line.columns, channel), wire, clock=host_clock_s)
    path = capture_until(line, rig, shared.folder, watch, command=f"unplug-{wire}", now=now())
    if travel is None:
        return None
    capture = read_capture(path).where_present([rig.channel(channel).column])
    return judge_pulled(wire, capture.time_s, in_base_unit(capture, rig, channel), travel)
