"""A live flow that is told to stop, on a terminal of its own: by a key, a kill, a closed window."""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest

from calib.store.capture import read_capture
from tests.e2e.running import ENVIRONMENT, bench

BENCH = ("--seed", "4", "--hands", "throttle")
LEFT = b"\x1b[?25h\x1b[?1049l"
"""The cursor back, and the screen that was there before: how a live page is left."""


class Window:
    """A terminal window with one command running in it."""

    def __init__(self, arguments: tuple[str, ...], folder: Path) -> None:
        """Open it; the command's session has it for its terminal."""
        self.master, self._slave = os.openpty()
        self.before = termios.tcgetattr(self._slave)
        self.seen = b""
        self.running = subprocess.Popen(
            [sys.executable, "-c", _IN_A_SESSION, *arguments],
            cwd=folder, env=ENVIRONMENT | {"TERM": "xterm"},
            stdin=self._slave, stdout=self._slave, stderr=self._slave, start_new_session=True,
        )  # fmt: skip

    def read_until(self, done: Callable[[], bool], timeout_s: float = 40.0) -> None:
        """Read what it shows: nobody goes on writing where nobody reads."""
        deadline_s = time.monotonic() + timeout_s
        while not done():
            assert time.monotonic() < deadline_s, self.seen[-2000:]
            self._read()

    def ends(self, timeout_s: float = 30.0) -> int:
        """Its exit code, all that it still says read."""
        deadline_s = time.monotonic() + timeout_s
        while self.running.poll() is None:
            assert time.monotonic() < deadline_s
            self._read()
        self._read()
        return self.running.returncode

    def _read(self) -> None:
        while self.master >= 0 and select.select([self.master], [], [], 0.05)[0]:
            self.seen += os.read(self.master, 65536)

    @property
    def settings(self) -> list[int | list[bytes | int]]:
        """The terminal's settings now."""
        return termios.tcgetattr(self._slave)

    def shut(self) -> None:
        """Close the window while the command still runs."""
        os.close(self._slave)
        os.close(self.master)
        self.master = self._slave = -1

    def close(self) -> None:
        """End all of it."""
        self.running.kill()
        self.running.wait()
        for file in (self.master, self._slave):
            with suppress(OSError):
                os.close(file)


# A process has the terminal of its session for its own only once it has asked for it.
_IN_A_SESSION = """
import fcntl, sys, termios
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
from calib.cli import main
main(sys.argv[1:])
"""


def _has_grown(folder: Path) -> bool:
    return any(path.stat().st_size > 2_000 for path in (folder / "captures").glob("*.csv"))


@contextmanager
def travel(folder: Path) -> Iterator[tuple[Window, Path]]:
    """A travel in its window, with its page up, and its growing capture."""
    with bench(folder, *BENCH):
        window = Window(("travel", "throttle", "--presses", "50"), folder)
        try:
            window.read_until(lambda: b"Ctrl-C stops" in window.seen and _has_grown(folder))
            yield window, next((folder / "captures").glob("*.csv"))
        finally:
            window.close()


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_kill_leaves_terminal_and_capture_as_ctrl_c_does(
    how: signal.Signals, tmp_path: Path
) -> None:
    """Exit 130; the page is left, the keyboard echoes again, the capture is closed and named."""
    with travel(tmp_path) as (window, path):
        assert window.settings != window.before  # the keyboard was quiet
        window.running.send_signal(how)
        assert window.ends() == 130
        assert window.settings == window.before
        assert LEFT in window.seen
        after = window.seen.rpartition(LEFT)[2].decode()
        assert path.name in "".join(after.split())
        assert "Traceback" not in after
    assert read_capture(path).noted_sha256 is not None


def test_ctrl_c_is_still_a_key_while_the_keyboard_is_quiet(tmp_path: Path) -> None:
    """Typed into the window as a person does, it stops the flow."""
    with travel(tmp_path) as (window, path):
        os.write(window.master, b"\x03")
        assert window.ends() == 130
    assert read_capture(path).noted_sha256 is not None


def test_a_window_that_is_shut_closes_the_capture(tmp_path: Path) -> None:
    """The terminal has gone: nothing can be shown any more, and what was captured is whole."""
    with travel(tmp_path) as (window, path):
        window.shut()
        assert window.running.wait(timeout=30) == 130
    assert read_capture(path).noted_sha256 is not None


def test_a_watch_is_as_quiet_and_leaves_as_cleanly(tmp_path: Path) -> None:
    """Keys are not echoed over the page, and a kill gives the terminal back."""
    with bench(tmp_path, *BENCH):
        window = Window(("watch",), tmp_path)
        try:
            window.read_until(lambda: b"throttle" in window.seen)
            os.write(window.master, b"elbow")
            window.seen = b""
            window.read_until(lambda: window.seen.count(b"throttle") > 3)
            assert b"elbow" not in window.seen
            window.running.send_signal(signal.SIGTERM)
            assert window.ends() == 130
            assert window.settings == window.before
            assert LEFT in window.seen
        finally:
            window.close()
