"""Captures of the simulated bench for campaigns: whole, in memory, through the device's clock."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from calib.link.clock import DeviceClock
from calib.mule import faults, hands
from calib.mule.bench import CHANNELS, KINDS, Bench, draw_bench
from calib.mule.faults import SEVERITIES
from calib.mule.rigfile import COLUMNS
from calib.mule.sampler import Sampler
from calib.mule.stage import Stage
from calib.store.capture import Capture
from calib.store.rig import Rig, load_rig
from tests.second_track import (
    TRACK_KINDS,
    planted_on_any,
    rig_text,
    targets_of,
    with_second_track,
)

Script = Callable[[Stage], None]

CHECK_S: Final = 52.0  # rest, both controls, the switch, the harness, rest


def rig_for(bench: Bench, folder: Path) -> Rig:
    """The rig file of a bench, written and read."""
    path = folder / f"{bench.kind}-{bench.seed}.toml"
    path.write_text(rig_text(bench, "/dev/null"), encoding="utf-8")
    return load_rig(path)


def capture_of(
    bench: Bench, script: Script = hands.bench_check, *, session: int = 0, tail_s: float = 0.0
) -> Capture:
    """What calib would have on disk after the hands went through a script.

    Args:
        bench: The bench, sound or not.
        script: What the hands do.
        session: Another number, another evening: other hands and other noise at the same bench.
        tail_s: Stillness after the script, s.
    """
    stage = Stage(bench, session)
    script(stage)
    samples = int((stage.cursor_s + tail_s) * bench.logger.rate_hz)
    got = Sampler(stage, session).block(samples)
    clock = DeviceClock(0.001, 2.0**32)
    time_s = clock.advance(got.t_ms.astype(np.float64), got.true_s)
    return Capture(
        path=Path(f"{bench.kind}-{bench.seed}-{session}.csv"),
        digest=lambda: "0" * 64,
        columns=tuple(COLUMNS.values()),
        time_s=time_s,
        arrival=lambda: got.true_s - got.true_s[0],
        values={
            COLUMNS[name]: got.counts[:, index].astype(np.float64)
            for index, name in enumerate(CHANNELS)
        },
        events=tuple(clock.take_events(final=True)),
    )


@dataclass(frozen=True, slots=True)
class Case:
    """One bad bench of a campaign."""

    make: str
    seed: int
    fault: faults.Planted

    def before(self) -> Bench:
        """The bench when it was sound."""
        bench = draw_bench(self.seed, self.make)
        return with_second_track(bench) if self.fault.kind in TRACK_KINDS else bench

    def after(self) -> Bench:
        """The bench with its fault."""
        return self.fault.on(self.before())


def cases(
    kinds: tuple[str, ...],
    seeds: range,
    makes: tuple[str, ...] = tuple(KINDS),
    severities: Sequence[int] = tuple(SEVERITIES),
) -> Iterator[Case]:
    """Every kind at every severity on every make of bench; the channel struck is drawn."""
    for make in makes:
        for kind in kinds:
            for severity in severities:
                for seed in seeds:
                    rng = np.random.default_rng([seed, severity, len(kind)])
                    targets = targets_of(kind)
                    target = targets[int(rng.integers(len(targets)))]
                    yield Case(make, seed, planted_on_any(kind, severity, target))
