"""How long a command takes to be there, as ratios to the import of a library in the same run.

Run it with ``python -m tests.bench.startup``. The least of 20 runs each, which take turns, so that
the machine's load falls on all alike. Compared is the processor's time, which other programs do
not lengthen, of the first frame the time that passes. The folder that is read is the demo's, its
records repeated to 20 and to 2,000 of them.
"""

from __future__ import annotations

import hashlib
import json
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from tests.bench.terminal import Port, Screen
from tests.tools import REPOSITORY
from tests.unit.evidence import bench, pressed, write_capture

RUNS = 20
FEW, MANY = 20, 2000
CLICK, NUMPY, PASSING = "import click", "import numpy", "import numpy, time that passes"
FIRST_FRAME = b"calib cannot see whether the drive is off"


@dataclass(frozen=True)
class Row:
    """What is timed, over what, and the largest ratio that is wanted; own choices."""

    name: str
    over: str
    most: float


ROWS = (
    Row("calib --help", CLICK, 1.3),
    Row("calib ports", CLICK, 2.0),
    Row("calib status", CLICK, 3.0),
    Row("calib sheet", CLICK, 3.0),
    Row("calib history", CLICK, 4.0),
    Row("calib trust", CLICK, 4.0),
    *(
        Row(f"calib {name}, {MANY} records", f"calib {name}", 4.0)
        for name in ("status", "sheet", "history", "trust")
    ),
    Row("calib travel --from, a minute", NUMPY, 5.0),
    Row("calib travel, first frame", PASSING, 5.0),
)


def run_s(*arguments: str, cwd: Path, passing: bool = False) -> float:
    """Processor time of one Python process, or the time that passes; it may end with 0 or 1."""
    start_s, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(
        [sys.executable, *arguments],
        check=False,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        cwd=cwd,
        env=os.environ | {"PYTHONPATH": str(REPOSITORY)},
    )
    if done.returncode not in (0, 1):
        raise SystemExit(f"{arguments} ended with {done.returncode}")
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent_s = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return time.perf_counter() - start_s if passing else spent_s


def repeated(demo: Path, folder: Path, count: int) -> Path:
    """The demo's folder, its records repeated a day apart until there are ``count``."""
    shutil.copytree(demo, folder)
    home = folder / "records"
    records = [json.loads(path.read_bytes()) for path in home.glob("*.json")]
    records.sort(key=lambda each: each["sequence"])
    for number in range(len(records), count):
        new = dict(records[number % len(records)])
        days = timedelta(minutes=number)
        for key in ("judged_at", "measured_at"):
            new[key] = (datetime.fromisoformat(new[key]) + days).isoformat()
        new |= {"sequence": number + 1, "after": [records[-1]["id"]], "measured_after": number}
        stamp = datetime.fromisoformat(new["judged_at"]).strftime("%Y%m%dT%H%M%SZ")
        new["id"] = f"{stamp}-{new['id'].partition('-')[2]}-{number + 2}"
        new["sha256"] = hash_of(new)
        (home / f"{new['id']}.json").write_text(json.dumps(new, indent=2), encoding="utf-8")
        records.append(new)
    return folder


def hash_of(record: Mapping[str, Any]) -> str:
    """SHA-256 of all the rest of a record, as the store has it."""
    rest = {key: value for key, value in record.items() if key != "sha256"}
    return hashlib.sha256(msgspec.json.encode(rest, order="sorted")).hexdigest()


def first_frame_s(folder: Path) -> float:
    """From the start of a travel, its isolation stated, to the first frame of its live page."""
    port, shown, stop = Port(), threading.Event(), threading.Event()
    seen = bytearray()
    at: list[float] = []

    def saw(when_s: float, data: bytes) -> None:
        seen.extend(data)
        if FIRST_FRAME in seen and not at:
            at.append(when_s)
            shown.set()

    def feed() -> None:
        port.wait_until_open()
        os.write(port.master, b"t_ms,a0,a1\r\n")
        for number in range(100_000):
            if stop.wait(0.01):
                return
            os.write(port.master, f"{10 * number},170,1.1\r\n".encode())

    feeder = threading.Thread(target=feed, daemon=True)
    feeder.start()
    start_s = time.monotonic()
    screen = Screen(["travel", "grip", "--isolated", "--port", port.path], folder, saw)
    if not shown.wait(30):
        raise SystemExit(f"no frame was shown: {bytes(seen[-400:])!r}")
    stop.set()
    feeder.join()
    screen.end()
    port.close()
    return at[0] - start_s


def main() -> None:
    """Take turns; print the shortest of each, and its ratio."""
    with tempfile.TemporaryDirectory() as name:
        home = Path(name)
        run_s("-m", "calib", "demo", "--out", str(home / "demo"), cwd=home)
        few, many = (repeated(home / "demo", home / f"{n}", n) for n in (FEW, MANY))
        (home / "grip").mkdir()
        here = bench(home / "grip")
        volts = np.resize(pressed(presses=21, rate_hz=100.0), 6000)
        minute = str(write_capture(here, volts, rate_hz=100.0))

        def calib(*arguments: str, cwd: Path = home) -> Callable[[], float]:
            return lambda: run_s("-m", "calib", *arguments, cwd=cwd)

        timed: dict[str, Callable[[], float]] = {
            CLICK: lambda: run_s("-c", CLICK, cwd=home),
            NUMPY: lambda: run_s("-c", NUMPY, cwd=home),
            PASSING: lambda: run_s("-c", NUMPY, cwd=home, passing=True),
            "calib --help": calib("--help"),
            "calib ports": calib("ports"),
            "calib travel --from, a minute": calib(
                "travel", "grip", "--from", minute, cwd=here.folder
            ),
            "calib travel, first frame": lambda: first_frame_s(here.folder),
        }
        for command in ("status", "sheet", "history", "trust"):
            timed[f"calib {command}"] = calib(command, cwd=few)
            timed[f"calib {command}, {MANY} records"] = calib(command, cwd=many)
        times: dict[str, list[float]] = {each: [] for each in timed}
        for _ in range(RUNS):
            for each, run in timed.items():
                times[each].append(run())
    shortest = {each: min(taken) for each, taken in times.items()}
    for each in (CLICK, NUMPY, PASSING):
        print(f"{each:<32} {1e3 * shortest[each]:6.0f} ms")
    missed = 0
    for row in ROWS:
        ratio = shortest[row.name] / shortest[row.over]
        missed += ratio > row.most
        print(
            f"{row.name:<32} {1e3 * shortest[row.name]:6.0f} ms  {ratio:5.2f} x {row.over} "
            f"(at most {row.most:g})"
        )
    raise SystemExit(missed > 0)


if __name__ == "__main__":
    main()
