from __future__ import annotations

from pathlib import Path

import pytest

from calib.checks.standing import State
from calib.store.documents.finding import Severity
from calib.store.documents.travel import TravelDocument
from calib.store.records import supersede
from tests.unit.evidence import NOON, RIG, bench, travel


def test_nothing_on_file_is_missing(tmp_path: Path) -> None:
    """What was never measured is missing, and says so."""
    standing = bench(tmp_path).evidence.standing(TravelDocument, channel="grip")
    assert standing.state is State.MISSING
    assert standing.record is None


@pytest.mark.parametrize(
    ("verdict", "state"),
    [
        (Severity.PASS, State.GOOD),
        (Severity.CAUTION, State.GOOD),
        (Severity.UNKNOWN, State.UNKNOWN),
        (Severity.FAIL, State.FAILED),
    ],
)
def test_a_fresh_record_stands_as_its_verdict(
    tmp_path: Path, verdict: Severity, state: State
) -> None:
    """Only pass and caution may be built upon."""
    here = bench(tmp_path)
    here.keep(travel(verdict=verdict), "grip")
    assert here.evidence.standing(TravelDocument, channel="grip").state is state


def test_an_older_good_record_never_stands_in_for_a_newer_bad_one(tmp_path: Path) -> None:
    """The newest record speaks, unless it was superseded with a reason."""
    here = bench(tmp_path)
    good = here.keep(travel(), "grip", days=1)
    bad = here.keep(travel(verdict=Severity.FAIL), "grip")
    assert here.evidence.standing(TravelDocument, channel="grip").record == bad
    supersede(tmp_path, bad.id, "the cable was caught", now=NOON)
    standing = here.evidence.standing(TravelDocument, channel="grip")
    assert standing.is_good
    assert standing.record == good


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        (RIG.replace("5.0", "4.8"), "Column, unit, scale"),
        (RIG.replace('column = "a0"', 'column = "a2"'), "Column, unit, scale"),
        (RIG.replace("[channels.grip]", "[channels.other]"), "no longer has the channel 'grip'"),
    ],
)
def test_a_change_of_what_is_read_makes_evidence_stale(
    tmp_path: Path, changed: str, why: str
) -> None:
    """Another reference, another column or no such channel: the old figures no longer hold."""
    here = bench(tmp_path)
    here.keep(travel(), "grip")
    (tmp_path / "rig.toml").write_text(changed, encoding="utf-8")
    standing = here.evidence.standing(TravelDocument, channel="grip")
    assert standing.state is State.STALE
    assert why in standing.why


@pytest.mark.parametrize(("days", "state"), [(29.9, State.GOOD), (30.1, State.STALE)])
def test_evidence_is_kept_for_thirty_days(tmp_path: Path, days: float, state: State) -> None:
    """Older evidence is stale even where nothing seems to have changed."""
    here = bench(tmp_path)
    here.keep(travel(), "grip", days=days)
    assert here.evidence.standing(TravelDocument, channel="grip").state is state
