from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from calib.checks.sheet import make_sheet
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.sheet import SheetEntry
from calib.store.documents.tilt import AxisZeroFigures, LevelDocument, SignsDocument
from tests.unit.evidence import RIG, Bench, bench

TILT = '[channels.nose]\nrole = "pitch"\ncolumn = "p"\nunit = "deg"\n'
ZERO = AxisZeroFigures(reading=1.31, zero=0.42, u=0.06, u95=0.12, floor_slope=0.89)
TURNED = LevelDocument(verdict=Severity.PASS, pitch=ZERO, method="turned", standings=4)
SIGNS = SignsDocument(verdict=Severity.PASS, convention="nose-up-positive", pitch_sign=1)


def tilt_bench(folder: Path, tilt: str = "") -> Bench:
    """A rig with a pitch channel."""
    return bench(folder, RIG + TILT + tilt)


def entries(here: Bench) -> dict[str, SheetEntry]:
    """The tilt sensor's entries by name."""
    found = make_sheet(here.filed).entries
    return {entry.name: entry for entry in found if entry.channel == "tilt sensor"}


def test_a_turned_zero_and_a_proven_sign_are_given(tmp_path: Path) -> None:
    """Zero with its uncertainty, and the sign as a word."""
    here = tilt_bench(tmp_path)
    here.keep(TURNED, None, "level")
    here.keep(SIGNS, None, "signs")
    found = entries(here)
    assert found["level zero, pitch"].value == pytest.approx(0.42)
    assert found["level zero, pitch"].u == pytest.approx(0.06)
    assert found["nose-up reads as"].word == "nose-up-positive"
    assert "not noted" in found["nose-up reads as"].origin


def test_a_zero_from_one_standing_is_no_number(tmp_path: Path) -> None:
    """The floor's slope is in it, whatever its own verdict says."""
    here = tilt_bench(tmp_path)
    here.keep(msgspec.structs.replace(TURNED, method="single"), None, "level")
    zero = entries(here)["level zero, pitch"]
    assert (zero.state, zero.value) == ("unknown", None)
    assert "--turned" in zero.origin


def test_a_seated_standing_does_not_take_the_place_of_the_zero(tmp_path: Path) -> None:
    """The rider's tilt, measured later by itself, leaves the zero as it was."""
    here = tilt_bench(tmp_path)
    here.keep(TURNED, None, "level", days=1)
    rider = msgspec.structs.replace(ZERO, rider_tilt=-1.5, zero=9.9)
    seated = msgspec.structs.replace(TURNED, method="single", pitch=rider)
    here.keep(seated, None, "level")
    assert entries(here)["level zero, pitch"].value == pytest.approx(0.42)


def test_a_controller_with_its_own_zero_gets_its_own_number(tmp_path: Path) -> None:
    """The logger's zero is none for it: what its display showed counts, or nothing does."""
    here = tilt_bench(tmp_path, '[tilt]\nsensor = "both"\n')
    here.keep(TURNED, None, "level", days=1)
    assert entries(here)["level zero, pitch"].state == "unknown"
    shown = msgspec.structs.replace(ZERO, zero=-0.7)
    here.keep(msgspec.structs.replace(TURNED, shown=shown, shown_method="turned"), None, "level")
    assert entries(here)["level zero, pitch"].value == pytest.approx(-0.7)


def test_a_sign_that_is_not_as_expected_prints_nothing_to_choose(tmp_path: Path) -> None:
    """Signs that failed say why, and no word is offered."""
    here = tilt_bench(tmp_path)
    bad = Finding(code="sign", severity=Severity.FAIL, text="It counts the other way.")
    document = msgspec.structs.replace(SIGNS, verdict=Severity.FAIL, findings=(bad,))
    here.keep(document, None, "signs")
    sign = entries(here)["nose-up reads as"]
    assert (sign.state, sign.word) == ("failed", None)
    assert "other way" in sign.origin


def test_a_rig_without_tilt_is_asked_for_none(tmp_path: Path) -> None:
    """No entry for a sensor that there is none of."""
    assert entries(bench(tmp_path)) == {}


@pytest.mark.parametrize("stand", [True, False])
def test_a_roll_zero_is_given_from_a_rigid_stand_alone(tmp_path: Path, stand: bool) -> None:
    """Without one the hand that holds the machine sets the roll, and there is nothing to type."""
    here = tilt_bench(tmp_path)
    roll = msgspec.structs.replace(ZERO, zero=-0.3)
    here.keep(msgspec.structs.replace(TURNED, roll=roll, stand=stand), None, "level")
    assert ("level zero, roll" in entries(here)) is stand
