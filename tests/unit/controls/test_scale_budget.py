from __future__ import annotations

import math

import numpy as np
import pytest

from calib.controls.scale_budget import (
    AllowedLevel,
    ScaleKnowledge,
    level_budget,
    trued_u,
)
from calib.controls.supply import Supply
from calib.controls.travel import LevelMeasurement, StayLevel
from calib.measure.spread import level_spread
from calib.measure.tolerance import tolerance_limits
from calib.measure.uncertainty import Component, budget
from calib.store.rig import Channel, Scale


def level(mean_V: float = 1.0, sd_V: float = 0.005) -> LevelMeasurement:
    """A level of five plateaus with a spread between and within them."""
    rng = np.random.default_rng(81)
    stays = tuple(mean_V + sd_V * rng.normal() + 0.002 * rng.normal(size=200) for _ in range(5))
    spread = level_spread(stays, lsb=0.005)
    levels = tuple(StayLevel(stay, float(stay.mean())) for stay in stays)
    return LevelMeasurement(spread, tolerance_limits(spread), levels)


def known(
    supply: Supply | None = None,
    *,
    step_V: float = 0.0,
    controller_step_V: float = 0.0,
    temperature_span_K: float = 5.0,
    **stated: object,
) -> ScaleKnowledge:
    """What is known of a control's scale, where only this is stated of its channel."""
    about = Channel(**{"role": "control", "column": "a0", "unit": "count", **stated})  # type: ignore[arg-type]
    return ScaleKnowledge(about, supply or Supply(), step_V, controller_step_V, temperature_span_K)


def sources(knowledge: ScaleKnowledge, mean_V: float = 1.0) -> dict[str, float]:
    """Sources and standard uncertainties of a level's budget."""
    return {p.source: p.u for p in level_budget(level(mean_V).spread, knowledge).components}


