"""The command line run as a person runs it, against the simulated bench on its own port."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.tools import REPOSITORY

ENVIRONMENT = os.environ | {"PYTHONPATH": str(REPOSITORY)}
"""This checkout's calib, wherever the command is run."""


def calib(*arguments: str | Path, cwd: Path) -> subprocess.CompletedProcess[str]:
    """Run ``calib`` to its end in ``cwd``."""
    return subprocess.run(
        _line(arguments),
        cwd=cwd,
        env=ENVIRONMENT,
        capture_output=True,
        text=True,
        timeout=90,
        check=False,
    )


@contextmanager
def started(*arguments: str | Path, cwd: Path) -> Iterator[subprocess.Popen[str]]:
    """``calib`` running in ``cwd``; killed at the end if it still does."""
    with subprocess.Popen(
        _line(arguments),
        cwd=cwd,
        env=ENVIRONMENT,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as running:
        try:
            yield running
        finally:
            running.kill()


@contextmanager
def bench(folder: Path, *arguments: str) -> Iterator[str]:
    """The simulated bench, running, with its rig file in ``folder``; gives its port."""
    simulate = [*_line(("simulate",)), "--write-rig", str(folder / "rig.toml"), *arguments]
    with subprocess.Popen(
        simulate, env=ENVIRONMENT, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    ) as running:
        try:
            if running.stdout is None:
                raise RuntimeError
            yield running.stdout.readline().strip()
        finally:
            running.terminate()


def wait_for_capture(folder: Path, least_bytes: int, timeout_s: float = 30.0) -> Path:
    """The capture that is growing in ``folder``, once it holds ``least_bytes``."""
    deadline_s = time.monotonic() + timeout_s
    while time.monotonic() < deadline_s:
        for path in (folder / "captures").glob("*.csv"):
            if path.stat().st_size >= least_bytes:
                return path
        time.sleep(0.02)
    message = f"no capture of {least_bytes} bytes in {folder}"
    raise TimeoutError(message)


def _line(arguments: tuple[str | Path, ...]) -> list[str]:
    return [sys.executable, "-m", "calib", *map(str, arguments)]
