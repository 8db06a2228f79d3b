from __future__ import annotations

from datetime import timedelta

from calib.checks.file.validity import Filed
from calib.checks.limits import KEPT_DAYS
from calib.checks.sheet import make_sheet
from calib.checks.status import status_of
from calib.checks.wheel.judgement import Tape, WheelRun, judge_wheel
from calib.store.documents.wheel import WheelDocument
from calib.store.records import Record
from tests.records import MARCH, on_file, record_of
from tests.wheel_files import hand, levels, ring, wheel_capture, wheel_rig

RIG = wheel_rig()


def turned(magnets: list[tuple[float, float]]) -> WheelDocument:
    """Ten turns of a ring."""
    time_s, turns = hand(10.0)
    capture = wheel_capture(time_s, w=levels(magnets, turns))
    return judge_wheel(WheelRun("wheel", capture, 10), RIG, ())


ROLLED = judge_wheel(WheelRun(tape=Tape((19.84,), 10, seated=True)), RIG, ())


def filed(*documents: WheelDocument, later: timedelta = timedelta(hours=1)) -> Filed:
    """What is on file, an hour after the first was judged unless said."""
    records: list[Record] = [
        record_of(document, MARCH + timedelta(seconds=place), command="wheel", rig=RIG)
        for place, document in enumerate(documents)
    ]
    return Filed(RIG, on_file(records), MARCH + later)


def shown(of: Filed) -> dict[str, tuple[str, float | None]]:
    """State and value of each entry."""
    return {each.name: (each.state, each.value) for each in make_sheet(of).entries}


def test_both_values_stand_with_their_origin() -> None:
    """Turning and rolling are two records, and each gives its own value."""
    assert ROLLED.circumference_mm is not None
    found = shown(filed(turned(ring(6)), ROLLED))
    assert found == {
        "pulses a turn": ("ready", 6.0),
        "circumference": ("ready", ROLLED.circumference_mm),
    }


def test_a_newer_bad_turning_takes_the_number_away() -> None:
    """An older good one never stands in for it."""
    found = shown(filed(turned(ring(6)), ROLLED, turned(ring(8, missing=3))))
    assert found["pulses a turn"] == ("unknown", None)
    assert found["circumference"][0] == "ready"


def test_a_tyre_is_rolled_anew_after_a_month() -> None:
    """It wears, and loses air."""
    later = timedelta(days=KEPT_DAYS + 1)
    found = shown(filed(turned(ring(6)), ROLLED, later=later))
    assert {state for state, _ in found.values()} == {"stale"}


def test_status_names_what_is_open() -> None:
    """The next step can be typed as it stands."""
    steps = {each.name: each for each in status_of(filed(turned(ring(6)))).steps}
    assert steps["pulses a turn"].state == "done"
    assert steps["circumference of the wheel"].command == "calib wheel --over-turns 10"
