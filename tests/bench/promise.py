"""Whether the rest limit keeps its promise, and what it wastes: `python -m tests.bench.promise`.

Every cell is one kind of sensor and one count of presses. The limit is `rest.limit_high`, before
floor and rounding, at content 99.9 % and confidence 95 %. Exit code 1 when a bar is missed.
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
import zlib
from dataclasses import dataclass

import numpy as np

from calib.measure.spread import level_spread
from calib.measure.tolerance import tolerance_limits
from tests.bench.sensors import REST_V, Sensor, capture, kinds, true_limit_V

CONTENT, CONFIDENCE = 0.999, 0.95
PRESSES = (3, 5, 10)
METHODS = ("calib", "mean + 3 sd", "largest seen", "0.09 V")
FIXED_MARGIN_V = 0.09
LEAST_KEPT, LEAST_MEAN_KEPT = 0.93, 0.95
MOST_WASTE = {5: 2.0, 10: 1.5}
RATIO_WEIGHT = {0.3: 0.25, 1.0: 0.5, 3.0: 0.25}


@dataclass(frozen=True)
class Cell:
    """Outcome of one cell: per method the share of promises kept and the mean margin over need."""

    sensor: Sensor
    presses: int
    kept: tuple[float, ...]
    margin: tuple[float, ...]
    warned: float


def run_cell(job: tuple[Sensor, int, int]) -> Cell:
    """One cell, seeded by its own name."""
    sensor, presses, captures = job
    rng = np.random.default_rng([zlib.crc32(sensor.name.encode()), presses])
    truth_V = true_limit_V(sensor.ratio, sensor.within, sensor.between, CONTENT)
    limits_V = np.empty((captures, len(METHODS)))
    warned = 0
    for row in limits_V:
        plateaus = capture(sensor, presses, rng)
        limits = tolerance_limits(
            level_spread(plateaus, lsb=sensor.lsb_V), content=CONTENT, confidence=CONFIDENCE
        )
        readings = np.concatenate(plateaus)
        mean_V = float(readings.mean())
        row[:] = (
            limits.high,
            mean_V + 3.0 * float(readings.std(ddof=1)),
            float(readings.max()),
            mean_V + FIXED_MARGIN_V,
        )
        warned += limits.between_is_odd
    need_V = 3.090232306167813 * sensor.sd_V
    return Cell(
        sensor=sensor,
        presses=presses,
        kept=tuple((limits_V >= truth_V).mean(axis=0).tolist()),
        margin=tuple(((limits_V - REST_V).mean(axis=0) / need_V).tolist()),
        warned=warned / captures,
    )


def wasted(cells: list[Cell], presses: int, method: int) -> float:
    """Mean margin over need, the ratios 0.3, 1 and 3 weighted a quarter, a half, a quarter."""
    return sum(
        weight
        * float(
            np.mean(
                [
                    cell.margin[method]
                    for cell in cells
                    if cell.sensor.barred and cell.presses == presses and cell.sensor.ratio == ratio
                ]
            )
        )
        for ratio, weight in RATIO_WEIGHT.items()
    )


def table(cells: list[Cell]) -> str:
    """One line a kind of sensor: kept share and margin for 3, 5 and 10 presses."""
    lines = ["ratio lag1 LSB_mV noise between rate_Hz | kept/margin at 3, 5, 10 presses | warned"]
    for sensor in dict.fromkeys(cell.sensor for cell in cells):
        own = [cell for cell in cells if cell.sensor == sensor]
        figures = "  ".join(f"{cell.kept[0]:.3f}/{cell.margin[0]:.2f}" for cell in own)
        warned = "  ".join(f"{cell.warned:.2f}" for cell in own)
        lines.append(f"{sensor.name:40} | {figures} | {warned}{'' if sensor.barred else ' no bar'}")
    return "\n".join(lines)


def summary(cells: list[Cell]) -> tuple[str, bool]:
    """The table for the README, and whether every bar was met."""
    barred = [cell for cell in cells if cell.sensor.barred]
    lines = [
        "| limit of rest | promise kept, mean | worst cell | margin/need at 3 | at 5 | at 10 |",
        "|---|---|---|---|---|---|",
    ]
    for index, method in enumerate(METHODS):
        kept = [cell.kept[index] for cell in barred]
        waste = " | ".join(f"{wasted(cells, presses, index):.2f}" for presses in PRESSES)
        lines.append(f"| {method} | {np.mean(kept):.3f} | {min(kept):.3f} | {waste} |")
    kept = [cell.kept[0] for cell in barred]
    met = (
        min(kept) >= LEAST_KEPT
        and float(np.mean(kept)) >= LEAST_MEAN_KEPT
        and all(wasted(cells, presses, 0) <= most for presses, most in MOST_WASTE.items())
    )
    return "\n".join(lines), met


def main() -> int:
    """Run the campaign and print both tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--captures", type=int, default=2000)
    parser.add_argument("--processes", type=int, default=1)
    options = parser.parse_args()
    jobs = [(kind, presses, options.captures) for kind in kinds() for presses in PRESSES]
    with multiprocessing.Pool(options.processes) as pool:
        cells = pool.map(run_cell, jobs, chunksize=1)
    text, met = summary(cells)
    sys.stdout.write(f"{table(cells)}\n\n{text}\n\nbars {'met' if met else 'MISSED'}\n")
    return 0 if met else 1


if __name__ == "__main__":
    raise SystemExit(main())
