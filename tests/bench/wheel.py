"""Does `calib wheel` find the pulses a turn, or say why not; does the circumference hold?

`python -m tests.bench.wheel` turns 2,000 simulated wheels by hand and pushes as many along a tape:
1 to 60 pulses a turn, uneven magnets, weak and missing ones, reeds that bounce, a level column or a
running count, 50 Hz to 10 kHz, 0.2 to 3 turns a second.

Bars, written down before the run: pulses a turn right or refused with a reason in all of them and
wrong in none; nine in ten sound wheels whose turns were counted and whose pulses the column shows
get a number; the stated 95 % of the circumference hold in 0.93 to 0.98 of the ways.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from calib.checks.wheel.turned import judge_turned
from calib.mule.wheel import Ring, Tyre, WheelSensor, draw_ring
from calib.store.capture import Capture
from calib.store.rig import Rig, read_rig
from calib.wheel.rolling import circumference
from tests.bench.ledger import publish, table

Floats = NDArray[np.float64]

FINE_HZ = 10_000.0
"""How finely the level is worked out, Hz; as the fastest logger reads it."""

DEAD_REED_S, DEAD_HALL_S = 0.003, 0.0001
"""Dead time of the counter, s, as the note of our firmware advises for a reed, and as it comes."""

WAITS = 0.5
"""Share of the counters of a reed that wait so long; the others count its bounce."""

MOST_REEDS = 12
"""Pulses a turn of a reed that a counter counts: with 3 ms of bounce after each change no counter
can tell more of them at three turns a second."""

RATES_HZ = (50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 10_000.0)
TURNS = (10, 20)
WRAP = 256.0
HELD = (0.93, 0.98)

NUMBERED = 0.9
"""Share of the sound wheels with a number, at least."""

SWING = 1.6
"""How many times its mean speed a hand goes at most."""

SOUND = "sound, counted and shown"


@dataclass(frozen=True, slots=True)
class Case:
    """One wheel and one hand.

    Attributes:
        pulses: Magnets.
        ring: The ring.
        kind: level or pulses.
        rate_hz: Samples a second.
        speed: Turns a second.
        stops: Whether the hand stops at the mark after each turn.
        turns: Turns that the hand makes.
        counted: Whether they were counted.
        fault: What is wrong with the ring.
    """

    pulses: int
    ring: Ring
    kind: str
    rate_hz: float
    speed: float
    stops: bool
    turns: int
    counted: bool
    fault: str

    @property
    def is_sound(self) -> bool:
        """Whether nothing is wrong, turns were counted, and the column shows every pulse."""
        if not self.counted or self.fault in ("sometimes", "missing", "double"):
            return False
        if self.kind == "pulses" and self.ring.bounce_s:
            return False
        if self.kind == "pulses":
            return self.turns >= 20 or self.pulses * SWING * self.speed <= 0.2 * self.rate_hz
        at, width = np.array(self.ring.at_turns), np.array(self.ring.width_turns)
        between = np.diff(at, append=1.0 + at[0]) - width
        stay_s = min(width.min(), between.min()) / (SWING * self.speed) - self.ring.bounce_s
        return bool(stay_s * self.rate_hz >= 3.0)


def draw(rng: np.random.Generator) -> Case:
    """A wheel and a hand; six wheels in ten have something wrong with them."""
    pulses = int(rng.integers(1, 61)) if rng.random() < 0.5 else int(rng.integers(1, 13))
    uneven = float(rng.choice([0.0, 0.03, 0.1]))
    ring = draw_ring(rng, pulses, uneven=uneven, width=float(rng.uniform(0.2, 0.55)))
    fault = str(rng.choice(["none", "bounce", "weak", "sometimes", "missing", "double"],
                           p=[0.4, 0.25, 0.1, 0.1, 0.1, 0.05]))  # fmt: skip
    place = int(rng.integers(0, pulses))
    if fault == "bounce":
        ring = replace(ring, bounce_s=float(rng.uniform(0.0003, 0.003)))
    elif fault == "weak":
        width = list(ring.width_turns)
        width[place] *= float(rng.uniform(0.2, 0.5))
        ring = replace(ring, width_turns=tuple(width))
    elif fault in ("sometimes", "missing"):
        missed = [0.0] * pulses
        missed[place] = 1.0 if fault == "missing" else float(rng.choice([0.1, 0.3, 0.5]))
        ring = replace(ring, missed_share=tuple(missed))
    elif fault == "double":
        ring = replace(ring, lobes=2)
    kind = str(rng.choice(["level", "pulses"]))
    if fault == "bounce" and kind == "pulses" and pulses > MOST_REEDS:
        ring, fault = replace(ring, bounce_s=0.0), "none"
    return Case(
        pulses, ring, kind, float(rng.choice(RATES_HZ)),
        float(np.exp(rng.uniform(np.log(0.2), np.log(3.0)))), bool(rng.random() < 0.4),
        int(rng.choice(TURNS)),
        bool(rng.random() < 0.85), fault,
    )  # fmt: skip


def turned(case: Case, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Times, s, and turns of a hand: it starts, swings, and stops near the mark."""
    pieces = [1.0] * case.turns if case.stops else [float(case.turns)]
    time_s, turns, at_s, at = [0.0], [0.0], float(rng.uniform(0.5, 2.0)), 0.0
    goal = 0.0
    for piece in pieces:
        goal += piece
        end = goal + float(np.clip(0.012 * rng.standard_normal(), -0.028, 0.028))
        way = end - at
        ramp_s = float(rng.uniform(0.2, 0.8))
        lasts_s = way / case.speed + ramp_s
        share = np.linspace(0.0, 1.0, max(int(lasts_s * 200.0), 20))
        moment_s = share * lasts_s
        speed = np.clip(np.minimum(moment_s, lasts_s - moment_s) / ramp_s, 0.0, 1.0)
        swing = 1.0 + 0.15 * np.sin(2.0 * np.pi * rng.uniform(0.6, 2.4) * case.speed * moment_s
                                    + rng.uniform(0.0, 6.0))  # fmt: skip
        drift = np.convolve(rng.standard_normal(len(share)), np.ones(25) / 25.0, "same")
        path = np.cumsum(speed * swing * (1.0 + 0.5 * drift).clip(0.2, 2.0))
        path = at + way * path / path[-1]
        time_s += (at_s + moment_s).tolist()
        turns += path.tolist()
        at_s += lasts_s + float(rng.uniform(0.6, 2.5))
        at = end
        time_s.append(at_s)
        turns.append(at)
    return np.array(time_s), np.array(turns)


