"""``calib check`` and ``calib history`` as a script runs them, on the simulated bench's lines."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from calib.mule import faults
from calib.mule.bench import CHANNELS, Bench, draw_bench
from calib.mule.hands import bench_check
from calib.mule.rigfile import rig_text
from calib.mule.sampler import Sampler
from calib.mule.stage import Stage

SOUND = draw_bench(77)


def _log(folder: Path, bench: Bench, name: str, session: int) -> Path:
    """A text log as the bench's logger sends it while the hands go through a check."""
    stage = Stage(bench, session)
    bench_check(stage)
    got = Sampler(stage, session).block(int(stage.cursor_s * bench.logger.rate_hz))
    head = "t_ms," + ",".join(f"a{index}" for index in range(len(CHANNELS)))
    rows = [
        f"{t_ms}," + ",".join(str(count) for count in counts)
        for t_ms, counts in zip(got.t_ms.tolist(), got.counts.tolist(), strict=True)
    ]
    path = folder / name
    path.write_text("\r\n".join([head, *rows]) + "\r\n", encoding="utf-8")
    return path


def _calib(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "calib", *arguments],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).resolve().parents[2])},
    )


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a rig file and one good check on record."""
    folder = tmp_path_factory.mktemp("evening")
    (folder / "rig.toml").write_text(rig_text(SOUND, "/dev/null"), encoding="utf-8")
    done = _calib(folder, "check", "--from", str(_log(folder, SOUND, "first.csv", 1)), "--json")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["verdict"] == "caution"
    return folder


def _checked(folder: Path, log: Path, *options: str) -> tuple[int, dict[str, Any]]:
    done = _calib(folder, "check", "--from", str(log), "--json", *options)
    document: dict[str, Any] = json.loads(done.stdout)
    return done.returncode, document


def test_a_sound_machine_passes_against_its_record(evening: Path) -> None:
    """Exit 0, pass, and the fixed keys of the contract."""
    code, document = _checked(evening, _log(evening, SOUND, "second.csv", 2))
    assert code == 0
    assert document["schema"] == "calib.check/1"
    assert document["verdict"] == "pass"
    assert document["compared_with"] is not None
    assert set(document["channels"]) == set(CHANNELS)
    for channel in document["channels"].values():
        assert channel["verdict"] == "pass"
        assert isinstance(channel["findings"], list)
    assert document["capture"]["samples"] > 4000


def test_a_fault_fails_and_is_named(evening: Path) -> None:
    """Exit 1, and the first finding names channel and kind with figure and next step."""
    bad = faults.planted("ground-flexed", 1, "regen").on(SOUND)
    code, document = _checked(evening, _log(evening, bad, "bad.csv", 3))
    assert code == 1
    lead = document["findings"][0]
    assert (lead["code"], lead["channel"]) == ("drop-outs-high", "regen")
    assert lead["value"] > 0
    assert lead["action"]
    assert document["channels"]["regen"]["verdict"] == "fail"
    assert document["channels"]["throttle"]["verdict"] == "pass"


def test_a_failed_check_is_not_compared_with(evening: Path) -> None:
    """The fault on record must not make the same fault pass."""
    bad = faults.planted("rest-moved", 1, "throttle").on(SOUND)
    first, _ = _checked(evening, _log(evening, bad, "moved.csv", 4))
    second, document = _checked(evening, _log(evening, bad, "moved2.csv", 5))
    assert (first, second) == (1, 1)
    assert document["findings"][0]["code"] == "rest-moved"


def test_against_names_the_record(evening: Path) -> None:
    """--against takes the start of an id; an unknown one is wrong use."""
    _, document = _checked(evening, _log(evening, SOUND, "third.csv", 6))
    good = document["compared_with"]
    _, document = _checked(evening, evening / "third.csv", "--against", good)
    assert document["compared_with"] == good
    done = _calib(evening, "check", "--from", "third.csv", "--against", "nonsense")
    assert done.returncode == 2
    assert "calib history" in done.stderr


def test_rewired_is_noted_and_a_routine_check_is_not(evening: Path) -> None:
    """Only --rewired and --remounted leave a note."""
    notes = list((evening / "records").glob("*-note*.json"))
    assert notes == []
    _checked(evening, _log(evening, SOUND, "fourth.csv", 7), "--rewired", "--remounted")
    kinds = {
        json.loads(path.read_text())["document"]["what"]
        for path in (evening / "records").glob("*-note*.json")
    }
    assert kinds == {"rewired", "remounted"}


def test_a_slip_in_a_limit_is_wrong_use(evening: Path, tmp_path: Path) -> None:
    """A limit that nothing reads is refused before anything is judged."""
    text = rig_text(SOUND, "/dev/null") + "\n[channels.throttle.limits]\nretrn_slow_s = 0.4\n"
    (tmp_path / "rig.toml").write_text(text, encoding="utf-8")
    done = _calib(tmp_path, "check", "--from", str(evening / "first.csv"))
    assert done.returncode == 2
    assert "return_slow_s" in done.stderr


def test_unplug_cannot_come_from_a_file(evening: Path) -> None:
    """Nobody knows which wire was pulled when."""
    done = _calib(evening, "check", "--unplug", "throttle", "--from", "first.csv")
    assert done.returncode == 2
    assert "--unplug" in done.stderr


def test_history_lists_compares_and_supersedes(evening: Path) -> None:
    """Every record in order, two held side by side, a bad one put aside with its reason.

    The logs hold no date, so nobody knows when they were made, and no drift is drawn through them.
    """
    _checked(evening, _log(evening, SOUND, "fifth.csv", 8))
    done = _calib(evening, "history", "--json")
    document = json.loads(done.stdout)
    assert done.returncode == 0
    assert document["schema"] == "calib.history/1"
    checks = [entry["id"] for entry in document["records"] if entry["command"] == "check"]
    assert len(checks) >= 2
    assert document["drifts"] == []
    pair = json.loads(
        _calib(evening, "history", "--json", "--compare", checks[0], checks[1]).stdout
    )
    assert {each["channel"] for each in pair["compared"]} == {"throttle", "regen"}
    done = _calib(evening, "history", "--supersede", checks[-1], "--because", "wrong machine")
    assert done.returncode == 0
    assert "superseded: wrong" in done.stdout


def test_the_page_fits_eighty_columns(evening: Path) -> None:
    """Verdict, a row a channel and the findings in a plain terminal."""
    done = _calib(evening, "check", "--from", "first.csv")
    assert max(len(line.rstrip()) for line in done.stdout.splitlines()) <= 80
    assert "throttle" in done.stdout
