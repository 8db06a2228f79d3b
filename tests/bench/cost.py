"""Cost of analysing a long capture: `python -m tests.bench.cost`.

An hour at 1 kHz and six columns (3.6 million rows): read from disk, hash, measure the travel of a
control, judge it; as a ratio to `pandas.read_csv` of the same file in the same run. Time over
three decades of rows; peak memory against the arrays. Each figure from processes of its own, the
page cache warm for both. Exit code 1 when a bar is missed.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from calib.store.capture_writer import CaptureWriter
from calib.store.rig import load_rig
from calib.store.samples import Samples
from tests.bench.hands import Hand, work

ROWS = (3_600, 36_000, 360_000, 3_600_000)
COLUMNS = ("t_ms", "a0", "a1", "a2", "a3", "a4")
MOST_RATIO, MOST_MEMORY, MOST_SLOPE = 1.5, 3.0, 1.1
BLOCK = 200_000
REPEATS = 5
RIG = """\
[time]
column = "t_ms"

[channels.throttle]
role = "control"
column = "a0"
unit = "count"
full_scale = 1024
reference_V = 5.0
"""
IMPORTS = "import calib.checks.travel.judgement, calib.store.capture, scipy.ndimage, scipy.stats"
ANALYSE = """\
import sys
from calib.checks.travel.judgement import judge_travel, travel_columns
from calib.checks.travel.numbers import TravelSettings
from calib.store.capture import read_capture
from calib.store.rig import load_rig
from pathlib import Path
rig = load_rig(Path(sys.argv[1]).parent / "rig.toml")
capture = read_capture(Path(sys.argv[1]), travel_columns(rig, "throttle"))
document = judge_travel(capture, rig, "throttle", TravelSettings(), ())
"""
TIMED = """\
import time
{imports}
import pandas
best = 1e9
for _ in range(int(sys.argv[2])):
    start = time.perf_counter()
    {body}
    best = min(best, time.perf_counter() - start)
print(best)
"""


def make_capture(folder: Path, rows: int) -> Path:
    """A capture of a control worked again and again, and four more columns, at 1 kHz."""
    folder.mkdir()
    (folder / "rig.toml").write_text(RIG, encoding="utf-8")
    rig = load_rig(folder / "rig.toml")
    hand = Hand(rate_hz=1000.0, presses=5, hold_s=(0.5, 1.5), move_s=(0.08, 0.3))
    rng = np.random.default_rng(101)
    one = np.floor(work(hand, rng).volts * 1024.0 / 5.0)
    path = folder / "hour.csv"
    with CaptureWriter(path, rig, COLUMNS, command="record", started=datetime.now(UTC)) as writer:
        for first in range(0, rows, BLOCK):
            index = np.arange(first, min(first + BLOCK, rows))
            counts = rng.integers(300, 340, (len(index), 4))
            values = np.column_stack([index, one[index % len(one)], counts]).astype(np.int64)
            text = [",".join(map(str, row)) for row in values.tolist()]
            writer.append(Samples(index / 1e3, index / 1e3, values.astype(np.float64), text))
    return path


def best_s(path: Path, body: str, repeats: int) -> float:
    """Best of some runs in one fresh process, imports outside, s."""
    program = "import sys\n" + TIMED.format(imports=IMPORTS, body=body)
    done = subprocess.run(
        [sys.executable, "-c", program, str(path), str(repeats)],
        check=True,
        stdout=subprocess.PIPE,
        text=True,
    )
    return float(done.stdout)


def analysis_s(path: Path, repeats: int) -> float:
    """Time of the whole analysis, s."""
    return best_s(path, f"exec({ANALYSE!r})", repeats)


def pandas_s(path: Path, repeats: int) -> float:
    """Time of `pandas.read_csv` of the same file, s."""
    return best_s(path, "pandas.read_csv(sys.argv[1])", repeats)


def peak_bytes(program: str, path: Path) -> int:
    """Largest resident memory of a process of its own, bytes."""
    watcher = (
        "import resource, subprocess, sys\n"
        "subprocess.run([sys.executable, '-c', sys.argv[1], sys.argv[2]], check=True)\n"
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", watcher, program, str(path)],
        check=True,
        capture_output=True,
        text=True,
    )
    return int(done.stdout) * resource_unit_bytes()


def resource_unit_bytes() -> int:
    """Unit of `ru_maxrss`: kilobytes on Linux, bytes on macOS."""
    return 1 if sys.platform == "darwin" else 1024


def main() -> int:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=ROWS[-1])
    parser.add_argument("--repeats", type=int, default=REPEATS)
    options = parser.parse_args()
    decades = sorted({rows for rows in ROWS if rows < options.rows} | {options.rows})
    with tempfile.TemporaryDirectory() as name:
        paths = {rows: make_capture(Path(name) / str(rows), rows) for rows in decades}
        times = {rows: analysis_s(path, options.repeats) for rows, path in paths.items()}
        longest = paths[options.rows]
        ratio = times[options.rows] / pandas_s(longest, options.repeats)
        peak = peak_bytes(ANALYSE, longest) - peak_bytes(IMPORTS, longest)
        size_MB = longest.stat().st_size / 1e6
    arrays = options.rows * (len(COLUMNS) + 2) * 8
    slope = _slope(times)
    out = sys.stdout
    out.write(f"{options.rows} rows, {len(COLUMNS)} columns and two times, {size_MB:.0f} MB\n")
    for rows, seconds in times.items():
        out.write(
            f"  {rows:>9} rows  {1e3 * seconds:9.1f} ms  {1e9 * seconds / rows:7.0f} ns/row\n"
        )
    met = ratio <= MOST_RATIO and peak <= MOST_MEMORY * arrays and slope <= MOST_SLOPE
    out.write(
        "| whole analysis / pandas.read_csv | time ~ rows to the power | peak / arrays |\n"
        "|---|---|---|\n"
        f"| {ratio:.2f} | {slope:.2f} | {peak / arrays:.2f} |\n"
        f"bars {'met' if met else 'MISSED'}\n"
    )
    return 0 if met else 1


def _slope(times: dict[int, float]) -> float:
    """Exponent of time over rows in the last decade measured; 1 is linear."""
    (rows_a, a), (rows_b, b) = list(times.items())[-2:]
    return float(np.log(b / a) / np.log(rows_b / rows_a))


if __name__ == "__main__":
    raise SystemExit(main())