def columns(case: Case, rng: np.random.Generator, seed: int) -> tuple[Floats, Floats]:
    """Times and the numbers of one column, as a logger sends them."""
    path_s, path = turned(case, rng)
    fine_s = np.arange(0.0, path_s[-1], 1.0 / FINE_HZ)
    start = float(rng.uniform(0.0, 1.0))
    level = WheelSensor(case.ring, seed).level(fine_s, start + np.interp(fine_s, path_s, path))
    every = round(FINE_HZ / case.rate_hz)
    if case.kind == "level":
        return fine_s[::every], level[::every].astype(np.float64)
    # a count of edges with a dead time, as our firmware counts them
    changes = np.flatnonzero(level[1:] != level[:-1]) + 1
    waits = np.random.default_rng([seed, 6]).random() < WAITS
    dead_s = DEAD_REED_S if case.ring.bounce_s and waits else DEAD_HALL_S
    quiet = np.diff(fine_s[changes], prepend=-1.0) >= dead_s
    counted = np.zeros(len(level))
    counted[changes[level[changes] & quiet]] = 1.0
    offset = int(rng.integers(0, 256))
    return fine_s[::every], (offset + np.cumsum(counted)[::every]) % WRAP


@dataclass(frozen=True, slots=True)
class Answer:
    """What was said of a case.

    Attributes:
        said: Pulses a turn; None where it was refused.
        why: Codes of the findings that refused.
        comes: What comes in a turn.
    """

    said: int | None
    why: tuple[str, ...]
    comes: int

    @property
    def kind(self) -> str:
        """How it ended."""
        if self.said is None:
            return "refused" if self.why else "silent"
        return "right" if self.said == self.comes else "wrong"


def rig_of(case: Case) -> Rig:
    """The rig file of a case."""
    wrap = f"wrap = {WRAP:g}\n" if case.kind == "pulses" else ""
    text = f'[channels.w]\nrole = "wheel"\ncolumn = "w"\nunit = "{case.kind}"\n{wrap}'
    return read_rig(Path("rig.toml"), text.encode())


def answer(case: Case, rng: np.random.Generator, seed: int) -> Answer:
    """Judge one case as the command does."""
    time_s, values = columns(case, rng, seed)
    capture = Capture(
        path=Path("wheel.csv"),
        digest=lambda: "0" * 64,
        columns=("w",),
        time_s=time_s,
        arrival=lambda: time_s,
        values={"w": values},
    )
    turned = judge_turned(capture, rig_of(case), "w", case.turns if case.counted else None)
    why = {each.code for each in turned.findings if not each.severity.is_good}
    comes = case.pulses * case.ring.lobes - (case.fault == "missing")
    return Answer(turned.pulses_a_turn, tuple(sorted(why)), comes)


