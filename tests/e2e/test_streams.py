"""Standard streams that are closed, full or gone, and code pages that lack letters."""

from __future__ import annotations

import os
import pty
import shutil
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

from tests.e2e.conftest import Ran
from tests.e2e.running import ENVIRONMENT

COMMANDS = {
    "status": "status --rig {out}/rig.toml",
    "sheet": "sheet --rig {out}/rig.toml",
    "sheet --json": "sheet --rig {out}/rig.toml --json",
    "trust": "trust --rig {out}/rig.toml --yes",
    "history": "history --rig {out}/rig.toml",
    "explain": "explain wiring",
    "schema": "schema travel",
    "help": "--help",
    "wrong": "travl",
    "wrong --json": "travel throttle --rig nowhere.toml --json",
}
STREAMS = {
    "stdin closed": "<&-",
    "stdout closed": ">&-",
    "stderr closed": "2>&-",
    "all closed": "<&- >&- 2>&-",
    "stdout full": ">/dev/full",
    "stderr full": "2>/dev/full",
    "both full": ">/dev/full 2>/dev/full",
    "reader gone": "| true; exit ${{PIPESTATUS[0]}}",
}


@pytest.fixture(scope="module")
def out(plain: Ran, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A demo's folder of our own: ``calib trust`` keeps what it judges."""
    return Path(shutil.copytree(plain.out, tmp_path_factory.mktemp("streams") / "demo"))


def shell(line: str, **environment: str) -> subprocess.CompletedProcess[bytes]:
    """One line in a shell, with nothing typed."""
    return subprocess.run(
        ["bash", "-c", line],
        env=ENVIRONMENT | environment,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        timeout=60,
        check=False,
    )


@cache
def exit_code(line: str) -> int:
    """What a line ends with while its streams are sound."""
    return shell(line).returncode


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
@pytest.mark.parametrize("stream", STREAMS)
@pytest.mark.parametrize("name", COMMANDS)
def test_a_stream_that_fails_is_no_verdict(name: str, stream: str, out: Path) -> None:
    """No traceback; and 1, which means fail, only where the command itself says so."""
    line = f"{sys.executable} -m calib {COMMANDS[name].format(out=out)}"
    sound = exit_code(line)
    done = shell(f"{line} {STREAMS[stream].format()}")
    assert b"Traceback" not in done.stderr
    assert b"Exception ignored" not in done.stderr
    full = stream in ("stdout full", "both full")
    writes_to_stdout = name != "wrong"
    assert done.returncode in ({3} if full and writes_to_stdout else {sound, 130}), done.stderr


def test_a_full_disk_is_named(out: Path) -> None:
    """The line says what the system said."""
    done = shell(f"{sys.executable} -m calib sheet --rig {out}/rig.toml >/dev/full")
    assert done.returncode == 3
    assert b"The output cannot be written: No space left on device." in done.stderr


@pytest.mark.parametrize("encoding", ["cp1252", "ascii", "cp437"])
def test_what_is_redirected_is_utf_8(encoding: str, out: Path) -> None:
    """A program that reads the file later does not depend on this terminal's code page."""
    line = f"{sys.executable} -m calib sheet --rig {out}/rig.toml"
    assert shell(line, PYTHONIOENCODING=encoding).stdout == shell(line).stdout
    assert "±" in shell(line).stdout.decode("utf-8")


@pytest.mark.parametrize("encoding", ["cp1252", "ascii", "latin-1"])
def test_a_terminal_that_lacks_letters_gets_plain_ones(encoding: str, out: Path) -> None:
    """Large letters and rulers stay readable, and nothing ends in a traceback."""
    master, slave = pty.openpty()
    command = [sys.executable, "-m", "calib", "sheet", "--rig", f"{out}/rig.toml"]
    with subprocess.Popen(
        command,
        env=ENVIRONMENT | {"PYTHONIOENCODING": encoding, "TERM": "xterm"},
        stdin=subprocess.DEVNULL,
        stdout=slave,
        stderr=subprocess.PIPE,
    ) as running:
        os.close(slave)
        shown = b""
        while chunk := read(master):
            shown += chunk
        error = running.communicate()[1]
    os.close(master)
    assert error == b""
    text = shown.decode(encoding)
    assert "drive takes up at" in text
    assert ("±" if encoding != "ascii" else "+-") in text


def read(master: int) -> bytes:
    """What a terminal shows next; nothing when the program has ended."""
    try:
        return os.read(master, 4096)
    except OSError:
        return b""
