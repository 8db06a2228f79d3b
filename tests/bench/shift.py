"""Whether the values bear every error that is claimed: `python -m tests.bench.shift`.

Each capture is of another control and another logger; reference, divider, bow, supply, temperature
and the controller's step are drawn from the ranges that calib states. The start is kept when 99.9 %
of the readings after a future release stay below it on the ride, the end when as many pass it.
Exit code 1 when a bar is missed.
"""

from __future__ import annotations

import argparse
import multiprocessing
import zlib
from dataclasses import dataclass

import numpy as np

from calib.checks.travel.numbers import TravelSettings
from tests.bench import ledger
from tests.bench.typed_in import draw_control, judged

PRESSES = (3, 5, 10, 20)
FLOORS_PCT = (0.0, 3.0)
LEAST_KEPT = 0.95


@dataclass(frozen=True)
class Cell:
    """Outcome of one count of presses and one floor.

    Attributes:
        presses: Count of presses.
        floor_pct: Least dead travel at rest, per cent.
        numbers: Share of captures that got their values.
        start_kept: Share of those whose start held.
        end_kept: Share of those whose end held.
        given_V: Mean dead travel at both ends, V.
        least_V: The same for whoever knows the spreads and the distribution of the shift, V.
    """

    presses: int
    floor_pct: float
    numbers: float
    start_kept: float
    end_kept: float
    given_V: float
    least_V: float

    @property
    def met(self) -> bool:
        """Whether both ends were kept."""
        return min(self.start_kept, self.end_kept) >= LEAST_KEPT


def run_cell(job: tuple[int, float, int]) -> Cell:
    """One cell, seeded by its own name."""
    presses, floor_pct, captures = job
    rng = np.random.default_rng([zlib.crc32(b"shift"), presses, round(10 * floor_pct)])
    settings = TravelSettings(presses=presses, floor_pct=floor_pct)
    kept, given, shifts, needs, floors = [], [], [], [], []
    for _ in range(captures):
        control = draw_control(rng)
        band = judged(control, presses, rng, settings).dead_band
        logged = [control.rest_V * control.gain + control.bow_V[0]]
        logged.append(control.full_V * control.gain + control.bow_V[1])
        shifts.append(
            (
                control.riding(control.rest_V) - logged[0],
                logged[1] - control.riding(control.full_V),
            )
        )
        needs.append(control.need_V)
        floors.append(floor_pct / 100.0 * (control.full_V - control.rest_V))
        if band is None:
            continue
        kept.append(
            (
                band.start >= control.riding(control.rest_V) + control.need_V,
                band.end <= control.riding(control.full_V) - control.need_V,
            )
        )
        given.append(band.start - control.rest_V + control.full_V - band.end)
    allowance_V = np.quantile(np.array(shifts), 0.95, axis=0)
    need_V = np.array(needs)
    least_V = np.maximum(need_V + allowance_V[0], np.array(floors)) + need_V + allowance_V[1]
    shares = np.array(kept).mean(axis=0)
    return Cell(
        presses=presses,
        floor_pct=floor_pct,
        numbers=len(kept) / captures,
        start_kept=float(shares[0]),
        end_kept=float(shares[1]),
        given_V=float(np.mean(given)),
        least_V=float(least_V.mean()),
    )


def main() -> int:
    """Run the campaign, print its table and keep it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--captures", type=int, default=1000)
    parser.add_argument("--processes", type=int, default=1)
    options = parser.parse_args()
    jobs = [(presses, floor, options.captures) for presses in PRESSES for floor in FLOORS_PCT]
    with multiprocessing.Pool(options.processes) as pool:
        cells = pool.map(run_cell, jobs, chunksize=1)
    met = all(cell.met for cell in cells)
    table = ledger.table(
        ("presses", "floor, %", "got values", "start kept", "end kept", "given up, V", "least, V"),
        (
            (
                cell.presses,
                f"{cell.floor_pct:g}",
                f"{cell.numbers:.3f}",
                f"{cell.start_kept:.3f}",
                f"{cell.end_kept:.3f}",
                f"{cell.given_V:.3f}",
                f"{cell.least_V:.3f}",
            )
            for cell in cells
        ),
    )
    said = (
        f"{options.captures} controls and loggers a cell, every claimed error drawn from its "
        "stated range: reference and each resistor ±1 %, bow ±1 step, supply ±0.5 %, ±5 K, the "
        "controller's step. Least: what is given up by whoever knows every spread and the "
        f"distribution of the shift. Bar: {LEAST_KEPT:g} at both ends in each cell; "
        f"{'met' if met else 'MISSED'}."
    )
    return ledger.publish(
        "shift",
        "Whether the values bear the scale's errors",
        f"{said}\n\n{table}",
        f"--captures {options.captures}",
        met=met,
    )


if __name__ == "__main__":
    raise SystemExit(main())
