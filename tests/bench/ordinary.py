"""Ordinary hands: what people do with a control, as shares of its travel against time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Rng = np.random.Generator

PATH_HZ = 1000.0
"""Rate at which a path is drawn; own choice, the fastest logger's."""


class Path:
    """Where a hand is, drawn piece by piece; 0 is rest, 1 the stop."""

    def __init__(self, rng: Rng) -> None:
        """Begin with the hand off."""
        self.rng = rng
        self.pieces: list[Floats] = []
        self.at = 0.0

    def go(self, to: float, duration_s: float) -> None:
        """Move smoothly, slow at both ends, or straight on, as hands do either."""
        share = np.linspace(0.0, 1.0, max(2, round(duration_s * PATH_HZ)))
        if self.rng.random() < 0.7:
            share = 0.5 * (1.0 - np.cos(np.pi * share))
        self.pieces.append(self.at + (to - self.at) * share)
        self.at = to

    def stay(self, duration_s: float, *, drift: float = 0.0, tremble: float = 0.0) -> None:
        """Stay, while the hand sinks by ``drift`` or trembles by so much either way."""
        time_s = np.arange(max(1, round(duration_s * PATH_HZ))) / PATH_HZ
        sunk = -drift * time_s / max(duration_s, 1e-9)
        rate_hz = self.rng.uniform(4.0, 12.0)
        swing = tremble * np.sin(2.0 * np.pi * (rate_hz * time_s + self.rng.random()))
        # A tremble is never quite regular.
        swing *= 1.0 + 0.3 * np.sin(2.0 * np.pi * 0.7 * time_s + self.rng.random())
        self.pieces.append(self.at + sunk + swing / 1.3)
        self.at -= drift

    def home(self, level: float = 0.0) -> None:
        """Let the spring bring it home."""
        self.go(level, float(self.rng.uniform(0.06, 0.2)))

    def drawn(self) -> Floats:
        """The whole path at `PATH_HZ`."""
        return np.concatenate(self.pieces)


Press = Callable[[Path, int], None]


@dataclass(frozen=True)
class Kind:
    """One kind of hand.

    `press` does one press and its release; `between` is where the hand leaves the control between
    presses, a share of the travel. Benign kinds must get values.
    """

    name: str
    press: Press
    benign: bool = False
    between: Callable[[Rng], float] = field(default=lambda rng: 0.0 * rng.random())
    rests_s: tuple[float, float] = (0.7, 2.0)


def _hold_s(path: Path) -> float:
    return float(path.rng.uniform(0.5, 1.5))


def squeezed(low_s: float, high_s: float) -> Press:
    """A squeeze to the stop that takes from `low_s` to `high_s`, held, let go."""

    def press(path: Path, _: int) -> None:
        path.go(1.0, float(np.exp(path.rng.uniform(np.log(low_s), np.log(high_s)))))
        path.stay(_hold_s(path))

    return press


def short(low_s: float, high_s: float) -> Press:
    """A press that takes so long from the first touch to the last, a third of it at the stop."""

    def press(path: Path, _: int) -> None:
        whole_s = float(path.rng.uniform(low_s, high_s))
        path.go(1.0, whole_s / 3.0)
        path.stay(whole_s / 3.0)

    return press


def trembling(amplitude: float, *, on_the_way: bool = False) -> Press:
    """Trembles at the stop by so much either way, at 4 to 12 Hz."""

    def press(path: Path, _: int) -> None:
        path.go(1.0, float(path.rng.uniform(0.2, 1.5)))
        hold_s = float(path.rng.uniform(0.7, 2.0))
        if not on_the_way:
            path.stay(hold_s, tremble=amplitude)
            return
        way = np.concatenate([path.pieces.pop(), np.ones(round(hold_s * PATH_HZ))])
        path.stay(len(way) / PATH_HZ, tremble=amplitude)
        # The spring, and not the hand, says where it stands near rest.
        path.pieces[-1] = way + (path.pieces[-1] - 1.0) * np.clip(way * 4.0, 0.0, 1.0)

    return press


def sagging(least: float, most: float) -> Press:
    """Sinks back by so much while it holds."""

    def press(path: Path, _: int) -> None:
        path.go(1.0, float(path.rng.uniform(0.2, 1.5)))
        path.stay(float(path.rng.uniform(0.7, 2.0)), drift=float(path.rng.uniform(least, most)))

    return press


