"""Whether every press is found: `python -m tests.bench.plateaus`.

Synthetic hands of all speeds, with holds of at least 0.3 s and 8 readings: quick and slow, with
half presses, glitches, rebound after release, creep, steps of 1 to 20 mV, white and correlated
noise, normal and reversed, from 27 Hz to 10 kHz. A press counts as found when the middle of its
hold lies between the found press's first and last moment at full travel. Exit code 1 when a bar
is missed.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass, field

import numpy as np

from calib.controls.presses import count_presses
from tests.bench.hands import Hand, Worked, work

LEAST_RECALL = LEAST_PRECISION = 0.995
MOST_BORDER_S = 0.020
RATES_HZ = (27.0, 50.0, 100.0, 200.0, 200.0, 200.0, 1000.0, 1000.0, 10_000.0)


@dataclass
class Tally:
    """Counts over many hands, and the distances of borders (s)."""

    hands: int = 0
    presses: int = 0
    found: int = 0
    claimed: int = 0
    false: int = 0
    half_made: int = 0
    half_found: int = 0
    borders_s: list[float] = field(default_factory=list)


def make_hand(rng: np.random.Generator) -> Hand:
    """One hand with its sensor and logger."""
    rate_hz = float(rng.choice(RATES_HZ))
    presses = int(rng.integers(3, 9)) if rate_hz < 5000.0 else 3
    ends = (float(rng.uniform(0.7, 1.2)), float(rng.uniform(3.2, 4.3)))
    rest_V, full_V = ends if rng.random() < 0.85 else ends[::-1]
    half = tuple(np.flatnonzero(rng.random(presses) < 0.1).tolist())
    slowest_s = float(np.exp(rng.uniform(np.log(0.1), np.log(2.5))))
    return Hand(
        rate_hz=rate_hz,
        presses=presses,
        rest_V=rest_V,
        full_V=full_V,
        # Eight readings and one more, since the clock does not start with the hold.
        hold_s=(max(0.3, 9.0 / rate_hz), float(rng.uniform(0.5, 3.0))),
        move_s=(max(0.06, slowest_s / 4.0), slowest_s),
        sd_within_V=float(rng.choice([0.0005, 0.002, 0.005, 0.010])),
        sd_between_V=float(rng.choice([0.001, 0.005, 0.015])),
        lag1=float(rng.choice([0.0, 0.5, 0.9])),
        lsb_V=float(rng.choice([0.001, 0.005, 0.020])),
        linear=bool(rng.random() < 0.3),
        half=half if len(half) < presses - 1 else (),
        rebound_V=float(rng.choice([0.0, 0.05, 0.2])),
        glitch_rate_hz=float(rng.choice([0.0, 0.0, 0.3])),
        creep_V=float(rng.choice([0.0, 0.0, 0.03])),
    )


def add(tally: Tally, hand: Hand, worked: Worked) -> None:
    """Counts one hand's presses, found and missed."""
    result = count_presses(worked.time_s, worked.volts, lsb_V=hand.lsb_V)
    holds = worked.stills[1::2].mean(axis=1)
    true = [float(t) for press, t in enumerate(holds) if press not in hand.half]
    spans = [(press.full_s, press.let_go_s) for press in result.presses]
    hits = [sum(a <= t <= b for a, b in spans) for t in true]
    tally.hands += 1
    tally.presses += len(true)
    tally.found += sum(count == 1 for count in hits)
    tally.claimed += len(spans)
    tally.false += sum(not any(a <= t <= b for t in true) for a, b in spans)
    tally.half_made += len(hand.half)
    tally.half_found += result.half
    if hand.rate_hz == 200.0:
        for plateau in result.plateaus.found:
            nearest = np.abs(worked.stills.mean(axis=1) - 0.5 * (plateau.start_s + plateau.end_s))
            start_s, end_s = worked.stills[int(nearest.argmin())]
            tally.borders_s += [abs(plateau.start_s - start_s), abs(plateau.end_s - end_s)]


def main() -> int:
    """Run the campaign and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hands", type=int, default=1000)
    options = parser.parse_args()
    rng = np.random.default_rng(7)
    tally = Tally()
    for _ in range(options.hands):
        hand = make_hand(rng)
        before = tally.found - tally.presses, tally.false
        add(tally, hand, work(hand, rng))
        if (tally.found - tally.presses, tally.false) != before:
            sys.stdout.write(f"missed or made up: {hand}\n")
    recall = tally.found / tally.presses
    precision = 1.0 - tally.false / max(tally.claimed, 1)
    border_s = float(np.median(tally.borders_s)) if tally.borders_s else float("nan")
    met = recall >= LEAST_RECALL and precision >= LEAST_PRECISION and border_s <= MOST_BORDER_S
    sys.stdout.write(
        "| hands | presses | recall | precision | half presses made, found | border, median |\n"
        "|---|---|---|---|---|---|\n"
        f"| {tally.hands} | {tally.presses} | {recall:.4f} | {precision:.4f} "
        f"| {tally.half_made}, {tally.half_found} | {1e3 * border_s:.1f} ms |\n"
        f"bars {'met' if met else 'MISSED'}\n"
    )
    return 0 if met else 1


if __name__ == "__main__":
    raise SystemExit(main())
