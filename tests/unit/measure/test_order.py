from __future__ import annotations

import itertools

from calib.measure.tails import order_statistic_rank


def test_ranks_rise_one_by_one() -> None:
    """With more readings the rank that serves as a limit rises by one at a time, from none."""
    ranks = [order_statistic_rank(count, 0.99, 0.95) or 0 for count in range(200, 800)]
    assert ranks[0] == 0
    assert ranks[-1] >= 3
    assert all(0 <= after - before <= 1 for before, after in itertools.pairwise(ranks))
