from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import numpy as np

from calib.checks.travel.evenings import evenings_before
from calib.checks.travel.judgement import judge_travel
from calib.checks.travel.numbers import TravelSettings
from calib.store.documents.travel import TravelDocument
from calib.store.records import Record, Subject, save_record
from tests.hands import COUNT_RIG, NOON, as_capture, make_rig, pressed


def documents(folder: Path, rests_V: list[float]) -> list[TravelDocument]:
    """One document an evening, each told of the ones before."""
    folder.mkdir(exist_ok=True)
    rig = make_rig(folder, COUNT_RIG)
    found: list[TravelDocument] = []
    for seed, rest_V in enumerate(rests_V):
        counts = np.floor(pressed(rest_V=rest_V, seed=seed, noise_V=0.004) * 1024.0 / 5.0)
        capture = as_capture(folder / str(seed), rig, counts)
        found.append(
            judge_travel(capture, rig, "throttle", TravelSettings(), (), evenings=tuple(found))
        )
    return found


def test_four_evenings_hold_for_the_next(tmp_path: Path) -> None:
    """From the fourth evening on the page says so, and the limit is counted from all of them."""
    found = documents(tmp_path, [1.000, 1.020, 1.005, 1.015, 1.010])
    codes = [{finding.code for finding in each.findings} for each in found]
    assert all("this-evening" in each for each in codes[:3])
    assert all("evenings" in each for each in codes[3:])
    said = next(finding for finding in found[4].findings if finding.code == "evenings")
    assert said.text.startswith("Five evenings: rest moved by ±")
    assert "holds for the next one" in said.text
    third, fifth = found[2].rest, found[4].rest
    assert third is not None
    assert fifth is not None
    assert third.limit_high is not None
    assert fifth.limit_high is not None
    assert fifth.limit_high > third.limit_high


def test_more_presses_are_not_advised_where_evenings_make_the_limit(tmp_path: Path) -> None:
    """Ten of them on one evening say nothing of how far rest moves to the next."""
    told = [
        any("Ten presses" in line for line in document.advice)
        for document in documents(tmp_path, [1.000, 1.060, 1.005, 1.055, 1.010])
    ]
    assert told[-2:] == [False, False]


def test_what_was_measured_within_hours_is_one_evening(tmp_path: Path) -> None:
    """Three records of one evening are one, tonight's own are none, a condition is apart."""
    rig = make_rig(tmp_path, COUNT_RIG)
    document = documents(tmp_path / "captured", [1.0])[0]

    def record(days: float, condition: str | None = None) -> tuple[Record, TravelDocument]:
        made = NOON + timedelta(days=days)
        subject = Subject("travel", "throttle", condition)
        return save_record(tmp_path, rig, document, subject, now=made), document

    on_file = [record(0.0), record(0.1), record(1.0), record(2.0, "cold"), record(3.0)]
    assert len(evenings_before(on_file, NOON + timedelta(days=3.1), None)) == 2
    assert len(evenings_before(on_file, NOON + timedelta(days=9), None)) == 3
    assert len(evenings_before(on_file, NOON + timedelta(days=9), "cold")) == 1
