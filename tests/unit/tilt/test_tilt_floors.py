"""The level zero over a few dozen simulated floors.

The campaign over thousands of them is `python -m tests.bench.zero`.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.bench.zero import WORLDS, simulate


@pytest.mark.parametrize("world", WORLDS, ids=lambda world: world.name)
def test_turning_beats_one_standing_by_far(world: object) -> None:
    """Sixty floors: the turned zero is within its stated uncertainty in nearly all of them."""
    named = next(each for each in WORLDS if each is world)
    outcomes = [simulate(named, np.random.default_rng((1, i))) for i in range(60)]
    turned = np.sqrt(np.mean([o.turned_error**2 for o in outcomes]))
    single = np.sqrt(np.mean([o.single_error**2 for o in outcomes]))
    held = np.mean([abs(o.turned_error) <= o.u95 for o in outcomes])
    assert turned < 0.2
    assert single > 5 * turned
    assert held >= 0.85
