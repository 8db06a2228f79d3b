"""Start-up of ``calib --help`` over ``import click``: ``python -m tests.bench.startup``."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time

RUNS = 40


def run_s(*arguments: str) -> float:
    """Wall time of one Python process."""
    start_s = time.perf_counter()
    subprocess.run([sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - start_s


def main() -> None:
    """Take turns, so that the machine's load falls on both alike; compare the medians."""
    ours, click, bare = [], [], []
    for _ in range(RUNS):
        ours.append(run_s("-m", "calib", "--help"))
        click.append(run_s("-c", "import click"))
        bare.append(run_s("-c", "pass"))
    for name, times in (("calib --help", ours), ("import click", click), ("bare Python", bare)):
        print(f"{name:<14} {1e3 * statistics.median(times):6.1f} ms")
    ratio = statistics.median(ours) / statistics.median(click)
    shortest = min(ours) / min(click)
    print(f"ratio          {ratio:6.2f} of the medians, {shortest:.2f} of the shortest, of {RUNS}")


if __name__ == "__main__":
    main()
