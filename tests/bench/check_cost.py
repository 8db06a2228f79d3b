"""What judging a check costs: python -m tests.bench.check_cost.

A check of one minute at 1 kHz with ten channels is read back and judged; the time is given as a
share of the capture's length. Bar: 0.01.
"""

from __future__ import annotations

import statistics
import tempfile
import time
from pathlib import Path
from typing import Final

from calib.checks.bench.judgement import judge_check
from calib.mule import faults
from calib.mule.bench import CHANNELS, Bench, draw_bench
from tests.bench.mule_captures import capture_of, rig_for
from tests.records import record_of

BAR: Final = 0.01
LENGTH_S: Final = 60.0
RUNS: Final = 9
CASES: Final = (None, "glitches-flexed", "noise-grown", "supply-noise", "channels-swapped")


def main() -> int:
    """Print the share for a sound bench and for faults that make the check look twice."""
    sound = draw_bench(3, "quiet")
    worst = 0.0
    with tempfile.TemporaryDirectory() as folder:
        rig = rig_for(sound, Path(folder))
        earlier = record_of(judge_check(capture_of(sound, session=0), rig, ()))
        for kind in CASES:
            bench: Bench = sound if kind is None else faults.planted(kind, 1).on(sound)
            whole = capture_of(bench, session=1)
            tail_s = max(0.0, LENGTH_S - float(whole.time_s[-1]))
            capture = capture_of(bench, session=1, tail_s=tail_s)
            length_s = float(capture.time_s[-1])
            times_s = []
            for _ in range(RUNS):
                start_s = time.perf_counter()
                judge_check(capture, rig, (), earlier=earlier)
                times_s.append(time.perf_counter() - start_s)
            share = statistics.median(times_s) / length_s
            worst = max(worst, share)
            print(
                f"{kind or 'sound':20} {len(capture)} samples of {len(CHANNELS)} channels, "
                f"{length_s:.1f} s: judged in {share:.5f} of it (slowest "
                f"{max(times_s) / length_s:.5f})"
            )
    print(f"worst median {worst:.5f}, bar {BAR}")
    return 0 if worst <= BAR else 1


if __name__ == "__main__":
    raise SystemExit(main())
