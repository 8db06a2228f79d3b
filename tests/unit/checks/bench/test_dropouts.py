from __future__ import annotations

import numpy as np
import pytest

from calib.checks.bench.dropouts import DropOut, Reach, drop_out_findings, find_drop_outs
from tests.unit.checks.bench.waves import Floats, flat, noise, ramp, volts_signal

RATE_HZ = 1000.0


def _find(
    volts: Floats, *, rate_hz: float = RATE_HZ, top_known: bool = True
) -> tuple[DropOut, ...]:
    return find_drop_outs(
        volts,
        Reach(rest_V=1.0, sd_V=0.002, span_V=3.0, direction=1, top_known=top_known),
        rate_hz=rate_hz,
        glitch_pct=10.0,
    )


def _with_open(level_V: float, first: int, count: int, rate_hz: float = RATE_HZ) -> Floats:
    volts = flat(1.0, 5.0, rate_hz) + noise(round(5.0 * rate_hz), 0.002)
    volts[first : first + count] = level_V
    return volts


@pytest.mark.parametrize("level_V", [0.0, 2.2, 4.9])
def test_every_opening_is_counted_and_timed(level_V: float) -> None:
    """To ground, floating or to the supply: 40 readings at 1 kHz are one drop-out of 40 ms."""
    (drop,) = _find(_with_open(level_V, 2000, 40))
    assert len(drop.run) == 40
    assert drop.run.first == 2000
    assert drop.level_V == pytest.approx(level_V)
    assert drop.into_travel == (level_V > 1.0)


@pytest.mark.parametrize("rate_hz", [1000.0, 100.0, 50.0])
def test_a_quick_hand_is_no_drop_out(rate_hz: float) -> None:
    """A press in 0.1 s and a return in 0.1 s are a hand's at any rate."""
    share = np.linspace(0.0, 1.0, max(2, round(0.1 * rate_hz) + 1))
    eased = share**3 * (10 - 15 * share + 6 * share**2)
    volts = np.concatenate(
        [
            flat(1.0, 2.0, rate_hz),
            1.0 + 3.0 * eased,
            flat(4.0, 0.6, rate_hz),
            4.0 - 3.0 * eased,
            flat(1.0, 2.0, rate_hz),
        ]
    )
    assert _find(volts + noise(len(volts), 0.002), rate_hz=rate_hz) == ()


def test_noise_is_no_drop_out() -> None:
    """A minute of noise at 1 kHz holds none."""
    assert _find(flat(1.0, 60.0, RATE_HZ) + noise(60_000, 0.002)) == ()


def test_what_goes_beyond_full_travel_needs_the_record() -> None:
    """Slowly beyond full travel: only who knows full travel can tell."""
    volts = np.concatenate(
        [flat(1.0, 1.0, RATE_HZ), ramp(1.0, 4.9, 0.3, RATE_HZ), ramp(4.9, 1.0, 0.3, RATE_HZ)]
    )
    assert _find(volts) != ()
    assert _find(volts, top_known=False) == ()


@pytest.mark.parametrize(
    ("level_V", "code"),
    [(0.05, "drop-outs-low"), (2.0, "drop-outs"), (4.9, "drop-outs-high")],
)
def test_where_it_goes_points_to_the_wire(level_V: float, code: str) -> None:
    """Ground lost goes to the supply, signal or supply lost goes to ground, floating in between."""
    volts = _with_open(level_V, 1000, 20)
    volts[3000:3020] = level_V
    time_s = np.arange(len(volts)) / RATE_HZ
    finding = next(drop_out_findings(volts_signal(volts), _find(volts), time_s, 1.0, 5.0), None)
    assert finding is not None
    assert finding.code == code
    assert finding.value == 2.0
    assert "20 ms" in finding.text


def test_without_drop_outs_nothing_is_said() -> None:
    """No excursion, no finding."""
    volts = flat(1.0, 1.0, RATE_HZ)
    assert not list(drop_out_findings(volts_signal(volts), (), np.arange(1000.0), 1.0, None))
