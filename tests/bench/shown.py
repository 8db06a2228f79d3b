"""Whether values from a controller's display hold: `python -m tests.bench.shown`.

The controller's own scale is off, and its display rounds or cuts off; nothing says which. What it
shows at rest and at full travel is read at one press, as a person would. Start and end are in the
controller's volts and are held against what it sees on the ride. Exit code 1 when a bar is missed.
"""

from __future__ import annotations

import argparse
import math
import multiprocessing
import zlib
from dataclasses import dataclass
from typing import Literal

import numpy as np

from calib.checks.travel.numbers import TravelSettings
from tests.bench import ledger
from tests.bench.typed_in import draw_control, judged

Display = Literal["rounds", "cuts off"]

DISPLAYS: tuple[Display, ...] = ("rounds", "cuts off")
STEPS_V = (0.01, 0.02, 0.1)
SCALES_PCT = (-3.0, 0.0, 3.0)
PRESSES = (3, 5, 10)
FLOOR_PCT = 0.0
"""Without the floor, so that the limit alone must hold."""
LEAST_KEPT = 0.93


@dataclass(frozen=True)
class Cell:
    """Outcome of one display and count of presses."""

    display: Display
    step_V: float
    scale_pct: float
    presses: int
    numbers: float
    start_kept: float
    end_kept: float

    @property
    def met(self) -> bool:
        """Whether both ends were kept."""
        return min(self.start_kept, self.end_kept) >= LEAST_KEPT


def run_cell(job: tuple[Display, float, float, int, int]) -> Cell:
    """One cell, seeded by its own name."""
    display, step_V, scale_pct, presses, captures = job
    name = f"shown {display} {step_V} {scale_pct}"
    rng = np.random.default_rng([zlib.crc32(name.encode()), presses])
    scale = 1.0 + scale_pct / 100.0
    kept = []
    for _ in range(captures):
        control = draw_control(rng)
        seen_V = [
            scale * (level_V + control.between_V * rng.normal())
            for level_V in (control.rest_V, control.full_V)
        ]
        settings = TravelSettings(
            presses=presses,
            floor_pct=FLOOR_PCT,
            shown_rest_V=_shown(seen_V[0], step_V, display),
            shown_full_V=_shown(seen_V[1], step_V, display),
            shown_step_V=step_V,
        )
        band = judged(control, presses, rng, settings).dead_band
        if band is not None:
            need_V = scale * control.need_V
            kept.append(
                (
                    band.start >= scale * control.riding(control.rest_V) + need_V,
                    band.end <= scale * control.riding(control.full_V) - need_V,
                )
            )
    shares = np.array(kept).mean(axis=0)
    return Cell(
        display=display,
        step_V=step_V,
        scale_pct=scale_pct,
        presses=presses,
        numbers=len(kept) / captures,
        start_kept=float(shares[0]),
        end_kept=float(shares[1]),
    )


def _shown(volts: float, step_V: float, display: Display) -> float:
    """What the display shows of a voltage."""
    steps = volts / step_V
    whole = math.floor(steps + 0.5) if display == "rounds" else math.floor(steps)
    return round(whole * step_V, 6)


def main() -> int:
    """Run the campaign, print its table and keep it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--captures", type=int, default=500)
    parser.add_argument("--processes", type=int, default=1)
    options = parser.parse_args()
    jobs = [
        (display, step_V, scale_pct, presses, options.captures)
        for display in DISPLAYS
        for step_V in STEPS_V
        for scale_pct in SCALES_PCT
        for presses in PRESSES
    ]
    with multiprocessing.Pool(options.processes) as pool:
        cells = pool.map(run_cell, jobs, chunksize=1)
    met = all(cell.met for cell in cells)
    rows = []
    for display in DISPLAYS:
        for step_V in STEPS_V:
            own = [cell for cell in cells if (cell.display, cell.step_V) == (display, step_V)]
            for presses in PRESSES:
                few = [cell for cell in own if cell.presses == presses]
                rows.append(
                    (
                        display,
                        f"{step_V:g}",
                        presses,
                        f"{min(cell.numbers for cell in few):.3f}",
                        " / ".join(f"{cell.start_kept:.3f}" for cell in few),
                        " / ".join(f"{cell.end_kept:.3f}" for cell in few),
                    )
                )
    table = ledger.table(
        ("display", "step, V", "presses", "got values", "start kept", "end kept"), rows
    )
    said = (
        f"{options.captures} controls, loggers and controllers a cell; kept with a controller's "
        "scale of -3 / 0 / +3 %. Nothing tells calib whether the display rounds or cuts off. "
        f"Bar: {LEAST_KEPT:g} at both ends in each cell; {'met' if met else 'MISSED'}."
    )
    return ledger.publish(
        "shown",
        "Whether values from the controller's display hold",
        f"{said}\n\n{table}",
        f"--captures {options.captures}",
        met=met,
    )


if __name__ == "__main__":
    raise SystemExit(main())
