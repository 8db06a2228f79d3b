"""Level zero against truth over simulated floors: `python -m tests.bench.zero [FLOORS]`.

Each floor is a plane of up to 3 degrees in any direction. The machine stands four times, turned
end for end in between. What the world does to it is drawn in degrees and millimetres by scipy's
Rotation (tests/tilt_world.py) and is not known to the analysis.
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from calib.tilt.attitude import nose_up_deg
from calib.tilt.series import TiltReading
from calib.tilt.zero import Circumstances, LevelZero, find_zero
from tests.bench.ledger import table, write
from tests.tilt_world import Floor, Sensor, turned

Array = npt.NDArray[np.float64]

FLOORS = 2000
SEED = 20261125
WHEELBASE_MM = 1250.0
TURNS = (False, True, False, True)
READINGS = 300


@dataclass(frozen=True)
class World:
    """What goes wrong in one row of the table.

    Attributes:
        name: The row.
        settling_mm: Half-width of where the suspension settles after three bounces, mm.
        hold_deg: Half-width of a session's own idea of upright, degrees.
        lean_deg: Largest difference of lean between standings, degrees.
        uneven_mm: Half-width of how far each wheel's place is off the plane, mm.
        assumed: What the person tells calib.
        bar_rms: RMS of the turned method, degrees, that is asked for.
        bar_gain: RMS of the single standing over it that is asked for.
        barred: Whether the row has bars at all.
    """

    name: str
    settling_mm: float
    hold_deg: float
    lean_deg: float
    uneven_mm: float
    assumed: Circumstances
    bar_rms: float
    bar_gain: float = 0.0
    barred: bool = True


HEADER = (
    "world", "RMS turned", "RMS single", "single/turned", "held by 95 %", "stated/empirical",
    "floor's slope held", "largest in the budget",
)  # fmt: skip

WORLDS = (
    World(
        "rigid, on a stand", 0.0, 0.0, 0.0, 0.0,
        Circumstances(WHEELBASE_MM, stand=True, stiction_mm=0.0), 0.05, 20.0,
    ),
    World("settling and lean by hand", 5.0, 1.5, 3.0, 0.0, Circumstances(WHEELBASE_MM), 0.2),
    World(
        "uneven floor (each wheel +-3 mm) too", 5.0, 1.5, 3.0, 3.0,
        Circumstances(WHEELBASE_MM), 0.2, barred=False,
    ),
)  # fmt: skip


@dataclass(frozen=True)
class Outcome:
    """One floor: the error of both methods and of the floor's slope, and what was stated."""

    turned_error: float
    single_error: float
    u95: float
    largest: str
    slope_error: float
    slope_u95: float


