"""`calib travel` on what ordinary hands do, as a script runs it: right values, or words."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from calib.cli import main

REST_V, FULL_V = 0.90, 4.05
RATE_HZ = 100.0
RIG = """\
[time]
column = "t_ms"
unit = "ms"

[channels.throttle]
role = "control"
column = "a0"
unit = "count"
full_scale = 1024
reference_V = 5.0
reference_tolerance_pct = 1.0
"""

Knots = list[tuple[float, float]]


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Works in a folder with the rig file of a 10-bit logger."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "rig.toml").write_text(RIG, encoding="utf-8")


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str]:
    """Exit code of a command and what stdout got."""
    with pytest.raises(SystemExit, match=r"\d+") as ended:
        main(arguments)
    assert isinstance(ended.value.code, int)
    return ended.value.code, capsys.readouterr().out


def log_of(presses: list[Knots], *, tremble: float = 0.0) -> str:
    """The log of a hand, with 1.2 s of rest after each press.

    A knot is a duration in s and the share of the travel at its end; the last one of a press says
    where the control rests then. Beyond nine tenths the hand trembles by a share at 8 Hz.
    """
    knots: Knots = [(1.5, 0.0)]
    for press in presses:
        knots += [*press, (1.2, press[-1][1])]
    knots += [(0.1, 0.0), (1.0, 0.0)]
    times_s = np.cumsum([0.0, *(duration_s for duration_s, _ in knots)])
    time_s = np.arange(0.0, times_s[-1], 1.0 / RATE_HZ)
    share = np.interp(time_s, times_s, [0.0, *(share for _, share in knots)])
    share += tremble * np.sin(2.0 * np.pi * 8.0 * time_s) * (share > 0.9)
    volts = REST_V + (FULL_V - REST_V) * share
    volts += np.random.default_rng(3).normal(0.0, 0.003, volts.shape)
    counts = np.floor(volts * 1024.0 / 5.0).astype(int)
    rows = zip(time_s.tolist(), counts.tolist(), strict=True)
    return "\r\n".join(["t_ms,a0", *(f"{round(1e3 * at_s)},{n}" for at_s, n in rows)]) + "\r\n"


def judged(
    capsys: pytest.CaptureFixture[str], presses: list[Knots], *, tremble: float = 0.0
) -> tuple[int, dict[str, Any]]:
    """Exit code and document of a hand."""
    Path("hand.log").write_text(log_of(presses, tremble=tremble), encoding="utf-8")
    code, out = run(capsys, "travel", "throttle", "--from", "hand.log", "--json")
    document: dict[str, Any] = json.loads(out)
    return code, document


PLAIN: Knots = [(0.3, 1.0), (1.0, 1.0), (0.12, 0.0)]

RIGHT: dict[str, tuple[list[Knots], float]] = {
    "stops 2 % short for 0.4 s, then goes to the stop": (
        [[(0.3, 0.98), (0.4, 0.98), (0.1, 1.0), (0.8, 1.0), (0.12, 0.0)]] * 5, 0.0,
    ),
    "sags by 3 %": ([[(0.3, 1.0), (1.0, 0.97), (0.12, 0.0)]] * 5, 0.0),
    "sags by 5 %": ([[(0.3, 1.0), (1.0, 0.95), (0.12, 0.0)]] * 5, 0.0),
    "pauses at 90 %": (
        [[(0.3, 0.9), (0.5, 0.9), (0.2, 1.0), (0.8, 1.0), (0.12, 0.0)]] * 5, 0.0,
    ),
    "halts at 10 % when it lets go": (
        [[(0.3, 1.0), (0.8, 1.0), (0.1, 0.1), (0.4, 0.1), (0.1, 0.0)]] * 5, 0.0,
    ),
    "takes 10 s for a press": ([[(10.0, 1.0), (1.0, 1.0), (0.12, 0.0)]] * 5, 0.0),
    "trembles by 1 % at 8 Hz": ([PLAIN] * 5, 0.01),
    "trembles by 2 % at 8 Hz": ([PLAIN] * 5, 0.02),
}  # fmt: skip


@pytest.mark.parametrize("hand", RIGHT)
def test_a_hand_that_is_not_even_gets_right_values(
    capsys: pytest.CaptureFixture[str], hand: str
) -> None:
    """Start and end lie near true rest and the true stop, on the safe side of both.

    Five presses are counted, and nothing is said of the line or the direction.
    """
    presses, tremble = RIGHT[hand]
    code, document = judged(capsys, presses, tremble=tremble)
    assert (code, document["presses"], document["reversed"]) == (0, 5, False)
    span_V = FULL_V - REST_V
    assert REST_V < document["dead_band"]["start"] < REST_V + 0.06 * span_V
    assert FULL_V - 0.10 * span_V < document["dead_band"]["end"] < FULL_V
    told = {finding["code"] for finding in document["findings"]}
    assert not told & {"drop-outs", "reversed", "which-end-is-rest", "no-answer", "not-held"}


WORDS: dict[str, tuple[list[Knots], tuple[str, str]]] = {
    "leaves the thumb on at 3 %": (
        [*[[(0.3, 1.0), (1.0, 1.0), (0.12, 0.03)]] * 4, PLAIN],
        ("Between presses it stood at 0, 3, 3, 3, 3 and 0 % of the travel", "thumb"),
    ),
    "stops elsewhere each time": (
        [[(0.3, stop), (1.0, stop), (0.12, 0.0)] for stop in (0.86, 0.97, 0.91, 0.99, 0.88)],
        ("You stopped at 87, 98, 92, 100 and 89 % of the travel", "Press to the stop"),
    ),
}


@pytest.mark.parametrize("hand", WORDS)
def test_a_hand_that_spoils_the_values_gets_words_and_no_number(
    capsys: pytest.CaptureFixture[str], hand: str
) -> None:
    """Unknown and exit code 1; no value in JSON, on the page or on the sheet.

    The text names where this hand stood, and what to do.
    """
    presses, (text, action) = WORDS[hand]
    code, document = judged(capsys, presses)
    assert (code, document["verdict"]) == (1, "unknown")
    assert document["dead_band"] is None
    assert document["fault_window"] is None
    said = next(each for each in document["findings"] if each["code"] == "dead-travel")
    assert text in said["text"]
    assert action in said["action"]
    _, page = run(capsys, "travel", "throttle", "--from", "hand.log")
    assert "no value" in page
    _, sheet = run(capsys, "sheet", "--json")
    assert {entry["value"] for entry in json.loads(sheet)["entries"]} == {None}


def test_room_for_the_scale_is_not_blamed_on_the_hand(capsys: pytest.CaptureFixture[str]) -> None:
    """A logger that nobody trued costs a tenth of the travel: the caution says so, and the cure."""
    Path("rig.toml").write_text(RIG.replace("= 1.0", "= 7.0"), encoding="utf-8")
    code, document = judged(capsys, [PLAIN] * 5)
    said = next(each for each in document["findings"] if each["code"] == "dead-travel")
    assert (code, said["severity"]) == (0, "caution")
    assert "room for what the scale may be off" in said["text"]
    assert "stopped at" not in said["text"]
    assert "calib meter" in said["action"]
