"""Whether limits from several evenings hold for the next one: `python -m tests.bench.evenings`.

Rest moves from evening to evening, from press to press and within a stay. Each evening is judged
and kept as a travel's figures; the last one's limits are held against what 99.9 % of the readings
of any future evening need. Exit code 1 when a bar is missed.
"""

from __future__ import annotations

import argparse
import multiprocessing
import zlib
from dataclasses import dataclass

import numpy as np

from calib.checks.travel.evenings import over_evenings
from calib.controls.travel import LevelMeasurement
from calib.measure.coverage import COVERAGE
from calib.measure.spread import level_spread
from calib.measure.tolerance import tolerance_limits
from calib.store.documents.finding import Severity
from calib.store.documents.travel import LevelFigures, TravelDocument
from tests.bench import ledger

EVENINGS = (4, 5, 6, 10)
BETWEEN_EVENINGS_V = (0.001, 0.003, 0.006, 0.012)
RATIOS = (0.3, 1.0, 3.0)
PRESSES = 5
REST_V, FULL_V = 0.9137, 4.0571
STEP_V = 5.0 / 1024.0
NOISE_V = 0.003
Z = 3.0902
LEAST_KEPT = 0.93


@dataclass(frozen=True)
class Cell:
    """Outcome of one count of evenings with one spread between them."""

    evenings: int
    between_V: float
    kept: tuple[float, float]
    margin: float

    @property
    def met(self) -> bool:
        """Whether both ends were kept."""
        return min(self.kept) >= LEAST_KEPT


def run_cell(job: tuple[int, float, int]) -> Cell:
    """One cell, seeded by its own name; the ratios of press to noise take turns."""
    count, between_V, captures = job
    rng = np.random.default_rng([zlib.crc32(b"evenings"), count, round(1e6 * between_V)])
    kept, margins = [], []
    for index in range(captures):
        press_V = NOISE_V * RATIOS[index % len(RATIOS)]
        moved_V = between_V * rng.normal(size=(count, 2))
        nights = [
            (_level(rng, REST_V + rest, press_V), _level(rng, FULL_V + full, press_V))
            for rest, full in moved_V
        ]
        on_file = [_document(rest, full) for rest, full in nights[:-1]]
        rest, full = over_evenings(*nights[-1], on_file)
        need_V = Z * float(np.sqrt(between_V**2 + press_V**2 + NOISE_V**2))
        kept.append((rest.limits.high >= REST_V + need_V, full.limits.low <= FULL_V - need_V))
        margins.append((rest.limits.high - REST_V) / need_V)
    shares = np.array(kept).mean(axis=0)
    return Cell(count, between_V, (float(shares[0]), float(shares[1])), float(np.mean(margins)))


def _level(rng: np.random.Generator, mean_V: float, press_V: float) -> LevelMeasurement:
    """One end on one evening, read by a 10-bit logger at 100 Hz."""
    stays = tuple(
        (
            np.floor(
                (mean_V + press_V * rng.normal() + NOISE_V * rng.normal(size=int(hold))) / STEP_V
            )
            + 0.5
        )
        * STEP_V
        for hold in rng.uniform(40, 150, PRESSES)
    )
    spread = level_spread(stays, lsb=STEP_V)
    return LevelMeasurement(spread, tolerance_limits(spread), stays=())


def _document(rest: LevelMeasurement, full: LevelMeasurement) -> TravelDocument:
    """An evening as it is on file."""
    return TravelDocument(
        verdict=Severity.PASS,
        findings=(),
        channel="throttle",
        rest=_figures(rest),
        full=_figures(full),
        presses=PRESSES,
    )


def _figures(level: LevelMeasurement) -> LevelFigures:
    return LevelFigures(
        mean=level.mean,
        sd_within=level.spread.sd_within,
        sd_between=level.spread.sd_between,
        plateaus=level.spread.plateaus,
        samples=level.spread.samples,
        n_effective=level.spread.n_effective,
        limit_low=level.limits.low,
        limit_high=level.limits.high,
        u=level.spread.u,
        dof=level.spread.plateaus - 1.0,
        expanded=level.spread.u,
        coverage=COVERAGE,
    )


def main() -> int:
    """Run the campaign, print its table and keep it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--captures", type=int, default=2000)
    parser.add_argument("--processes", type=int, default=1)
    options = parser.parse_args()
    jobs = [(count, sd_V, options.captures) for count in EVENINGS for sd_V in BETWEEN_EVENINGS_V]
    with multiprocessing.Pool(options.processes) as pool:
        cells = pool.map(run_cell, jobs, chunksize=1)
    met = all(cell.met for cell in cells)
    rows = []
    for count in EVENINGS:
        own = [cell for cell in cells if cell.evenings == count]
        figures = [f"{cell.kept[0]:.3f} / {cell.kept[1]:.3f} / {cell.margin:.2f}" for cell in own]
        rows.append((count, *figures))
    table = ledger.table(
        ("evenings", *(f"{1e3 * sd_V:g} mV between" for sd_V in BETWEEN_EVENINGS_V)), rows
    )
    said = (
        f"{options.captures} sets of evenings a cell, {PRESSES} presses each, noise of "
        f"{1e3 * NOISE_V:g} mV, presses 0.3, 1 and 3 times that apart: limit of rest kept, limit "
        "of full travel kept, margin over need at rest. "
        f"Bar: {LEAST_KEPT:g} in each cell at both ends; {'met' if met else 'MISSED'}."
    )
    return ledger.publish(
        "evenings",
        "Whether limits from several evenings hold for the next one",
        f"{said}\n\n{table}",
        f"--captures {options.captures}",
        met=met,
    )


if __name__ == "__main__":
    raise SystemExit(main())
