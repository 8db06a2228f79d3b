from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from calib.checks.travel.judgement import judge_travel
from calib.checks.travel.numbers import TravelSettings
from calib.errors import BrokenOffError, PortError
from calib.guide.capturing import capture_until
from calib.store.capture import read_capture
from calib.store.documents.finding import Severity
from calib.store.documents.travel import TravelDocument
from tests.hands import COUNT_RIG, NOON, VOLT_RIG, ScriptedLine, as_capture, make_rig, pressed


def judge(
    folder: Path,
    volts: np.ndarray,
    rig_text: str = VOLT_RIG,
    earlier: TravelDocument | None = None,
) -> TravelDocument:
    """The document of one control that read ``volts``."""
    rig = make_rig(folder, rig_text)
    return judge_travel(
        as_capture(folder, rig, volts),
        rig,
        "throttle",
        TravelSettings(),
        ("mind the wheel",),
        earlier=earlier,
    )


def codes(document: TravelDocument) -> set[str]:
    """Codes of all findings."""
    return {finding.code for finding in document.findings}


def test_five_good_presses_give_two_values_to_type_in(tmp_path: Path) -> None:
    """Start above rest by at least the floor, end below full travel, both on the setting step."""
    document = judge(tmp_path, pressed(rest_V=1.05, full_V=4.2))
    assert document.verdict is Severity.PASS
    assert document.presses == 5
    band = document.dead_band
    assert band is not None
    assert band.start == pytest.approx(1.15)
    assert 4.10 <= band.end <= 4.2
    assert round(band.end * 100) == pytest.approx(band.end * 100)


def test_a_reversed_control_has_its_start_above_its_end(tmp_path: Path) -> None:
    """Rest high, full low: start is still the rest side, and the page says that it is reversed."""
    document = judge(tmp_path, pressed(rest_V=4.0, full_V=0.9))
    band = document.dead_band
    assert band is not None
    assert document.reversed
    assert band.start > band.end
    assert band.start <= 4.0 - 0.03 * 3.1
    assert band.end >= 0.9
    assert "reversed" in codes(document)


@pytest.mark.parametrize(
    ("volts", "code", "verdict"),
    [
        (np.full(2000, 1.05), "no-answer", Severity.FAIL),
        (pressed(presses=1)[:260], "never-released", Severity.FAIL),
        (pressed(presses=6)[:-180], "ended-in-hand", Severity.CAUTION),
        (pressed(presses=2), "few-presses", Severity.UNKNOWN),
        (pressed(return_s=0.7), "return-slow", Severity.CAUTION),
        (pressed(return_s=1.6), "return-slow", Severity.FAIL),
        (pressed(rest_V=1.0, full_V=2.0), "span-short", Severity.CAUTION),
        (np.concatenate([pressed(), pressed(full_V=2.6, presses=1)]), "half-pressed",
         Severity.CAUTION),
    ],
)  # fmt: skip
def test_what_the_hand_or_the_signal_did_wrong_is_told(
    tmp_path: Path,
    volts: np.ndarray,
    code: str,
    verdict: Severity,
) -> None:
    """Each has its own finding with what to do, and sets the verdict."""
    document = judge(tmp_path, volts)
    found = {finding.code: finding for finding in document.findings}
    assert found[code].severity is verdict
    assert found[code].action
    assert document.verdict is max(
        (finding.severity for finding in document.findings), key=lambda each: each.rank
    )


@pytest.mark.parametrize("volts", [np.full(2000, 1.05), pressed(presses=1)[:260]])
def test_without_both_ends_there_is_no_value_to_type_in(
    tmp_path: Path,
    volts: np.ndarray,
) -> None:
    """A control that was not worked and released gives no dead band, not a guessed one."""
    document = judge(tmp_path, volts)
    assert document.dead_band is None
    assert document.fault_window is None
    assert document.full is None