def in_two_stages(
    short_of: tuple[float, float],
    *,
    pause_s: tuple[float, float] = (0.2, 0.6),
    every: float = 1.0,
) -> Press:
    """Stops short, then goes to the stop."""

    def press(path: Path, _: int) -> None:
        if path.rng.random() < every:
            path.go(1.0 - float(path.rng.uniform(*short_of)), float(path.rng.uniform(0.2, 1.5)))
            path.stay(float(path.rng.uniform(*pause_s)))
            path.go(1.0, float(path.rng.uniform(0.1, 0.4)))
        else:
            path.go(1.0, float(path.rng.uniform(0.2, 1.5)))
        path.stay(_hold_s(path))

    return press


def halting_home(low: float, high: float) -> Press:
    """Lets go in two stages: halts within so much of rest, then home."""

    def press(path: Path, _: int) -> None:
        path.go(1.0, float(path.rng.uniform(0.2, 1.5)))
        path.stay(_hold_s(path))
        path.go(float(path.rng.uniform(low, high)), float(path.rng.uniform(0.1, 0.2)))
        path.stay(float(path.rng.uniform(0.2, 0.6)))

    return press


def creeping_home(far: float) -> Press:
    """The control creeps the last bit home with a time constant of half a second."""

    def press(path: Path, _: int) -> None:
        path.go(1.0, float(path.rng.uniform(0.2, 1.5)))
        path.stay(_hold_s(path))
        path.home(far)
        time_s = np.arange(int(1.2 * PATH_HZ)) / PATH_HZ
        path.pieces.append(far * np.exp(-time_s / 0.5))
        path.at = float(path.pieces[-1][-1])

    return press


def tapping_twice(hold_s: tuple[float, float], gap_s: tuple[float, float]) -> Press:
    """Two quick presses with hardly a release between."""

    def press(path: Path, _: int) -> None:
        for first in (True, False):
            path.go(1.0, float(path.rng.uniform(0.08, 0.2)))
            path.stay(float(path.rng.uniform(*hold_s)))
            if first:
                path.home()
                path.stay(float(path.rng.uniform(*gap_s)))

    return press


def stopping_at(*shares: float) -> Press:
    """Stops elsewhere each time."""

    def press(path: Path, number: int) -> None:
        path.go(shares[number % len(shares)], float(path.rng.uniform(0.2, 1.0)))
        path.stay(_hold_s(path))

    return press


def eased_out(low_s: float, high_s: float) -> Press:
    """Is let go slowly by the hand."""

    def press(path: Path, _: int) -> None:
        path.go(1.0, float(path.rng.uniform(0.2, 1.5)))
        path.stay(_hold_s(path))
        path.go(0.0, float(path.rng.uniform(low_s, high_s)))

    return press


KINDS = (
    Kind("squeezes of 0.2 s", squeezed(0.2, 0.2), benign=True),
    Kind("squeezes of 0.2 to 5 s", squeezed(0.2, 5.0), benign=True),
    Kind("squeezes of 5 s", squeezed(5.0, 5.0), benign=True),
    Kind("squeezes of 0.1 s", squeezed(0.1, 0.1)),
    Kind("squeezes of 10 s", squeezed(10.0, 10.0)),
    Kind("squeezes of 0.1 to 15 s", squeezed(0.1, 15.0)),
    Kind("over in 0.1 to 0.5 s", short(0.1, 0.5)),
    Kind("over in 5 to 15 s", short(5.0, 15.0)),
    Kind("tremble to 1 %", trembling(0.01), benign=True),
    Kind("tremble to 1 % on the way too", trembling(0.01, on_the_way=True), benign=True),
    Kind("tremble to 2 %", trembling(0.02)),
    Kind("tremble to 2 % on the way too", trembling(0.02, on_the_way=True)),
    Kind("sag of 1 %", sagging(0.01, 0.01), benign=True),
    Kind("sag of 0 to 2 %", sagging(0.0, 0.02), benign=True),
    Kind("sag of 3 %", sagging(0.03, 0.03)),
    Kind("sag of 5 %", sagging(0.05, 0.05)),
    Kind("sag of 0 to 10 %", sagging(0.0, 0.10)),
    Kind("two stages, 2 % short", in_two_stages((0.02, 0.02)), benign=True),
    Kind("two stages, to 2 % short, now and then", in_two_stages((0.0, 0.02), every=0.5),
         benign=True),
    Kind("two stages, 3 to 8 % short", in_two_stages((0.03, 0.08))),
    Kind("pause at 90 %", in_two_stages((0.10, 0.10), pause_s=(0.3, 1.0))),
    Kind("pause at 30 to 95 %, now and then",
         in_two_stages((0.05, 0.70), pause_s=(0.3, 1.5), every=0.5)),
    Kind("release halts at 10 %", halting_home(0.10, 0.10)),
    Kind("release halts at 2 to 60 %", halting_home(0.02, 0.60)),
    Kind("release creeps the last 1 %", creeping_home(0.01)),
    Kind("release creeps the last 3 %", creeping_home(0.03)),
    Kind("release eased over 0.5 to 3 s", eased_out(0.5, 3.0)),
    Kind("thumb left on at 1 %", squeezed(0.2, 1.5), True, lambda _: 0.01),
    Kind("thumb left on at 0 to 1 %", squeezed(0.2, 1.5), True, lambda rng: rng.uniform(0.0, 0.01)),
    Kind("thumb left on at 3 %", squeezed(0.2, 1.5), False, lambda _: 0.03),
    Kind("thumb left on at 0 to 6 %", squeezed(0.2, 1.5), False, lambda rng: rng.uniform(0, 0.06)),
    Kind("thumb left on at 5 to 20 %", squeezed(0.2, 1.5), False,
         lambda rng: rng.uniform(0.05, 0.20)),
    Kind("double taps", tapping_twice((0.05, 0.2), (0.03, 0.2))),
    Kind("double taps, the second held", tapping_twice((0.05, 0.8), (0.03, 0.2))),
    Kind("stops at 80 to 99 %", stopping_at(0.80, 0.97, 0.91, 0.99, 0.85)),
    Kind("stops at 40 to 100 %", stopping_at(1.0, 0.4, 0.7, 0.95, 0.6)),
)  # fmt: skip


