"""Hand-built waveforms with known answers, and the doubles of person and line for unit tests."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from calib.guide.protocols import Card, Live, Sound
from calib.store.capture import Capture, read_capture
from calib.store.capture_writer import CaptureWriter
from calib.store.rig import Rig, load_rig
from calib.store.samples import Samples

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)

VOLT_RIG = """\
[channels.throttle]
role = "control"
column = "a0"
unit = "V"
reference_tolerance_pct = 1
"""

COUNT_RIG = """\
[channels.throttle]
role = "control"
column = "a0"
unit = "count"
full_scale = 1024
reference_V = 5.0
reference_tolerance_pct = 1
"""


def make_rig(folder: Path, text: str = VOLT_RIG) -> Rig:
    """A rig file on disk, read."""
    path = folder / "rig.toml"
    path.write_text(text, encoding="utf-8")
    return load_rig(path)


def pressed(
    *,
    rest_V: float = 1.05,
    full_V: float = 4.2,
    presses: int = 5,
    rate_hz: float = 100.0,
    hold_s: float = 1.0,
    work_s: float = 0.3,
    return_s: float = 0.12,
    noise_V: float = 0.002,
    seed: int = 1,
) -> NDArray[np.float64]:
    """Volts of a control that is pressed and let go ``presses`` times; shape (n,)."""
    rng = np.random.default_rng(seed)

    def count(seconds: float) -> int:
        return max(2, round(seconds * rate_hz))

    parts = [np.full(count(1.5 * hold_s), rest_V)]
    for _ in range(presses):
        parts += [
            np.linspace(rest_V, full_V, count(work_s)),
            np.full(count(hold_s), full_V),
            np.linspace(full_V, rest_V, count(return_s)),
            np.full(count(1.2 * hold_s), rest_V),
        ]
    volts = np.concatenate(parts)
    return volts + rng.normal(0.0, noise_V, volts.shape)


def as_samples(volts: NDArray[np.float64], rate_hz: float = 100.0, start: int = 0) -> Samples:
    """One column of readings as a run of samples that begins at sample ``start``."""
    time_s = (start + np.arange(volts.shape[0])) / rate_hz
    return Samples(
        time_s=time_s,
        arrival_s=time_s,
        values=volts[:, None],
        rows=[f"{value:.9g}" for value in volts],
    )


def as_capture(
    folder: Path, rig: Rig, volts: NDArray[np.float64], rate_hz: float = 100.0
) -> Capture:
    """One column of readings as a capture on disk, read back."""
    path = folder / "captures" / "hand.csv"
    with CaptureWriter(path, rig, ["a0"], command="travel", started=NOON) as writer:
        writer.append(as_samples(volts, rate_hz))
    return read_capture(path)


@dataclass
class ScriptedLine:
    """A line that sends what it was given, in runs of ``run`` samples."""

    volts: NDArray[np.float64]
    rate_hz: float = 100.0
    run: int = 10
    columns: tuple[str, ...] = ("a0",)
    fails_with: BaseException | None = None

    def blocks(self) -> Iterator[Samples]:
        """The readings in runs; then the failure, if there is one."""
        for start in range(0, self.volts.shape[0], self.run):
            yield as_samples(self.volts[start : start + self.run], self.rate_hz, start)
        if self.fails_with is not None:
            raise self.fails_with


@dataclass
class NotingPerson:
    """A person who notes what was shown and heard, and types what was scripted."""

    answers: Sequence[str] = ()
    shown: list[Live] = field(default_factory=list)
    heard: list[Sound] = field(default_factory=list)
    cards: list[Card] = field(default_factory=list)
    prompts: list[str] = field(default_factory=list)
    enters: list[bool] = field(default_factory=list)
    pages_left: int = 0

    def confirm_isolation(self, card: Card) -> None:
        """Note the card."""
        self.cards.append(card)

    def show(self, live: Live) -> None:
        """Note the page."""
        self.shown.append(live)

    def sound(self, sound: Sound) -> None:
        """Note the sound."""
        self.heard.append(sound)

    def leave_page(self) -> None:
        """Note it."""
        self.pages_left += 1

    def entered(self) -> bool:
        """Nobody touches the keyboard, unless a test says so."""
        return self.enters.pop(0) if self.enters else False

    def wait_until_ready(self, prompt: str) -> None:
        """Note the prompt."""
        self.prompts.append(prompt)

    def answer(self, question: str, *, default: str | None = None) -> str:
        """The next scripted answer, or the default."""
        self.prompts.append(question)
        given = len(self.prompts) - 1
        return self.answers[given] if given < len(self.answers) else (default or "")


class SteppingClock:
    """A host clock that goes on by a fixed step at each look; nothing sleeps."""

    def __init__(self, step_s: float = 0.1) -> None:
        """Start at zero."""
        self._now_s = 0.0
        self._step_s = step_s

    def __call__(self) -> float:
        """The time in seconds."""
        self._now_s += self._step_s
        return self._now_s
