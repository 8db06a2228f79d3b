"""Wheels turned by hand, for tests: levels and counts of an exact ring, with no chance in them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from calib.store.capture import Capture
from calib.store.rig import Rig, read_rig

Floats = NDArray[np.float64]
RATE_HZ = 1000.0


def ring(
    pulses: int, *, missing: int | None = None, width: float = 0.4
) -> list[tuple[float, float]]:
    """Places and widths of even magnets, shares of a turn; one of them may be missing."""
    gap = 1.0 / pulses
    places = [k for k in range(pulses) if k != missing]
    return [((k + 0.3) * gap, width * gap) for k in places]


def hand(turns: float, speed: float = 0.8, rate_hz: float = RATE_HZ) -> tuple[Floats, Floats]:
    """Times, s, and turns: a second of rest, a steady turn with soft ends, a second of rest."""
    lasts_s = turns / speed + 0.5
    time_s = np.arange(0.0, lasts_s + 2.0, 1.0 / rate_hz)
    moving = np.clip(np.minimum(time_s - 1.0, 1.0 + lasts_s - time_s) / 0.5, 0.0, 1.0)
    way = np.cumsum(moving)
    return time_s, turns * way / way[-1]


def levels(magnets: list[tuple[float, float]], turns: Floats) -> Floats:
    """1 where a magnet is before the sensor, else 0; shape as ``turns``."""
    inside = np.zeros(len(turns), dtype=np.bool_)
    for at, width in magnets:
        inside |= (turns - at) % 1.0 < width
    return inside.astype(np.float64)


def counts(magnets: list[tuple[float, float]], turns: Floats, modulus: float = 256.0) -> Floats:
    """A running count of rising levels that starts anywhere and wraps."""
    level = levels(magnets, turns)
    return (200.0 + np.concatenate([[0.0], np.cumsum(np.diff(level) > 0.5)])) % modulus


def wheel_rig(unit: str = "level", more: str = "") -> Rig:
    """A rig file of a wheel sensor in column w."""
    text = f'[channels.wheel]\nrole = "wheel"\ncolumn = "w"\nunit = "{unit}"\n{more}'
    return read_rig(Path("rig.toml"), text.encode())


def wheel_capture(time_s: Floats, **columns: Floats) -> Capture:
    """A capture in memory."""
    return Capture(
        path=Path("wheel.csv"),
        digest=lambda: "0" * 64,
        columns=tuple(columns),
        time_s=time_s,
        arrival=lambda: time_s,
        values=columns,
    )


def write_wheel(path: Path, time_s: Floats, values: Floats) -> Path:
    """A text log with a header: t_s, w."""
    rows = zip(time_s.tolist(), values.tolist(), strict=True)
    lines = ["t_s,w", *(f"{at:.4f},{value:g}" for at, value in rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path
