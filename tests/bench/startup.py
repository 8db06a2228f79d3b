"""Start-up of ``calib --help`` and ``calib ports`` over ``import click``.

Run it with ``python -m tests.bench.startup``.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time

RUNS = 40
OURS = {"calib --help": (("--help",), 1.3), "calib ports": (("ports",), 2.0)}
"""Arguments, and the largest ratio to ``import click`` that is wanted."""


def run_s(*arguments: str) -> float:
    """Wall time of one Python process; a verdict of 1 (no port found) is an end as good as 0."""
    start_s = time.perf_counter()
    done = subprocess.run([sys.executable, *arguments], check=False, stdout=subprocess.DEVNULL)
    if done.returncode not in (0, 1):
        raise SystemExit(f"{arguments} ended with {done.returncode}")
    return time.perf_counter() - start_s


def main() -> None:
    """Take turns, so that the machine's load falls on all alike; compare the medians."""
    times: dict[str, list[float]] = {name: [] for name in (*OURS, "import click", "bare Python")}
    for _ in range(RUNS):
        for name, (arguments, _most) in OURS.items():
            times[name].append(run_s("-m", "calib", *arguments))
        times["import click"].append(run_s("-c", "import click"))
        times["bare Python"].append(run_s("-c", "pass"))
    for name, seconds in times.items():
        print(f"{name:<14} {1e3 * statistics.median(seconds):6.1f} ms")
    click = times["import click"]
    for name, (_arguments, most) in OURS.items():
        ratio = statistics.median(times[name]) / statistics.median(click)
        shortest = min(times[name]) / min(click)
        print(f"{name:<14} {ratio:5.2f} of the medians, {shortest:.2f} of the shortest, "
              f"of {RUNS} (at most {most:g})")  # fmt: skip


if __name__ == "__main__":
    main()
