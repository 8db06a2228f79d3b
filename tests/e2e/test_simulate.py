from __future__ import annotations

import signal
import subprocess
import sys
from pathlib import Path

import pytest

from calib.cli.simulate import HANDS, MAKES
from calib.mule.bench import KINDS
from calib.mule.hands import SCRIPTS
from calib.store.rig import load_rig


def _simulate(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "calib", "simulate", *arguments],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def test_first_line_is_the_path_and_nothing_else_on_stdout(tmp_path: Path) -> None:
    """Stdout holds one line, the path, which the rig file names too."""
    rig = tmp_path / "rig.toml"
    done = _simulate("--for", "0.3", "--fault", "ground-lost:3", "--write-rig", str(rig))
    assert done.returncode == 0
    assert done.stdout.count("\n") == 1
    assert done.stdout.startswith("/dev/")
    assert load_rig(rig).link.port == done.stdout.strip()


def test_ctrl_c_ends_it_with_130() -> None:
    """The person ends the bench with Ctrl-C."""
    with subprocess.Popen(
        [sys.executable, "-m", "calib", "simulate"], stdout=subprocess.PIPE, text=True
    ) as running:
        assert running.stdout is not None
        assert running.stdout.readline().startswith("/dev/")
        running.send_signal(signal.SIGINT)
        assert running.wait(timeout=30) == 130


@pytest.mark.parametrize("fault", ["gremlins", "ground-lost:9"])
def test_unknown_fault_is_wrong_use(fault: str) -> None:
    """Exit 2, one line, no traceback, nothing on stdout."""
    done = _simulate("--fault", fault)
    assert done.returncode == 2
    assert done.stdout == ""
    assert "Traceback" not in done.stderr


def test_rig_file_that_is_there_is_left_alone(tmp_path: Path) -> None:
    """A rig file is never overwritten."""
    rig = tmp_path / "rig.toml"
    rig.write_text("mine")
    done = _simulate("--for", "0.1", "--write-rig", str(rig))
    assert done.returncode == 2
    assert rig.read_text() == "mine"


def test_a_bench_that_runs_again_renews_the_rig_file_that_it_wrote(tmp_path: Path) -> None:
    """Its port is new each time; nobody has changed anything in that file but the bench."""
    rig = tmp_path / "rig.toml"
    for _ in range(2):
        done = _simulate("--for", "0.1", "--write-rig", str(rig))
        assert done.returncode == 0
        assert load_rig(rig).link.port == done.stdout.strip()


def test_choices_in_the_help_are_those_of_the_bench() -> None:
    """The command lists its choices without importing the bench; they must not part."""
    assert set(HANDS) == set(SCRIPTS)
    assert set(MAKES) == set(KINDS)
