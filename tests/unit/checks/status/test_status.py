from __future__ import annotations

from pathlib import Path

from calib.checks.sheet.verify import Shown, verify
from calib.checks.status import status_of
from calib.store.documents.finding import Severity
from calib.store.documents.status import StatusDocument
from tests.unit.evidence import Bench, bench, travel

SHOWN = Shown(rest_V=0.81, full_V=3.72, start_V=0.93, end_V=3.66)


def states(document: StatusDocument) -> dict[str, str]:
    """State of each step by its name."""
    return {step.name: step.state for step in document.steps}


def confirm(here: Bench, channel: str) -> None:
    """Keep a verification of ``channel`` against its newest travel."""
    here.keep(verify(here.evidence, channel, SHOWN, creep="still"), channel, "verify")


def test_a_fresh_rig_begins_at_its_first_control(tmp_path: Path) -> None:
    """Nothing done: everything is to do, and the next command is named."""
    document = status_of(bench(tmp_path).evidence)
    assert set(states(document).values()) == {"to do"}
    assert document.next == document.steps[0].command
    assert document.verdict is Severity.UNKNOWN


def test_each_step_done_moves_the_next_command_on(tmp_path: Path) -> None:
    """A measured control is done; its verification follows once all are measured."""
    here = bench(tmp_path)
    here.keep(travel("grip"), "grip")
    document = status_of(here.evidence)
    assert states(document)["travel of grip"] == "done"
    assert states(document)["travel of lever"] == "to do"
    here.keep(travel("lever"), "lever")
    confirm(here, "grip")
    found = states(status_of(here.evidence))
    assert found["grip typed in and verified"] == "done"
    assert found["lever typed in and verified"] == "to do"


def test_a_new_travel_makes_its_verification_stale(tmp_path: Path) -> None:
    """What was verified is not what is on the sheet any more."""
    here = bench(tmp_path)
    here.keep(travel("grip"), "grip", days=1)
    confirm(here, "grip")
    here.keep(travel("grip"), "grip")
    assert states(status_of(here.evidence))["grip typed in and verified"] == "stale"


def test_a_failed_step_fails_the_whole(tmp_path: Path) -> None:
    """A status is as good as its worst step."""
    here = bench(tmp_path)
    here.keep(travel("grip", Severity.FAIL), "grip")
    assert status_of(here.evidence).verdict is Severity.FAIL
