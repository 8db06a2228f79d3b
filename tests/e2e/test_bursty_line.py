"""A live line whose program stamped lines as it read them: four to twenty at once."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from tests.e2e.running import calib
from tests.feeder import Feeder, Step
from tests.hands import pressed

RATE_HZ, SPEED = 100.0, 8.0
RIG = """\
[link]
port = "{port}"
[time]
column = "t_ms"
unit = "ms"
[channels.throttle]
role = "control"
acts = "drive"
column = "throttle"
unit = "V"
"""


def in_bursts() -> Iterator[Step]:
    """Six presses of a throttle, eight times as fast as the stamps say."""
    volts = pressed(presses=6)
    rng = np.random.default_rng(7)
    yield b"t_ms,throttle\n"
    first = 0
    while first < len(volts):
        stop = min(first + int(rng.integers(4, 21)), len(volts))
        read_ms = 1000.0 * (stop - 1) / RATE_HZ
        stamps_ms = read_ms + 0.4 * np.arange(stop - first)
        lines = zip(stamps_ms, volts[first:stop], strict=True)
        yield b"".join(b"%.1f,%.4f\n" % line for line in lines)
        yield (stop - first) / RATE_HZ / SPEED
        first = stop


def test_presses_are_counted_live_and_no_gap_is_made_up(tmp_path: Path) -> None:
    """Five presses end the capture while the sixth is still to come; rest and stop are right."""
    with Feeder(in_bursts()) as feeder:
        (tmp_path / "rig.toml").write_text(RIG.format(port=feeder.path), encoding="utf-8")
        done = calib("travel", "throttle", "--yes", "--isolated", "--json", cwd=tmp_path)
    document = json.loads(done.stdout)
    assert document["presses"] == 5, done.stderr
    assert document["capture"]["gaps"] == 0
    assert document["capture"]["rate_hz"] == pytest.approx(RATE_HZ, rel=0.01)
    assert document["rest"]["mean"] == pytest.approx(1.05, abs=0.005)
    assert document["full"]["mean"] == pytest.approx(4.2, abs=0.005)
    assert document["return_s"]["median"] == pytest.approx(0.12, abs=0.05)