@dataclass(frozen=True)
class Logger:
    """What makes readings of a path: rate, step in V (0 for none), decimals of a line in volts."""

    rate_hz: float
    bits: int | None
    decimals: int | None
    noise_V: float
    rest_V: float
    full_V: float

    @property
    def name(self) -> str:
        """How it sends its readings."""
        return f"{self.bits} bits" if self.bits is not None else f"volts, {self.decimals} decimals"


RATES_HZ = (50.0, 100.0, 200.0, 500.0, 1000.0)
OUTPUTS: tuple[tuple[int | None, int | None], ...] = (
    (8, None), (10, None), (12, None), (None, 2), (None, 3),
)  # fmt: skip


def draw_logger(rng: Rng) -> Logger:
    """A control on a logger, a seventh of them the other way round."""
    bits, decimals = OUTPUTS[int(rng.integers(len(OUTPUTS)))]
    ends = (float(rng.uniform(0.7, 1.1)), float(rng.uniform(3.5, 4.2)))
    rest_V, full_V = ends if rng.random() < 0.86 else ends[::-1]
    return Logger(
        rate_hz=float(rng.choice(RATES_HZ)),
        bits=bits,
        decimals=decimals,
        noise_V=float(rng.choice([0.0005, 0.002, 0.005])),
        rest_V=rest_V,
        full_V=full_V,
    )


def path_of(kind: Kind, rng: Rng, presses: int = 5) -> Floats:
    """What one hand of a kind does, share of the travel at `PATH_HZ`; it begins with the hand off.

    Rest and stop scatter a little from press to press, as springs and pads do.
    """
    path = Path(rng)
    path.stay(1.5)
    for number in range(presses):
        first = len(path.pieces)
        kind.press(path, number)
        pad = 0.001 * rng.normal()
        path.pieces[first:] = [
            piece + pad * np.clip(piece, 0.0, 1.0) for piece in path.pieces[first:]
        ]
        level = kind.between(rng) if number < presses - 1 else 0.0
        path.home(level + 0.002 * rng.normal())
        path.stay(float(rng.uniform(*kind.rests_s)))
    path.stay(1.0)
    return path.drawn()


def read(path: Floats, logger: Logger, rng: Rng) -> tuple[Floats, Floats]:
    """Times in s and readings as sent: counts, or volts with their decimals."""
    fine_s = np.arange(len(path)) / PATH_HZ
    time_s = np.arange(int(fine_s[-1] * logger.rate_hz)) / logger.rate_hz
    share = np.interp(time_s, fine_s, path)
    volts = logger.rest_V + (logger.full_V - logger.rest_V) * share
    volts = volts + logger.noise_V * rng.normal(size=len(volts))
    if logger.bits is not None:
        return time_s, np.floor(volts / 5.0 * 2.0**logger.bits)
    return time_s, np.round(volts, logger.decimals or 0)
