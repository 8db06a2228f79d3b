"""The demo with a fault, and where it must not be run: each with a folder of its own."""

from __future__ import annotations

import json
from pathlib import Path

from tests.e2e.conftest import demo


def test_plain_fault_is_told(tmp_path: Path) -> None:
    """After the rewire that loses a ground the check fails, and the demo says what was said."""
    ran = demo(tmp_path, "--fault", "ground-lost")
    assert ran.done.returncode == 0, ran.done.stderr
    assert "The fault was ground-lost:1 on throttle" in ran.done.stdout
    first, second = sorted((tmp_path / "records").glob("*-check.json"))
    assert json.loads(first.read_text())["document"]["verdict"] == "caution"
    after = json.loads(second.read_text())["document"]
    assert after["channels"]["throttle"]["verdict"] == "fail"
    assert after["channels"]["regen"]["verdict"] == "pass"


def test_fault_that_nothing_tells_is_said_not_to_be_found(tmp_path: Path) -> None:
    """A spot of 4 % of the span is beyond the check: exit 1, and no claim that it was caught."""
    ran = demo(tmp_path, "--fault", "spot-worn:5", "--json", "--yes")
    assert ran.done.returncode == 1
    assert "was NOT found" in ran.done.stderr
    told = json.loads(ran.done.stdout)
    assert (told["schema"], told["verdict"], told["found"]) == ("calib.demo/1", "fail", False)
    assert all(step["as_expected"] for step in told["steps"])


def test_somebodys_rig_file_is_left_alone(tmp_path: Path) -> None:
    """A folder with another rig file is refused, exit 2."""
    (tmp_path / "rig.toml").write_text('[rig]\nname = "mine"\n')
    ran = demo(tmp_path)
    assert ran.done.returncode == 2
    assert (tmp_path / "rig.toml").read_text() == '[rig]\nname = "mine"\n'


def test_folder_that_cannot_be_made_is_wrong_use(tmp_path: Path) -> None:
    """A file in the way of the folder ends with one line and exit 2."""
    (tmp_path / "file").write_text("")
    ran = demo(tmp_path / "file" / "out")
    assert ran.done.returncode == 2
    assert "Traceback" not in ran.done.stderr


def test_unknown_fault_is_wrong_use(tmp_path: Path) -> None:
    """Exit 2 before anything is written."""
    ran = demo(tmp_path / "new", "--fault", "gremlins")
    assert ran.done.returncode == 2
    assert not (tmp_path / "new").exists()
