from __future__ import annotations

from pathlib import Path

from calib.checks.sheet.verify import Answers, verify
from calib.checks.status import status_of
from calib.store.documents.finding import Severity
from calib.store.documents.printed import StatusDocument
from tests.unit.evidence import RIG, Bench, bench, travel

SHOWN = Answers(rest_V=0.81, full_V=3.72, start_V=0.93, end_V=3.66, creep="still")


def states(document: StatusDocument) -> dict[str, str]:
    """State of each step by its name."""
    return {step.name: step.state for step in document.steps}


def confirm(here: Bench, channel: str) -> None:
    """Keep a verification of ``channel`` against its newest travel."""
    here.keep(verify(here.filed, channel, SHOWN), channel, "verify")


def test_a_fresh_rig_begins_at_its_first_control(tmp_path: Path) -> None:
    """Nothing done: everything is to do, and the next command is named."""
    document = status_of(bench(tmp_path).filed)
    assert set(states(document).values()) == {"to do"}
    assert document.next == document.steps[0].command
    assert document.verdict is Severity.UNKNOWN


def test_each_step_done_moves_the_next_command_on(tmp_path: Path) -> None:
    """A measured control is done; its verification follows once all are measured."""
    here = bench(tmp_path)
    here.keep(travel("grip"), "grip")
    document = status_of(here.filed)
    assert states(document)["travel of grip"] == "done"
    assert states(document)["travel of lever"] == "to do"
    here.keep(travel("lever"), "lever")
    confirm(here, "grip")
    found = states(status_of(here.filed))
    assert found["grip typed in and verified"] == "done"
    assert found["lever typed in and verified"] == "to do"


def test_a_new_travel_makes_its_verification_stale(tmp_path: Path) -> None:
    """What was verified is not what is on the sheet any more."""
    here = bench(tmp_path)
    here.keep(travel("grip"), "grip", days=1)
    confirm(here, "grip")
    here.keep(travel("grip"), "grip")
    assert states(status_of(here.filed))["grip typed in and verified"] == "stale"


def test_a_failed_step_fails_the_whole(tmp_path: Path) -> None:
    """A status is as good as its worst step."""
    here = bench(tmp_path)
    here.keep(travel("grip", Severity.FAIL), "grip")
    assert status_of(here.filed).verdict is Severity.FAIL


def test_a_scale_that_was_never_held_against_a_meter_comes_first(tmp_path: Path) -> None:
    """All volts may be off by several per cent, so the meter comes before the travels."""
    document = status_of(bench(tmp_path).filed)
    assert document.next == "calib meter grip"
    trued = RIG.replace(
        "[channels.lever]",
        "[channels.grip.scale]\ngain = 0.97\noffset_V = 0.0\nu_gain = 0.001\n"
        'u_offset_V = 0.001\ncov = 0.0\ndate = "2026-02-01"\n[channels.lever]',
    )
    (tmp_path / "rig.toml").write_text(trued, encoding="utf-8")
    found = states(status_of(bench(tmp_path, trued).filed))
    assert found["scale of grip"] == "done"
    assert found["scale of lever"] == "to do"


def test_a_rig_with_a_tilt_sensor_has_its_steps_as_well(tmp_path: Path) -> None:
    """Zero, sign, surge, noise and the gate come only where there is something that tilts."""
    assert "level zero of the tilt sensor" not in states(status_of(bench(tmp_path).filed))
    with_tilt = RIG + '[channels.nose]\nrole = "pitch"\ncolumn = "p"\nunit = "deg"\n'
    steps = states(status_of(bench(tmp_path, with_tilt).filed))
    assert list(steps)[-5:] == [
        "level zero of the tilt sensor",
        "sign and axis of the tilt sensor",
        "push read as tilt",
        "noise and drift of the tilt sensor",
        "trust in the tilt-based aid",
    ]


def test_a_sensor_that_only_the_controller_sees_counts_as_one(tmp_path: Path) -> None:
    """Its readings are typed, and its zero and sign are wanted all the same."""
    own = RIG + '[tilt]\nsensor = "controller"\n'
    assert "level zero of the tilt sensor" in states(status_of(bench(tmp_path, own).filed))
