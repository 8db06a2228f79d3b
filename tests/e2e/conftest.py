"""One run of the demo for all tests that look at what it left behind; what waits begins first."""

from __future__ import annotations

import fcntl
import json
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

HERE = Path(__file__).parent
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
def plain(tmp_path_factory: pytest.TempPathFactory, pytestconfig: pytest.Config) -> Ran:
    """The demo without a fault, run by the first worker that needs it; nobody writes there."""
    base = tmp_path_factory.getbasetemp()
    shared = base.parent if hasattr(pytestconfig, "workerinput") else base
    out, ended = shared / "demo", shared / "demo.json"
    with (shared / "demo.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not ended.exists():
            done = demo(out).done
            told = [done.args, done.returncode, done.stdout, done.stderr]
            ended.write_text(json.dumps(told), encoding="utf-8")
    return Ran(out, subprocess.CompletedProcess(*json.loads(ended.read_text(encoding="utf-8"))))


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The demo first, then what needs none, then what looks at it, which is there by then."""
    looking = {item.path for item in items if "plain" in getattr(item, "fixturenames", ())}
    first = HERE / "test_demo.py"

    def place(item: pytest.Item) -> int:
        if item.path == first:
            return 0
        if item.path.parent != HERE:
            return 3
        return 2 if item.path in looking else 1

    items.sort(key=place)
