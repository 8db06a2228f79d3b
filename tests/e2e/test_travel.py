from __future__ import annotations

import json
import os
import signal
from pathlib import Path

import pytest

from calib.store.capture import read_capture
from tests.e2e.running import bench, calib, started, wait_for_capture

BENCH = ("--seed", "4", "--hands", "throttle", "--speed", "8")
"""The hands of this bench follow no prompt: where a capture begins in them, it is told."""


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, object]]:
    """A folder with one live travel measurement, and its document."""
    folder = tmp_path_factory.mktemp("travel")
    with bench(folder, *BENCH):
        done = calib("travel", "throttle", "--json", "--yes", "--condition", "cold", cwd=folder)
    assert done.returncode == 0, done.stderr
    return folder, json.loads(done.stdout)


def test_from_two_wires_to_two_voltages(measured: tuple[Path, dict[str, object]]) -> None:
    """Hands-free on a live line: five presses are counted, and the keys are the contract's."""
    _, document = measured
    assert document["schema"] == "calib.travel/1"
    assert document["verdict"] in ("pass", "caution")  # these hands' pace hangs on the load
    assert document["presses"] == 5
    assert {
        "channel", "rest", "full", "reversed", "dead_band", "fault_window", "return_s", "budget",
        "basis", "findings", "cautions", "capture",
    } <= set(document)  # fmt: skip
    rest, full, band = document["rest"], document["full"], document["dead_band"]
    assert isinstance(rest, dict)
    assert isinstance(full, dict)
    assert isinstance(band, dict)
    assert rest["limit_high"] <= band["start"] < band["end"] <= full["limit_low"]


def test_the_evidence_is_kept(measured: tuple[Path, dict[str, object]]) -> None:
    """Capture, metadata and record lie beside the rig file, and the hash is the capture's."""
    folder, document = measured
    capture = document["capture"]
    assert isinstance(capture, dict)
    assert read_capture(folder / capture["path"]).sha256 == capture["sha256"]
    records = list((folder / "records").glob("*-travel-throttle.json"))
    assert len(records) == 1
    record = json.loads(records[0].read_text(encoding="utf-8"))
    assert record["condition"] == "cold"
    assert record["document"] == document


def test_live_and_replay_end_in_the_same_figures(
    measured: tuple[Path, dict[str, object]], tmp_path: Path
) -> None:
    """The capture judged again says what was said while it was live."""
    folder, live = measured
    capture = live["capture"]
    assert isinstance(capture, dict)
    done = calib(
        "travel", "throttle", "--from", capture["path"], "--out", tmp_path, "--json", cwd=folder
    )
    again = json.loads(done.stdout)
    assert again == live


def test_a_plain_text_log_in_the_rigs_layout_will_do(
    measured: tuple[Path, dict[str, object]], tmp_path: Path
) -> None:
    """The device's own lines, logged by any terminal program, give the same travel."""
    folder, live = measured
    capture = live["capture"]
    assert isinstance(capture, dict)
    lines = (folder / capture["path"]).read_text(encoding="utf-8").splitlines()
    log = tmp_path / "terminal.log"
    log.write_text("\r\n".join(line.split(",", 2)[2] for line in lines) + "\r\n", encoding="utf-8")
    done = calib("travel", "throttle", "--from", log, "--out", tmp_path, "--json", cwd=folder)
    again = json.loads(done.stdout)
    assert again["dead_band"] == live["dead_band"]
    assert again["rest"] == live["rest"]


def test_ctrl_c_keeps_the_capture_and_says_where(tmp_path: Path) -> None:
    """Exit code 130; the capture that is named can be judged."""
    with (
        bench(tmp_path, *BENCH),
        started("travel", "throttle", "--presses", "50", cwd=tmp_path) as running,
    ):
        path = wait_for_capture(tmp_path, 20_000)
        running.send_signal(signal.SIGINT)
        _, err = running.communicate(timeout=30)
    assert running.returncode == 130
    assert path.name in err
    assert "Traceback" not in err
    assert read_capture(path).noted_sha256 is not None


def test_a_capture_whose_tool_was_killed_can_be_judged(tmp_path: Path) -> None:
    """SIGKILL closes nothing, yet every whole line that was written counts."""
    with (
        bench(tmp_path, *BENCH),
        started("travel", "throttle", "--presses", "50", cwd=tmp_path) as running,
    ):
        path = wait_for_capture(tmp_path, 120_000)
        running.kill()
        running.communicate(timeout=30)
    done = calib("travel", "throttle", "--from", path, "--json", "--presses", "3", cwd=tmp_path)
    document = json.loads(done.stdout)
    assert document["capture"]["samples"] > 1000
    assert document["presses"] >= 3
    assert document["dead_band"] is not None


def test_a_live_machine_is_never_measured_without_the_word(tmp_path: Path) -> None:
    """``--yes`` does not confirm the isolation: nothing is opened, nothing captured."""
    master, slave = os.openpty()
    port = os.ttyname(slave)
    os.close(slave)
    (tmp_path / "rig.toml").write_text(
        f'[link]\nport = "{port}"\n[channels.throttle]\nrole = "control"\ncolumn = 0\nunit = "V"\n',
        encoding="utf-8",
    )
    with started("travel", "throttle", "--yes", cwd=tmp_path) as running:
        _, err = running.communicate(timeout=30)
    os.close(master)
    assert running.returncode == 130
    assert "wheel up" in " ".join(err.split())
    assert not (tmp_path / "captures").exists()


def test_an_old_capture_judged_again_is_no_fresher_than_it_was(
    measured: tuple[Path, dict[str, object]], tmp_path: Path
) -> None:
    """The record keeps the time of the measurement, or a rewire since then would be forgotten."""
    folder, live = measured
    capture = live["capture"]
    assert isinstance(capture, dict)
    old = tmp_path / "old.csv"
    old.write_bytes((folder / capture["path"]).read_bytes())
    (tmp_path / "old.csv-metadata.json").write_text(
        '{"dc:created": "2026-01-01T10:59:57+00:00", "calib:closed": true}', encoding="utf-8"
    )
    calib("travel", "throttle", "--from", old, "--out", tmp_path, cwd=folder)
    record = next((tmp_path / "records").glob("*.json"))
    measured_at = json.loads(record.read_text(encoding="utf-8"))["measured_at"]
    assert measured_at.startswith("2026-01-01T10:59:57")


def test_only_a_control_has_a_travel(measured: tuple[Path, dict[str, object]]) -> None:
    """The supply rail is refused before anybody is asked to press it."""
    folder, _ = measured
    done = calib("travel", "rail", cwd=folder)
    assert done.returncode == 2
    assert "Controls in this rig file: throttle, regen." in done.stderr
