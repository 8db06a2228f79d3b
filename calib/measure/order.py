"""Order statistics: limits that need no distribution."""

from __future__ import annotations

from calib.measure.distributions import binomial_up_to


def order_statistic_rank(n: int, content: float, confidence: float) -> int | None:
    """Rank from the largest reading that is a distribution-free limit, or None if n is too few.

    Source: Wilks, Ann. Math. Statist. 12 (1941) (from memory): binomial tail.
    """
    best: int | None = None
    rank = 1
    while rank <= n and binomial_up_to(rank - 1, n, 1.0 - content) <= 1.0 - confidence:
        best = rank
        rank += 1
    return best
