from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.guide.capturing import Pacer, capture_until
from calib.guide.hand import Others
from calib.guide.protocols import Sound
from calib.guide.recording import gauge_for
from calib.guide.tilt import StandingWatch
from calib.guide.travel import TravelWatch
from calib.store.samples import Samples
from calib.tilt.inputs import find_inputs
from tests.hands import NOON, NotingPerson, SteppingClock, as_samples, make_rig, pressed
from tests.tilt_files import PITCH, tilt_rig

RATE_HZ = 100.0
Floats = NDArray[np.float64]


def in_bursts(count: int, longest: int, seed: int = 3) -> list[Floats]:
    """Stamps of a host that reads up to so many lines at once, in s, burst by burst."""
    rng = np.random.default_rng(seed)
    bursts: list[Floats] = []
    first = 0
    while first < count:
        stop = min(first + int(rng.integers(2, longest + 1)), count)
        stamps_s = (stop - 1) / RATE_HZ + 0.0004 * np.arange(stop - first)
        bursts.append(stamps_s.astype(np.float64))
        first = stop
    return bursts


def in_seconds(count: int) -> list[Floats]:
    """Stamps of whole seconds, line by line."""
    return [np.array([np.floor(index / RATE_HZ)]) for index in range(count)]


@dataclass
class StampedLine:
    """A line whose stamps are given, run by run."""

    volts: Floats
    runs: list[Floats]
    columns: tuple[str, ...] = ("a0",)

    def blocks(self) -> Iterator[Samples]:
        """The readings, run by run."""
        first = 0
        for stamps_s in self.runs:
            part = as_samples(self.volts[first : first + len(stamps_s)], RATE_HZ, first)
            yield Samples(stamps_s, part.arrival_s, part.values, part.rows)
            first += len(stamps_s)


@pytest.mark.parametrize("longest", [4, 12, 40])
def test_presses_are_counted_while_lines_come_in_bursts(tmp_path: Path, longest: int) -> None:
    """Each of five presses rings once while it is held, and the fifth ends the capture."""
    volts = pressed(presses=5, hold_s=1.0)
    assert heard(tmp_path, volts, in_bursts(len(volts), longest)) == [
        *[Sound.COUNTED] * 4, Sound.DONE,
    ]  # fmt: skip


def test_presses_are_counted_while_a_second_is_the_least_that_the_clock_tells(
    tmp_path: Path,
) -> None:
    """A hundred lines share a stamp; the even time between them is the rate's."""
    volts = pressed(presses=5, hold_s=1.0)
    assert heard(tmp_path, volts, in_seconds(len(volts))) == [*[Sound.COUNTED] * 4, Sound.DONE]


def heard(folder: Path, volts: Floats, runs: list[Floats]) -> list[Sound]:
    """What a person hears whose throttle sends these volts with these stamps."""
    rig, person = make_rig(folder), NotingPerson()
    watch = TravelWatch(
        person,
        gauge_for(rig, ["a0"], "throttle"),
        Others(rig, ["a0"], "throttle"),
        presses=5,
        clock=SteppingClock(),
    )
    line = StampedLine(volts, runs)
    capture_until(line, rig, folder, watch, command="travel", now=NOON)
    return person.heard


def test_even_stamps_pass_as_they_are() -> None:
    """A line with an even clock is not touched."""
    pacer = Pacer()
    line = StampedLine(pressed(), np.split(np.arange(1720) / RATE_HZ, 172))
    assert all(pacer.take(samples) is samples for samples in line.blocks())


def test_a_standing_in_bursts_lasts_as_long_as_one_of_an_even_clock(tmp_path: Path) -> None:
    """Five seconds of standing still are five seconds, though half the steps are 0.4 ms."""
    runs = in_bursts(2000, 12)
    values = np.random.default_rng(2).normal(0.3, 0.02, (2000, 1))
    inputs = find_inputs(tilt_rig(tmp_path, PITCH), ["p"])
    watch = StandingWatch(NotingPerson(), inputs, what="first standing", clock=SteppingClock())
    pacer, first, over_s = Pacer(), 0, None
    for stamps_s in runs:
        rows = values[first : first + len(stamps_s)]
        first += len(stamps_s)
        if watch(pacer.take(Samples(stamps_s, stamps_s, rows, [""] * len(rows)))):
            over_s = first / RATE_HZ
            break
    assert over_s == pytest.approx(5.4, abs=0.5)
