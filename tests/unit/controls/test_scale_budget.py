from __future__ import annotations

import numpy as np
import pytest

from calib.controls.allowance import allow, limit_after, limit_remedied
from calib.controls.scale_budget import ScaleKnowledge, level_budget
from calib.controls.stay_level import StayLevel
from calib.controls.supply import Supply
from calib.controls.travel import LevelMeasurement
from calib.controls.trued import trued_u
from calib.measure.spread import level_spread
from calib.measure.tolerance import tolerance_limits
from calib.store.rig import Scale


def level(mean_V: float = 1.0, sd_V: float = 0.005) -> LevelMeasurement:
    """A level of five plateaus with a spread between and within them."""
    rng = np.random.default_rng(81)
    stays = tuple(mean_V + sd_V * rng.normal() + 0.002 * rng.normal(size=200) for _ in range(5))
    spread = level_spread(stays, lsb=0.005)
    levels = tuple(StayLevel(stay, float(stay.mean())) for stay in stays)
    return LevelMeasurement(spread, tolerance_limits(spread), levels)


def sources(knowledge: ScaleKnowledge, mean_V: float = 1.0) -> dict[str, float]:
    """Sources and standard uncertainties of a level's budget."""
    return {p.source: p.u for p in level_budget(level(mean_V).spread, knowledge).components}


def test_every_source_has_its_line() -> None:
    """Reference, divider, loading, supply, temperature, steps and repetition have their lines."""
    found = sources(
        ScaleKnowledge(
            reference_pct=2.0,
            divider=2.0,
            divider_pct=1.0,
            source_ohm=10e3,
            leak_ohm=1e6,
            controller_step_V=0.01,
            supply=Supply(4.0, "logged", 1.5),
            step_V=0.005,
            nonlinearity_lsb=2.0,
            temperature_span_K=20.0,
        )
    )
    mean_V = level().mean
    assert found["reference ±2 %"] == pytest.approx(0.02 * mean_V / 3.0**0.5)
    assert found["divider resistors ±1 %"] == pytest.approx(0.01 * mean_V / 6.0**0.5)
    assert found["loading by the logger's input"] == pytest.approx(mean_V / 101.0 / 3.0**0.5)
    assert found["sensor supply ±1.5 %, as logged"] == pytest.approx(0.015 * mean_V / 3.0**0.5)
    assert found["controller's step"] == pytest.approx(0.01 / 12.0**0.5)
    assert found["temperature anywhere within ±20 K"] == pytest.approx(
        0.03 * (2.0 - mean_V) / 3.0**0.5
    )
    assert found["converter bows by ±2 steps"] == pytest.approx(0.01 / 3.0**0.5)
    assert "repetition over 5 plateaus" in found


def test_what_is_not_stated_is_assumed_and_said() -> None:
    """Without a stated tolerance the budget names its own assumption."""
    found = sources(ScaleKnowledge(step_V=0.005))
    assert "converter bows by ±1 step, assumed" in found
    assert "reference ±7 %, assumed" in found
    assert "sensor supply ±0.5 %, assumed" in found


def test_truing_replaces_the_scale() -> None:
    """A trued channel has one line for its scale, with the covariance of gain and offset."""
    trued = Scale(
        gain=1.02, offset_V=0.01, u_gain=0.002, u_offset_V=0.003, cov=-5e-6, date="2026-11-25"
    )
    found = sources(ScaleKnowledge(trued=trued, divider=2.0))
    mean_V = level().mean
    raw_V = (mean_V - 0.01) / 1.02
    by_hand = (raw_V * 0.002) ** 2 + 0.003**2 - 2.0 * raw_V * 5e-6
    assert found["truing of the logger"] == pytest.approx(by_hand**0.5)
    assert trued_u(mean_V, trued) == pytest.approx(by_hand**0.5)
    assert not any("reference" in source or "divider" in source for source in found)


def test_allowance_widens_and_truing_narrows() -> None:
    """The allowance moves limits outward; a remedy and more presses move them back."""
    one = level()
    whole = level_budget(one.spread, ScaleKnowledge(reference_pct=5.0))
    wide = allow(one, whole)
    assert wide.low_V < one.limit_low < one.limit_high < wide.high_V
    assert one.limit_high < limit_remedied(one, whole, upper=True) < wide.high_V
    assert wide.low_V < limit_remedied(one, whole, upper=False)
    same = limit_after(one, whole, plateaus=5, upper=True)
    assert same == pytest.approx(wide.high_V)
    assert limit_after(one, whole, plateaus=10, upper=True) < same
    assert limit_after(one, whole, plateaus=10, upper=False) > wide.low_V