def rolled_holds(rng: np.random.Generator) -> tuple[bool, float]:
    """Whether a way along a tape holds the true circumference, and the half-width, mm.

    Each source is drawn as this garage has it: a tape of class II, chalk marks, an eye for the
    valve, a straight line that a wheel leaves, air from last week.
    """
    turns = int(rng.choice([3, 5, 10, 20]))
    seated = bool(rng.random() < 0.5)
    tyre = Tyre(float(rng.uniform(230.0, 350.0)), float(rng.uniform(5.0, 20.0)),
                float(rng.uniform(0.0, 10.0)))  # fmt: skip
    tonight = replace(tyre, sag_mm=tyre.sag_mm + float(rng.uniform(-1.5, 1.5)))
    later = replace(tyre, free_radius_mm=tyre.free_radius_mm + float(rng.uniform(-0.5, 0.5)))
    true_mm = later.circumference_mm(seated=True)
    way_mm = turns * tonight.circumference_mm(seated=seated)
    valve_mm = way_mm / turns * rng.uniform(-3.0, 3.0, 2).sum() / 360.0
    way_mm += valve_mm
    straight_mm = way_mm / (1.0 + 0.001 * float(rng.uniform(0.0, 1.0)))
    read_mm = straight_mm + float(rng.uniform(-5.0, 5.0, 2).sum())
    tape = 0.3 + 0.2 * np.ceil(read_mm / 1000.0)
    read_mm += float(rng.uniform(-tape, tape))
    rolled = circumference([round(read_mm) / 1000.0], turns, seated=seated)
    half_mm = rolled.budget.expanded()
    return abs(rolled.mm - true_mm) <= half_mm, half_mm


def main() -> int:
    """Run both campaigns; exit code 1 where a bar is missed."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--wheels", type=int, default=2000)
    parser.add_argument("--first-seed", type=int, default=0)
    given = parser.parse_args()
    wheels = given.wheels
    ended: dict[str, Counter[str]] = {}
    reasons: Counter[str] = Counter()
    wrong: list[str] = []
    for seed in range(given.first_seed, given.first_seed + wheels):
        rng = np.random.default_rng([seed, 5])
        case = draw(rng)
        found = answer(case, rng, seed)
        cells = (case.fault, case.kind, f"{case.rate_hz:g} Hz", "all")
        for cell in (*cells, SOUND) if case.is_sound else cells:
            ended.setdefault(cell, Counter())[found.kind] += 1
        if found.said is None:
            reasons.update(found.why)
        if found.kind in ("wrong", "silent"):
            wrong.append(f"seed {seed}: {found} {case.fault} {case.kind} {case.rate_hz:g} Hz "
                         f"{case.speed:.2f}/s stops {case.stops} {case.counted}")  # fmt: skip
    held = [rolled_holds(np.random.default_rng([seed, 7])) for seed in range(wheels)]
    share = float(np.mean([each for each, _ in held]))
    half_mm = float(np.median([each for _, each in held]))
    sound = ended[SOUND]
    numbered = sound["right"] >= NUMBERED * sum(sound.values())
    met = not wrong and numbered and HELD[0] <= share <= HELD[1]
    body = report(ended, reasons, share, half_mm)
    sys.stdout.writelines(f"{line}\n" for line in wrong)
    return publish("wheel", "Pulses a turn, and the circumference", body,
                   f"--wheels {wheels}", met=met)  # fmt: skip


def report(
    ended: dict[str, Counter[str]], reasons: Counter[str], share: float, half_mm: float
) -> str:
    """The page: what ended how, why it was refused, and what the circumference holds."""
    rows = [
        (cell, sum(count.values()), count["right"], count["refused"],
         count["wrong"] + count["silent"])
        for cell, count in sorted(ended.items())
    ]  # fmt: skip
    why = [(code, count) for code, count in reasons.most_common()]
    return "\n\n".join([
        "Bars: right or refused with a reason in all, wrong in none; a number in "
        f"{100.0 * NUMBERED:g} % of what is {SOUND}; the circumference's stated 95 % hold "
        f"in {HELD[0]:g} to {HELD[1]:g} of the ways.",
        f"{SOUND.capitalize()}: a weak magnet or a bounce of its level at most is wrong with it; "
        f"its turns were counted; and at {SWING:g} times the mean speed a level's shortest stay "
        "lasts three samples, or a count rises by a fifth in each (or went 20 turns).",
        table(("wheels", "count", "right", "refused", "wrong or without a reason"), rows),
        table(("why refused (a wheel may have several)", "count"), why),
        f"The circumference's 95 % held in {share:.4f} of {sum(ended['all'].values())} ways; half-"
        f"width {half_mm:.1f} mm in the median.",
    ])  # fmt: skip


if __name__ == "__main__":
    sys.exit(main())
