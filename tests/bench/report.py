"""How long a report of ten captures takes, as a ratio to ``import numpy``.

Run it with ``python -m tests.bench.report``. Both are run in fresh processes and alternate, so
that a slow moment of the machine hits both.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
from datetime import timedelta
from pathlib import Path

import msgspec
import numpy as np

from calib.checks.travel.judgement import judge_travel
from calib.checks.travel.numbers import TravelSettings
from calib.store.capture import read_capture
from tests.unit.evidence import RIG, bench, pressed, write_capture

CAPTURES = 10
RATE_HZ = 1000.0
LENGTH_S = 60.0
ROUNDS = 5
MOST_RATIO = 30.0
"""Own choice: a few seconds on an old laptop, on which the import takes a fifth of one."""
MOST_BYTES = 2_000_000

EMPTY = (
    "import time; start = time.perf_counter()\nimport numpy\nprint(time.perf_counter() - start)\n"
)
WHOLE = (
    "import sys, time; start = time.perf_counter()\n"
    "from calib.cli import cli\n"
    "cli.main(['report', '--rig', sys.argv[1] + '/rig.toml'], standalone_mode=False)\n"
    "print(time.perf_counter() - start)\n"
)


def main() -> None:
    """Make ten captures, time both, print the ratio and the size."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        prepare(folder)
        empty, whole = [], []
        for _ in range(ROUNDS):
            empty.append(seconds(EMPTY))
            whole.append(seconds(WHOLE, str(folder)))
        size = (folder / "report.html").stat().st_size
    ratio = statistics.median(whole) / statistics.median(empty)
    lines = (
        f"captures: {CAPTURES} of {LENGTH_S:.0f} s at {RATE_HZ:.0f} Hz, each with its sections",
        f"import numpy: {statistics.median(empty):.2f} s (median of {ROUNDS})",
        f"report: {statistics.median(whole):.2f} s (median of {ROUNDS})",
        f"ratio: {ratio:.2f} (at most {MOST_RATIO:g})",
        f"size: {size} bytes (at most {MOST_BYTES})",
    )
    print("\n".join(lines))
    sys.exit(0 if ratio <= MOST_RATIO and size <= MOST_BYTES else 1)


def prepare(folder: Path) -> None:
    """Ten controls, each with a capture of a minute and the record made from it."""
    names = [f"grip{number}" for number in range(CAPTURES)]
    one = RIG.partition("[channels.grip]")[2].partition("[channels.lever]")[0]
    here = bench(folder, "".join(f"[channels.{name}]{one}" for name in names))
    for number, channel in enumerate(names):
        volts = pressed(presses=21, rate_hz=RATE_HZ, seed=number)
        volts = np.resize(volts, int(LENGTH_S * RATE_HZ))
        here.now += timedelta(seconds=1)
        path = write_capture(here, volts, rate_hz=RATE_HZ)
        document = judge_travel(read_capture(path), here.rig, channel, TravelSettings(), ("Mind.",))
        here.keep(msgspec.structs.replace(document), channel)


def seconds(code: str, *arguments: str) -> float:
    """What a fresh process says it took."""
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments], check=True, capture_output=True, text=True
    )
    return float(done.stdout.split()[-1])


if __name__ == "__main__":
    main()