def test_full_travel_at_the_top_code_is_no_full_travel(tmp_path: Path) -> None:
    """A converter that reads its highest code does not know how high the wire is."""
    counts = np.clip(np.floor(pressed(rest_V=1.0, full_V=5.4) / 5 * 1024), 0, 1023)
    document = judge(tmp_path, counts, COUNT_RIG)
    assert "clips" in codes(document)
    assert document.verdict is Severity.FAIL


def test_a_capture_that_began_in_the_hand_is_not_taken_for_a_reversed_control(
    tmp_path: Path,
) -> None:
    """Mistaken, the dead band would give power with the hand off: so no value, and unknown."""
    held_first = pressed(presses=6, work_s=0.6, return_s=0.12)[185:-130]
    document = judge(tmp_path, held_first)
    assert document.verdict is Severity.UNKNOWN
    assert "which-end-is-rest" in codes(document)
    assert document.dead_band is None


@pytest.mark.parametrize("was_reversed", [True, False])
def test_ends_that_changed_places_since_the_last_record_fail(
    tmp_path: Path, *, was_reversed: bool
) -> None:
    """Swapped supply and ground turn a control round; the earlier record knows."""
    earlier = TravelDocument(verdict=Severity.PASS, channel="throttle", reversed=was_reversed)
    ends = {"rest_V": 1.0, "full_V": 4.0} if was_reversed else {"rest_V": 4.0, "full_V": 1.0}
    document = judge(tmp_path, pressed(**ends), earlier=earlier)  # type: ignore[arg-type]
    assert document.verdict is Severity.FAIL
    assert "direction-changed" in codes(document)
    assert document.dead_band is None


def test_a_line_that_broke_off_first_is_not_blamed_on_the_control(tmp_path: Path) -> None:
    """Unplugged before a press was complete: unknown, whenever the capture is judged."""
    rig = make_rig(tmp_path)
    gone = PortError("The cable went.", "Plug it in.")
    line = ScriptedLine(pressed(presses=1)[:260], fails_with=gone)
    with pytest.raises(BrokenOffError, match="The cable went") as ended:
        capture_until(line, rig, tmp_path, lambda _: False, command="travel", now=NOON)
    path = ended.value.capture
    assert path is not None
    document = judge_travel(read_capture(path), rig, "throttle", TravelSettings(), ())
    assert document.verdict is Severity.UNKNOWN
    assert {"cut-short", "broke-off-first"} <= codes(document)
    assert not any(finding.severity is Severity.FAIL for finding in document.findings)


def test_one_press_is_measured_but_promises_nothing(tmp_path: Path) -> None:
    """No finding of a capture with one press says pass."""
    document = judge(tmp_path, pressed(presses=1))
    assert document.verdict is Severity.UNKNOWN
    measured = next(each for each in document.findings if each.code == "travel-measured")
    assert measured.severity is Severity.UNKNOWN
    assert "1 full press." in measured.text


def test_the_cautions_go_with_the_document(tmp_path: Path) -> None:
    """Whoever reads the JSON alone reads them too."""
    assert judge(tmp_path, pressed()).cautions == ("mind the wheel",)


def test_a_control_that_never_halts_did_move(tmp_path: Path) -> None:
    """Worked to and fro, standing nowhere but at its start: not said to have never moved."""
    sweep = np.concatenate([np.linspace(1.0, 4.0, 60), np.linspace(4.0, 1.0, 60)])
    volts = np.concatenate([np.full(200, 1.0), *[sweep] * 4, np.full(20, 1.0)])
    volts = volts + np.random.default_rng(5).normal(0.0, 0.002, volts.shape)
    document = judge(tmp_path, volts)
    assert "no-answer" not in codes(document)
    assert not any("never moved" in finding.text for finding in document.findings)


def test_a_log_that_ends_held_is_no_hysteresis(tmp_path: Path) -> None:
    """The last hold belongs to no rest: it shifts none, and the page says that it ended in hand."""
    volts = np.concatenate([pressed(presses=5), np.linspace(1.05, 4.2, 30), np.full(300, 4.2)])
    document = judge(tmp_path, volts)
    assert "ended-in-hand" in codes(document)
    assert "rest-after-release" not in codes(document)