def simulate(world: World, rng: np.random.Generator) -> Outcome:
    """Four standings on one floor, and the zero made of them."""
    floor = Floor(rng.uniform(0, 3), rng.uniform(0, 360))
    tipped, toward = rng.uniform(0, 10), rng.uniform(0, 2 * np.pi)
    mounting = turned(left=rng.uniform(-10, 10)) * turned(
        tipped * np.cos(toward), tipped * np.sin(toward)
    )
    bias = rng.normal(0, 0.03, 3)
    drift_g_k = rng.uniform(-0.31e-3, 0.31e-3, 3)
    start_deg = rng.uniform(0, 360)
    upright_deg = rng.uniform(-world.hold_deg, world.hold_deg)
    standings: list[tuple[bool, TiltReading]] = []
    for is_back in TURNS:
        astray_mm = np.subtract(*rng.uniform(-20, 20, 2))
        # beside its mark by up to 20 mm, a tyre meets another bump each time
        front_mm, rear_mm = rng.uniform(-world.uneven_mm, world.uneven_mm, 2)
        settled_mm = rng.uniform(-world.settling_mm, world.settling_mm)
        warmer_k = rng.uniform(0, 3) if standings else 0.0
        attitude = floor.stand(
            start_deg + (180.0 if is_back else 0.0) + np.degrees(astray_mm / WHEELBASE_MM),
            nose_up=np.degrees((front_mm - rear_mm + settled_mm) / WHEELBASE_MM),
            left_up=upright_deg + rng.uniform(-world.lean_deg / 2, world.lean_deg / 2),
        )
        moved = tuple(bias + warmer_k * drift_g_k)
        sensor = Sensor(mounting, (moved[0], moved[1], moved[2]), noise_g=0.003)
        standings.append((is_back, sensor.reading(attitude, rng, READINGS)))
    level = Sensor(mounting, (bias[0], bias[1], bias[2])).force(turned())
    truth = float(nose_up_deg(level))
    firsts, back = ([r for each, r in standings if each is is_back] for is_back in (False, True))
    zero = find_zero(firsts, back, world.assumed)
    single = find_zero(firsts[:1], [], world.assumed)
    slope = float(nose_up_deg(Sensor(turned()).force(floor.stand(start_deg))))
    pitch = zero.pitch
    return Outcome(
        turned_error=pitch.zero - truth,
        single_error=single.pitch.zero - truth,
        u95=pitch.u95,
        largest=_first(zero),
        slope_error=(pitch.floor_slope or 0.0) - slope,
        slope_u95=pitch.u95 / pitch.u * (pitch.floor_slope_u or 0.0),
    )


def _first(zero: LevelZero) -> str:
    return zero.pitch.budget[0].source


def _rms(values: Array) -> float:
    return float(np.sqrt(np.mean(values**2)))


def report(world: World, outcomes: list[Outcome]) -> tuple[list[str], list[str]]:
    """One row of the table, and the bars that it misses."""
    error = np.array([o.turned_error for o in outcomes])
    single = np.array([o.single_error for o in outcomes])
    stated = np.array([o.u95 for o in outcomes])
    held = float(np.mean(np.abs(error) <= stated))
    slope_held = float(np.mean([abs(o.slope_error) <= o.slope_u95 for o in outcomes]))
    slope_stated = float(np.mean([o.slope_u95 for o in outcomes]))
    ratio = float(stated.mean() / np.quantile(np.abs(error), 0.95))
    rms, gain = _rms(error), _rms(single) / _rms(error)
    source, count = Counter(o.largest for o in outcomes).most_common(1)[0]
    row = [
        world.name,
        f"{rms:.4f}",
        f"{_rms(single):.3f}",
        f"{gain:.1f}",
        f"{100 * held:.1f} %",
        f"{ratio:.2f}",
        f"{100 * slope_held:.1f} % of ±{slope_stated:.2f}",
        f"{source} ({100 * count / len(outcomes):.0f} %)",
    ]
    bars = {
        f"RMS at most {world.bar_rms}": rms <= world.bar_rms,
        f"single over turned at least {world.bar_gain}": gain >= world.bar_gain,
        "held at least 93 %": held >= 0.93,
        "stated over empirical at most 1.5": ratio <= 1.5,
        "floor's slope held at least 93 %": slope_held >= 0.93,
    }
    if not world.barred:
        return row, []
    return row, [f"{world.name}: {bar}" for bar, met in bars.items() if not met]


def main(floors: int = FLOORS) -> int:
    """Write the table; 1 if a bar is missed."""
    rows: list[list[str]] = []
    missed: list[str] = []
    for index, world in enumerate(WORLDS):
        rng = np.random.default_rng((SEED, index))
        row, short = report(world, [simulate(world, rng) for _ in range(floors)])
        rows.append(row)
        missed += short
    body = (
        f"{floors} floors a row, four standings each, seed {SEED}; error of the pitch zero and of "
        "the floor's slope, degrees.\n\n"
        f"{table(HEADER, rows)}\n\nBars missed: {'; '.join(missed) or 'none'}.\n"
    )
    sys.stdout.write(body)
    if floors == FLOORS:
        write("zero", "Level zero and floor's slope against truth", body)
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(*(int(a) for a in sys.argv[1:])))
