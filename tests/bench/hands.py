"""Synthetic hands: what a control's voltage does when it is worked, with the truth beside it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Hand:
    """How a hand works a control and what the wire adds.

    Volts and seconds; a range is drawn from log-uniformly. `lag1` is the correlation of the noise
    over 5 ms, whatever the rate.
    """

    rate_hz: float = 200.0
    presses: int = 5
    rest_V: float = 1.1
    full_V: float = 3.7
    hold_s: tuple[float, float] = (0.3, 2.0)
    move_s: tuple[float, float] = (0.08, 1.5)
    sd_within_V: float = 0.004
    sd_between_V: float = 0.004
    lag1: float = 0.0
    lsb_V: float = 0.005
    linear: bool = False
    half: tuple[int, ...] = ()
    rebound_V: float = 0.0
    glitch_rate_hz: float = 0.0
    creep_V: float = 0.0


@dataclass(frozen=True)
class Worked:
    """A synthetic capture and its truth.

    `stills` holds start and end (s) of every commanded standstill, `levels` its true level (V).
    """

    time_s: Floats
    volts: Floats
    stills: Floats
    levels: Floats = field(repr=False)


def work(hand: Hand, rng: np.random.Generator) -> Worked:
    """Voltage of one control worked by one hand."""
    levels = [hand.rest_V + hand.sd_between_V * rng.normal()]
    for press in range(hand.presses):
        top = 0.5 * (hand.rest_V + hand.full_V) if press in hand.half else hand.full_V
        levels.append(top + hand.sd_between_V * rng.normal())
        levels.append(hand.rest_V + hand.sd_between_V * rng.normal())
    holds = _log_uniform(rng, hand.hold_s, len(levels))
    moves = _log_uniform(rng, hand.move_s, len(levels) - 1)
    starts = np.concatenate([[0.0], np.cumsum(holds[:-1] + moves)])
    stills = np.column_stack([starts, starts + holds])
    time_s = np.arange(int(stills[-1, 1] * hand.rate_hz)) / hand.rate_hz
    volts = _path(time_s, stills, np.array(levels), linear=hand.linear)
    volts += _settling(hand, time_s, stills)
    volts += _noise(hand, len(volts), rng)
    glitches = rng.random(len(volts)) < hand.glitch_rate_hz / hand.rate_hz
    volts[glitches] = rng.choice([0.0, 5.0], size=int(glitches.sum()))
    if hand.lsb_V > 0.0:
        volts = (np.floor(volts / hand.lsb_V) + 0.5) * hand.lsb_V
    return Worked(time_s, volts, stills, np.array(levels))


def _log_uniform(rng: np.random.Generator, bounds: tuple[float, float], count: int) -> Floats:
    drawn: Floats = np.exp(rng.uniform(np.log(bounds[0]), np.log(bounds[1]), count))
    return drawn


def _path(time_s: Floats, stills: Floats, levels: Floats, *, linear: bool) -> Floats:
    knots = stills.ravel()
    values = np.repeat(levels, 2)
    if linear:
        straight: Floats = np.interp(time_s, knots, values)
        return straight
    # Raised cosine between two standstills.
    phase = np.interp(time_s, knots, np.arange(len(knots), dtype=np.float64))
    whole = np.floor(phase).astype(int).clip(0, len(knots) - 2)
    share = 0.5 * (1.0 - np.cos(np.pi * (phase - whole)))
    path: Floats = values[whole] + share * (values[whole + 1] - values[whole])
    return path


def _settling(hand: Hand, time_s: Floats, stills: Floats) -> Floats:
    """A spring's rebound (25 Hz, over in some 0.1 s) and slow creep after each release, V."""
    result = np.zeros_like(time_s)
    for start, end in stills[2::2]:
        during = (time_s >= start) & (time_s <= end)
        after = time_s[during] - start
        result[during] -= hand.rebound_V * np.exp(-after / 0.03) * np.sin(50.0 * np.pi * after)
        result[during] += hand.creep_V * np.exp(-after / 0.5)
    return result


def _noise(hand: Hand, count: int, rng: np.random.Generator) -> Floats:
    white = rng.normal(size=count)
    if hand.lag1 <= 0.0:
        return hand.sd_within_V * white
    lag1 = hand.lag1 ** (200.0 / hand.rate_hz)
    white[1:] *= np.sqrt(1.0 - lag1**2)
    noise: Floats = lfilter([1.0], [1.0, -lag1], white)
    return hand.sd_within_V * noise
