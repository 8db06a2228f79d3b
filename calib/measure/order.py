"""Order statistics: limits that need no distribution, and how many readings they need."""

from __future__ import annotations

from scipy import special


def order_statistic_count(content: float, confidence: float, *, rank: int = 1) -> int:
    """Least count of independent readings for a distribution-free one-sided limit.

    Args:
        content: Share.
        confidence: Confidence.
        rank: 1 where the limit is the largest reading, 2 the second largest, and so on.

    Returns:
        The count.

    Source: Wilks, Ann. Math. Statist. 12 (1941) (from memory): binomial tail.
    """
    n = rank
    while float(special.bdtr(rank - 1, n, 1.0 - content)) > 1.0 - confidence:
        step = max(1, n // 64)
        while step > 1 and float(special.bdtr(rank - 1, n + step - 1, 1.0 - content)) <= (
            1.0 - confidence
        ):
            step //= 2
        n += step
    return n


def order_statistic_rank(n: int, content: float, confidence: float) -> int | None:
    """Rank from the largest reading that is a distribution-free limit, or None if n is too few.

    Source: as `order_statistic_count`.
    """
    best: int | None = None
    rank = 1
    while rank <= n and float(special.bdtr(rank - 1, n, 1.0 - content)) <= 1.0 - confidence:
        best = rank
        rank += 1
    return best
