"""Uncertainty budgets against the GUM's and EA-4/02's examples."""

from __future__ import annotations

import math

import numpy as np
import pytest

from calib.controls.scale_budget import level_budget
from calib.measure.spread import level_spread
from calib.measure.uncertainty import (
    Component,
    budget,
    coverage_factor,
    effective_dof,
    rectangular_u,
)
from tests.reference.statistics_tables import document
from tests.unit.controls.test_scale_budget import known


def test_type_a_of_twenty_readings() -> None:
    """Mean 100.145, standard deviation 1.489, uncertainty of the mean 0.333, as twenty stays.

    Source: JCGM 100:2008, 4.4.3.
    """
    example = document("gum/gum_4_4_3.json")
    readings = np.array(example["obs"])
    spread = level_spread([np.full(3, reading) for reading in readings])
    found = level_budget(spread, known()).of_kind("A").components[0]
    assert spread.mean == pytest.approx(example["mean"], abs=5e-4)
    assert spread.sd_means == pytest.approx(example["s"], abs=5e-4)
    assert found.u == pytest.approx(example["u"], abs=5e-4)
    assert found.dof == 19.0


def test_end_gauge() -> None:
    """Combined uncertainty 31.66 nm, 16.75 degrees of freedom, 93 nm at 99 %.

    Source: JCGM 100:2008, H.1.5 and H.1.6; unrounded figures from the package GTC.
    """
    example = document("gum/gum_H1.json")
    parts = [
        Component(source=name, u=u, kind="B", dof=dof)
        for name, (u, dof) in example["components_nm"].items()
    ]
    whole = budget(parts)
    assert whole.u == pytest.approx(31.663879, rel=1e-5)
    assert whole.dof == pytest.approx(16.7519, rel=1e-4)
    assert coverage_factor(whole.dof, 0.99) == pytest.approx(2.92078, abs=1e-5)
    assert round(coverage_factor(whole.dof, 0.99) * 32.0, 0) == pytest.approx(93.0, abs=0.6)
    assert [part.source for part in whole.components][:2] == ["ls", "d_theta"]


def test_half_widths() -> None:
    """Rectangular 0.05 gives 0.0288675.

    Source: JCGM 100:2008, H.1.3.
    """
    assert rectangular_u(0.05) == pytest.approx(0.0288675, abs=1e-7)


def test_student_factors() -> None:
    """Coverage factors of Student's t for 95 % and 95.45 %.

    Source: JCGM 100:2008, table G.2.
    """
    printed = {1: 12.706, 2: 4.303, 3: 3.182, 4: 2.776, 5: 2.571, 10: 2.228, 20: 2.086, 50: 2.009}
    for dof, factor in printed.items():
        assert coverage_factor(dof, 0.95) == pytest.approx(factor, abs=5.1e-4)
    for dof, factor in {1: 13.968, 4: 2.869, 10: 2.284, 50: 2.051}.items():
        assert coverage_factor(dof, 0.9545) == pytest.approx(factor, abs=5.1e-4)
    assert coverage_factor(math.inf, 0.95) == pytest.approx(1.959964, abs=1e-6)


@pytest.mark.parametrize("name", ["S2", "S12"])
def test_effective_degrees_of_freedom_of_ea_examples(name: str) -> None:
    """Uncertainty and coverage factor agree with the guide's weighing and flow examples.

    Source: EA-4/02, S2 and S12. The k of 2.08 for S2 is our re-computation, not the guide's print.
    """
    example = document("gum/ea402_examples.json")[name]
    dofs = [math.inf if dof is None else float(dof) for dof in example["nu"]]
    whole = budget(
        Component(source=str(index), u=u, kind="B", dof=dof)
        for index, (u, dof) in enumerate(zip(example["ux"], dofs, strict=True))
    )
    assert whole.u == pytest.approx(example["uy"], rel=4e-3)
    assert coverage_factor(whole.dof, 0.9545) == pytest.approx(example["k"], abs=0.025)
    assert whole.dof == pytest.approx({"S2": 34.4253, "S12": 10.44}[name], rel=1e-3)


def test_hand_held_multimeter() -> None:
    """Its parts sum to 0.03 V; the pages' normal k of 1.96 is wider than the guide's 1.65.

    One rectangular part dominates there, and the guide takes k = 0.95·√3 for it; ours is the
    safer of the two. Source: EA-4/02, S9 (hand-held multimeter).
    """
    example = document("gum/ea402_examples.json")["S9"]
    whole = budget(Component(source=str(u), u=u, kind="B") for u in example["ux"])
    assert whole.u == pytest.approx(0.0297146, abs=1e-6)
    assert example["U"] <= whole.expanded() <= 1.2 * example["U"]


def test_known_parts_leave_infinite_degrees_of_freedom() -> None:
    """Parts without degrees of freedom add nothing to the Welch-Satterthwaite sum.

    Source: JCGM 100:2008, G.4.2.
    """
    assert effective_dof([(1.0, math.inf), (2.0, math.inf)]) == math.inf
    assert effective_dof([(1.0, 4.0), (0.0, 1.0)]) == pytest.approx(4.0)
