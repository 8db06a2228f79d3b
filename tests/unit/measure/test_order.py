from __future__ import annotations

from calib.measure.order import order_statistic_count, order_statistic_rank


def test_rank_and_count_are_each_others_inverse() -> None:
    """As many readings as a rank needs give that rank; one fewer gives the rank before."""
    for rank in (1, 2, 5):
        count = order_statistic_count(0.999, 0.95, rank=rank)
        assert order_statistic_rank(count, 0.999, 0.95) == rank
        assert order_statistic_rank(count - 1, 0.999, 0.95) == (rank - 1 or None)
