"""One run of the demo for all tests that look at what it left behind."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

HANGS_S = 240.0  # what `tests.bench.first_run` times is not held here: the machine may be busy


@dataclass(frozen=True)
class Ran:
    """A demo that ended."""

    out: Path
    done: subprocess.CompletedProcess[str]


def demo(out: Path, *arguments: str) -> Ran:
    """Run the demo into ``out``."""
    done = subprocess.run(
        [sys.executable, "-m", "calib", "demo", "--out", str(out), *arguments],
        capture_output=True,
        text=True,
        timeout=HANGS_S,
        stdin=subprocess.DEVNULL,
        check=False,
    )
    return Ran(out, done)


@pytest.fixture(scope="session")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Ran:
    """The demo without a fault."""
    return demo(tmp_path_factory.mktemp("demo"))
