from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.checks.travel.judgement import judge_travel
from calib.checks.travel.numbers import TravelSettings
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.travel import TravelDocument
from tests.hands import COUNT_RIG, as_capture, make_rig, pressed

REST_V, FULL_V, RATE_HZ = 0.9, 4.1, 100.0


def hand(stops: list[float], rests: list[float], sink: float = 0.0) -> NDArray[np.float64]:
    """Volts of presses to these shares of the travel, and of releases to those; shape (n,).

    While it holds, the hand sinks by a share of the travel.
    """
    knots_s, shares = [0.0, 1.5], [0.0, 0.0]
    for stop, rest in zip(stops, rests, strict=True):
        for more_s, share in ((0.3, stop), (1.0, stop - sink), (0.12, rest), (1.2, rest)):
            knots_s.append(knots_s[-1] + more_s)
            shares.append(share)
    time_s = np.arange(0.0, knots_s[-1], 1.0 / RATE_HZ)
    noise = np.random.default_rng(8).normal(0.0, 0.002, time_s.shape)
    volts: NDArray[np.float64] = REST_V + (FULL_V - REST_V) * np.interp(time_s, knots_s, shares)
    return volts + noise


def judge(folder: Path, volts: NDArray[np.float64], rig_text: str = COUNT_RIG) -> TravelDocument:
    """The document of a control on a 10-bit logger."""
    folder = folder / str(len(list(folder.iterdir())))
    folder.mkdir()
    rig = make_rig(folder, rig_text)
    capture = as_capture(folder, rig, np.floor(volts * 1024.0 / 5.0))
    return judge_travel(capture, rig, "throttle", TravelSettings(), ())


def said(document: TravelDocument, code: str = "dead-travel") -> Finding | None:
    """What a document says of the travel that is given up."""
    return next((finding for finding in document.findings if finding.code == code), None)


def test_a_usual_dead_band_is_not_worth_a_word(tmp_path: Path) -> None:
    """Five even presses on a known scale give up some five per cent, and nothing is said."""
    document = judge(tmp_path, pressed())
    assert document.dead_band is not None
    assert 3.0 < document.dead_band.dead_travel_pct < 7.0
    assert said(document) is None


def test_an_uneven_hand_is_named_by_its_own_stops(tmp_path: Path) -> None:
    """Stops all over the last fifth: no value, the stops in order, and what to do."""
    document = judge(tmp_path, hand([0.87, 0.97, 1.0, 0.91, 0.99], [0.0] * 5))
    found = said(document)
    assert found is not None
    assert found.severity is Severity.UNKNOWN
    assert document.dead_band is None
    assert "You stopped at 87, 97, 100, 91 and 99 % of the travel." in found.text
    assert "stood at" not in found.text
    assert found.action == "Press to the stop each time and hold it there for a second."


def test_a_thumb_that_stays_on_is_named_by_where_it_stood(tmp_path: Path) -> None:
    """Rests that lie apart are the thumb's: no value, counted from the lowest rest."""
    document = judge(tmp_path, hand([1.0] * 5, [0.04, 0.0, 0.05, 0.02, 0.0]))
    found = said(document)
    assert found is not None
    assert found.severity is Severity.UNKNOWN
    assert "Between presses it stood at 0, 4, 0, 5, 2 and 0 % of the travel." in found.text
    assert "You stopped" not in found.text
    assert "the thumb too" in found.action


def test_a_scale_that_nobody_trued_is_named_with_its_cure(tmp_path: Path) -> None:
    """±7 % cost a tenth of the travel: a value under caution, the reference named, the meter."""
    loose = COUNT_RIG.replace("reference_tolerance_pct = 1\n", "")
    document = judge(tmp_path, hand([1.0] * 5, [0.0] * 5), loose)
    found = said(document)
    assert found is not None
    assert found.severity is Severity.CAUTION
    assert document.dead_band is not None
    assert found.value == pytest.approx(document.dead_band.dead_travel_pct)
    assert found.limit == 10.0
    assert "% is room for what the scale may be off: reference ±7 %, assumed." in found.text
    assert "with 'calib meter', then measure again." in found.action


@pytest.mark.parametrize(
    ("name", "severity"),
    [
        ("dead_travel_pct", Severity.CAUTION),
        ("dead_travel_most_pct", Severity.UNKNOWN),
        ("start_most_pct", Severity.UNKNOWN),
        ("start_scatter_pct", Severity.UNKNOWN),
        ("end_most_pct", Severity.UNKNOWN),
    ],
)
def test_each_limit_is_held_and_the_one_that_was_crossed_is_shown(
    tmp_path: Path, name: str, severity: Severity
) -> None:
    """A person's own limit takes the table's place; the finding shows it beside its figure."""
    own = f"{COUNT_RIG}\n[channels.throttle.limits]\n{name} = 0.1\n"
    document = judge(tmp_path, hand([1.0] * 5, [0.0] * 5), own)
    found = said(document)
    assert found is not None
    assert (found.severity, found.limit) == (severity, 0.1)
    assert found.value is not None
    assert 0.1 < found.value < 7.0
    assert (document.dead_band is None) is (severity is Severity.UNKNOWN)


def test_a_hand_that_sinks_is_judged_from_the_stop_it_held_first(tmp_path: Path) -> None:
    """Sinking puts the level lower, and what is given up counts from where it stood before."""
    sinking = hand([1.0] * 5, [0.0] * 5, sink=0.03)
    own = f"{COUNT_RIG}\n[channels.throttle.limits]\nend_most_pct = 2.5\n"
    document, strict = judge(tmp_path, sinking), judge(tmp_path, sinking, own)
    assert document.full is not None
    assert document.dead_band is not None
    below_level_pct = 100.0 * (document.full.mean - document.dead_band.end) / (FULL_V - REST_V)
    below_stop_pct = 100.0 * (FULL_V - document.dead_band.end) / (FULL_V - REST_V)
    assert below_level_pct < 2.5
    found = said(strict)
    assert found is not None
    assert found.value == pytest.approx(below_stop_pct, abs=0.5)
    moved = said(document, "moved-inside")
    assert moved is not None
    assert "While it stayed at full travel it sank by up to 1." in moved.text


def test_half_a_per_cent_of_movement_is_not_worth_a_word(tmp_path: Path) -> None:
    """What a stay moves by less than one per cent of the travel inside is not told."""
    document = judge(tmp_path, hand([1.0] * 5, [0.0] * 5, sink=0.006))
    assert said(document, "moved-inside") is None
