from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Literal

import msgspec
import pytest

from calib.checks.sheet.verify import Answers, verify
from calib.store.documents.finding import Severity
from calib.store.documents.sheet import VerifyDocument
from calib.store.documents.travel import TravelDocument
from tests.unit.evidence import bench, travel

GOOD = Answers(rest_V=0.81, full_V=3.72, start_V=0.93, end_V=3.66)
REVERSED = travel(rest_V=3.72, full_V=0.81, start_V=3.60, end_V=0.87)


def verified(
    folder: Path,
    shown: Answers,
    document: TravelDocument | None = None,
    creep: Literal["still", "creeps"] | None = "still",
    *,
    unplugged: bool = False,
) -> VerifyDocument:
    """Verify the grip against a travel on file."""
    here = bench(folder)
    here.keep(document or travel(), "grip")
    answers = dataclasses.replace(shown, creep=creep, unplugged_between=unplugged)
    return verify(here.filed, "grip", answers)


def severities(document: VerifyDocument) -> dict[str, Severity]:
    """The worst severity of each code."""
    return {finding.code: finding.severity for finding in reversed(document.findings)}


def test_a_controller_that_shows_what_was_typed_passes(tmp_path: Path) -> None:
    """Same settings, same volts, a wheel that stands still: pass."""
    assert verified(tmp_path, GOOD).verdict is Severity.PASS


def test_a_setting_that_was_not_taken_fails(tmp_path: Path) -> None:
    """One step off is a typing slip: the setting is not the sheet's."""
    document = verified(tmp_path, dataclasses.replace(GOOD, start_V=0.94))
    assert severities(document)["setting-shown"] is Severity.FAIL


def test_volts_that_differ_from_the_loggers_are_told(tmp_path: Path) -> None:
    """The controller counts otherwise than the logger: say so and name the way out."""
    document = verified(tmp_path, Answers(rest_V=0.85, full_V=3.72, start_V=0.93, end_V=3.66))
    assert severities(document)["level-shown"] is Severity.CAUTION
    worst = next(finding for finding in document.findings if finding.code == "level-shown")
    assert worst.value == pytest.approx(0.04)
    assert "--shown-rest" in worst.action


@pytest.mark.parametrize(
    ("document", "shown", "code"),
    [
        (travel(), Answers(0.95, 3.72, 0.93, 3.66), "rest-before-start"),
        (travel(), Answers(0.81, 3.60, 0.93, 3.66), "full-beyond-end"),
        (REVERSED, Answers(3.55, 0.81, 3.60, 0.87), "rest-before-start"),
        (REVERSED, Answers(3.72, 0.90, 3.60, 0.87), "full-beyond-end"),
    ],
)
def test_rest_inside_the_drive_or_full_short_of_the_end_fails(
    tmp_path: Path, document: TravelDocument, shown: Answers, code: str
) -> None:
    """On the controller's own scale, either way round: a machine that would creep fails."""
    found = severities(verified(tmp_path, shown, document))
    assert found[code] is Severity.FAIL


def test_a_reversed_control_passes_as_well(tmp_path: Path) -> None:
    """Rest above start and full below end are right for a reversed control."""
    shown = Answers(rest_V=3.72, full_V=0.81, start_V=3.60, end_V=0.87)
    assert verified(tmp_path, shown, REVERSED).verdict is Severity.PASS


@pytest.mark.parametrize(("creep", "verdict"), [("creeps", "fail"), (None, "unknown")])
def test_without_a_still_wheel_nothing_is_verified(
    tmp_path: Path, creep: Literal["creeps"] | None, verdict: str
) -> None:
    """A creeping wheel fails, and a check that was not made is unknown."""
    assert verified(tmp_path, GOOD, creep=creep).verdict.value == verdict


def test_figures_that_were_not_read_are_unknown(tmp_path: Path) -> None:
    """Three figures of four prove nothing."""
    document = verified(tmp_path, Answers(rest_V=0.81, full_V=3.72, start_V=0.93))
    assert severities(document)["not-read"] is Severity.UNKNOWN


def test_a_tap_that_came_off_is_a_caution(tmp_path: Path) -> None:
    """With the tap off the wire has changed, and the unplugging test is to be repeated."""
    document = verified(tmp_path, GOOD, unplugged=True)
    assert document.verdict is Severity.CAUTION
    assert severities(document)["wire-changed"] is Severity.CAUTION


def test_without_a_good_travel_there_is_nothing_to_hold_it_against(tmp_path: Path) -> None:
    """A failed travel cannot be verified by a display."""
    document = verified(tmp_path, GOOD, travel(verdict=Severity.FAIL))
    assert document.verdict is Severity.UNKNOWN
    assert document.comparisons == ()


def test_in_the_controllers_own_volts_the_loggers_means_are_not_compared(tmp_path: Path) -> None:
    """Where its display decided the dead band, only its own figures are held together."""
    own = msgspec.structs.replace(travel(), basis="controller")
    document = verified(tmp_path, Answers(0.85, 3.9, 0.93, 3.66), own)
    assert [comparison.name for comparison in document.comparisons] == [
        "drive takes up at",
        "full drive from",
    ]
    assert document.verdict is Severity.PASS