def test_every_source_has_its_line() -> None:
    """Reference, divider, loading, supply, temperature, steps and repetition have their lines."""
    found = sources(
        known(
            reference_tolerance_pct=2.0,
            divider=2.0,
            divider_tolerance_pct=1.0,
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
    found = sources(known(step_V=0.005))
    assert "converter bows by ±1 step, assumed" in found
    assert "reference ±7 %, assumed" in found
    assert "sensor supply ±0.5 %, assumed" in found


def test_truing_replaces_the_scale() -> None:
    """A trued channel has one line for its scale, with the covariance of gain and offset."""
    trued = Scale(
        gain=1.02, offset_V=0.01, u_gain=0.002, u_offset_V=0.003, cov=-5e-6, date="2026-11-25"
    )
    found = sources(known(scale=trued, divider=2.0))
    mean_V = level().mean
    raw_V = (mean_V - 0.01) / 1.02
    by_hand = (raw_V * 0.002) ** 2 + 0.003**2 - 2.0 * raw_V * 5e-6
    assert found["truing of the logger"] == pytest.approx(by_hand**0.5)
    assert trued_u(mean_V, trued) == pytest.approx(by_hand**0.5)
    assert not any("reference" in source or "divider" in source for source in found)


def test_allowance_widens_and_truing_narrows() -> None:
    """The allowance moves limits outward; a remedy and more presses move them back."""
    one = level()
    whole = level_budget(one.spread, known(reference_tolerance_pct=5.0))
    wide = AllowedLevel(one, whole)
    low_V, high_V = wide.limit_V(upper=False), wide.limit_V(upper=True)
    assert low_V < one.limits.low < one.limits.high < high_V
    assert one.limits.high < wide.limit_remedied_V(upper=True) < high_V
    assert low_V < wide.limit_remedied_V(upper=False)
    same = wide.limit_after_V(5, upper=True)
    assert same == pytest.approx(high_V)
    assert wide.limit_after_V(10, upper=True) < same
    assert wide.limit_after_V(10, upper=False) > low_V


def test_what_a_remedy_would_leave_by_hand() -> None:
    """The best remedy takes its part's square off the sum and puts what is left in its place."""
    one = level()
    whole = budget(
        [
            Component("a reference", 0.03, "B", remedy="true it", u_remedied=0.01),
            Component("temperature", 0.02, "B"),
            Component("repetition", 0.5, "A", 4.0),
        ]
    )
    above = one.limits.above.shifted(math.hypot(0.01, 0.02), one.limits.confidence)
    below = one.limits.below.shifted(math.hypot(0.01, 0.02), one.limits.confidence)
    allowed = AllowedLevel(one, whole)
    assert allowed.limit_remedied_V(upper=True) == pytest.approx(one.limits.centre + above)
    assert allowed.limit_remedied_V(upper=False) == pytest.approx(one.limits.centre - below)
    bare = AllowedLevel(one, budget([Component("temperature", 0.02, "B")]))
    assert bare.limit_remedied_V(upper=True) == pytest.approx(bare.limit_V(upper=True))


def test_a_scale_of_which_nothing_is_said_has_these_lines_and_no_others() -> None:
    """No divider, no loading, no steps: reference, supply, temperature, repetition, own step."""
    assert set(sources(known(), 1.5)) == {
        "repetition over 5 plateaus",
        "logger's step",
        "reference ±7 %, assumed",
        "sensor supply ±0.5 %, assumed",
        "temperature anywhere within ±5 K",
    }
    assert "logger's volts ±7 %, assumed" in sources(known(unit="V"))


def test_a_divider_whose_resistors_are_not_stated_is_an_ordinary_one() -> None:
    """One per cent each, both in the ratio: (1 - 1/ratio)·√2 of it."""
    found = sources(known(divider=4.0))
    by_hand = 0.01 * level().mean / 3.0**0.5 * 0.75 * 2.0**0.5
    assert found["divider resistors ±1 %, assumed"] == pytest.approx(by_hand)
    assert "divider resistors ±0 %" not in found


@pytest.mark.parametrize("stated", [{"source_ohm": 1e4}, {"leak_ohm": 1e6}])
def test_loading_needs_both_resistances(stated: dict[str, float]) -> None:
    """What feeds the pin and what the pin draws make the loading together."""
    assert "loading by the logger's input" not in sources(known(**stated))  # type: ignore[arg-type]


def test_a_meter_would_leave_half_a_per_cent_of_the_reference() -> None:
    """What truing with an ordinary multimeter leaves is told beside the remedy."""
    whole = level_budget(level(2.0).spread, known(reference_tolerance_pct=5.0))
    part = next(each for each in whole.components if each.source == "reference ±5 %")
    assert part.u == pytest.approx(0.05 * level(2.0).mean / 3.0**0.5)
    assert part.u_remedied == pytest.approx(0.005 * level(2.0).mean / 3.0**0.5)
    assert "calib meter" in part.remedy


@pytest.mark.parametrize(("u_V", "listed"), [(0.9e-6, False), (1.1e-6, True)])
def test_less_than_a_microvolt_is_no_line(u_V: float, listed: bool) -> None:
    """A source that small is left out."""
    found = sources(known(controller_step_V=u_V * 12.0**0.5))
    assert ("controller's step" in found) is listed


def test_repetition_of_one_and_of_two_plateaus() -> None:
    """One plateau: the readings' own spread for one degree of freedom. Two: theirs over √2."""
    alone = level_spread([np.array([1.0, 1.2, 0.8, 1.0])])
    part = level_budget(alone, known()).of_kind("A").components[0]
    assert part.u == pytest.approx(0.02**0.5)
    assert part.dof == 1.0
    pair = level_spread([np.full(4, 1.0), np.full(4, 1.2)])
    part = level_budget(pair, known()).of_kind("A").components[0]
    assert part.u == pytest.approx(0.1)
    assert part.dof == 1.0
    triple = level_spread([np.full(4, 1.0), np.full(4, 1.2), np.full(4, 1.1)])
    assert level_budget(triple, known()).of_kind("A").components[0].dof == 2.0


def test_what_a_supply_can_put_on_a_wire() -> None:
    """From nothing to the supply itself, both included; the words say on which side it is not."""
    supply = Supply(3.3, "stated")
    assert supply.holds(0.0)
    assert supply.holds(3.3)
    assert not supply.holds(-0.01)
    assert not supply.holds(3.31)
    assert supply.beyond(-0.01) == "below 0 V"
    assert supply.beyond(3.31) == "above the supply (3.3 V, stated)"
