"""A control, its logger and its controller, drawn for campaigns on the values that are typed in."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from calib.checks.travel.judgement import judge_travel
from calib.checks.travel.numbers import TravelSettings
from calib.store.capture import Capture
from calib.store.documents.travel import TravelDocument
from calib.store.rig import Channel, Link, Rig, RigNotes, Tilt, Time

Floats = NDArray[np.float64]

Z = 3.0902
"""Normal quantile of 99.9 %."""
RATE_HZ = 100.0
REFERENCE_V, DIVIDER, CODES = 2.5, 2.0, 1024
STEP_V = REFERENCE_V * DIVIDER / CODES
SETTING_STEP_V = 0.01

# What the rig file states, and what calib assumes where it states nothing, written here once more
# and drawn in full: half-widths, all rectangular.
REFERENCE, RESISTOR, SUPPLY = 0.01, 0.01, 0.005
TEMPERATURE_K, PER_K = 5.0, 0.0015
BOW_STEPS = 1.0

RIG = Rig(
    path=Path("rig.toml"),
    sha256="0" * 64,
    rig=RigNotes(setting_step_V=SETTING_STEP_V),
    link=Link(),
    time=Time(),
    channels={
        "throttle": Channel(
            role="control",
            column="a0",
            unit="count",
            full_scale=CODES,
            reference_V=REFERENCE_V,
            divider=DIVIDER,
            reference_tolerance_pct=100.0 * REFERENCE,
            divider_tolerance_pct=100.0 * RESISTOR,
        )
    },
    tilt=Tilt(),
)


@dataclass(frozen=True)
class Control:
    """What is true of one control and one logger, V unless said.

    Attributes:
        rest_V: Mean rest.
        full_V: Mean full travel.
        noise_V: Standard deviation of a reading about its level.
        between_V: Standard deviation of the levels, at either end.
        gain: Logger's volts a true volt.
        bow_V: How far the logger's converter bows at rest and at full travel.
        supply: Change of the supply until the ride, as a share.
        warmer_K: Change of temperature until the ride, K.
        controller_V: What the controller's own step does to its reading.
    """

    rest_V: float
    full_V: float
    noise_V: float
    between_V: float
    gain: float
    bow_V: tuple[float, float]
    supply: float
    warmer_K: float
    controller_V: float

    @property
    def need_V(self) -> float:
        """Distance from its level that 99.9 % of all future readings need."""
        return Z * float(np.hypot(self.noise_V, self.between_V))

    def riding(self, level_V: float) -> float:
        """A level as the controller sees it on the ride, before its own scale."""
        warmed_V = PER_K * self.warmer_K * (level_V - 2.5)
        return level_V * (1.0 + self.supply) + warmed_V + self.controller_V


def draw_control(rng: np.random.Generator) -> Control:
    """A control and a logger, every claimed error drawn from its stated range."""
    noise_V = float(np.exp(rng.uniform(np.log(0.001), np.log(0.004))))
    resistors = rng.uniform(-RESISTOR, RESISTOR, 2)
    bow = rng.uniform(-BOW_STEPS, BOW_STEPS, 2) * STEP_V
    return Control(
        rest_V=rng.uniform(0.75, 1.0),
        full_V=rng.uniform(3.8, 4.2),
        noise_V=noise_V,
        between_V=noise_V * float(rng.choice([0.3, 1.0, 3.0])),
        gain=(1.0 + rng.uniform(-REFERENCE, REFERENCE))
        * (1.0 + (1.0 - 1.0 / DIVIDER) * float(resistors[0] - resistors[1])),
        bow_V=(float(bow[0]), float(bow[1])),
        supply=rng.uniform(-SUPPLY, SUPPLY),
        warmer_K=rng.uniform(-TEMPERATURE_K, TEMPERATURE_K),
        controller_V=0.5 * SETTING_STEP_V * rng.uniform(-1.0, 1.0),
    )


def judged(
    control: Control, presses: int, rng: np.random.Generator, settings: TravelSettings
) -> TravelDocument:
    """What calib says of a capture of the control."""
    counts = _counts(control, presses, rng)
    time_s = np.arange(len(counts)) / RATE_HZ
    capture = Capture(
        path=Path("captures/drawn.csv"),
        digest=lambda: "0" * 64,
        columns=("a0",),
        time_s=time_s,
        arrival=lambda: time_s,
        values={"a0": counts},
    )
    return judge_travel(capture, RIG, "throttle", settings, ())


def _counts(control: Control, presses: int, rng: np.random.Generator) -> Floats:
    """Codes of a hand that presses and lets go."""

    def count(low_s: float, high_s: float) -> int:
        return round(rng.uniform(low_s, high_s) * RATE_HZ)

    def level(mean_V: float) -> float:
        return mean_V + control.between_V * rng.normal()

    at = level(control.rest_V)
    parts = [np.full(count(1.0, 1.5), at)]
    for _ in range(presses):
        top, back = level(control.full_V), level(control.rest_V)
        parts += [
            np.linspace(at, top, count(0.15, 0.35)),
            np.full(count(0.6, 1.2), top),
            np.linspace(top, back, count(0.08, 0.15)),
            np.full(count(0.8, 1.2), back),
        ]
        at = back
    true_V = np.concatenate(parts)
    true_V = true_V + control.noise_V * rng.normal(size=true_V.shape)
    share = (true_V - control.rest_V) / (control.full_V - control.rest_V)
    bow_V = control.bow_V[0] + share * (control.bow_V[1] - control.bow_V[0])
    codes: Floats = np.floor((true_V * control.gain + bow_V) / STEP_V)
    return np.clip(codes, 0.0, CODES - 1.0)
