from __future__ import annotations

import pytest

from calib.errors import PortError
from calib.link.health import MOSTLY, PATIENCE_S, Health
from calib.link.layouts.rows import Block, Kind, Rejected


def block(samples: int, rejected: int) -> Block:
    """So many samples and lost lines."""
    return Block([], ["1"] * samples, [Rejected(Kind.TEXT, b"?", 0)] * rejected, 0.0)


def watched(samples: int, rejected: int, *, garbage: bool) -> Health:
    """A line that was watched for one stretch, with a sample at its end."""
    health = Health("loop://", 115200, 0.0)
    data = (b"\x80\xff" if garbage else b"1,") * 500
    health.saw(data, block(samples, rejected), PATIENCE_S - 0.1)
    return health


@pytest.mark.parametrize("garbage", [True, False])
def test_a_line_of_which_most_is_lost_to_garbage_is_at_the_wrong_rate(garbage: bool) -> None:
    """At the share itself it may go on; with one line more lost it is no line to measure by.

    Text that does not fit the layout is another matter, however much of it there is.
    """
    border = round(1000 * MOSTLY)
    watched(1000 - border, border, garbage=garbage).judge(PATIENCE_S)
    lost = watched(999 - border, border + 1, garbage=garbage)
    if not garbage:
        lost.judge(PATIENCE_S)
        return
    with pytest.raises(PortError, match=r"mostly garbage at 115200 baud.*the wrong rate"):
        lost.judge(PATIENCE_S)


def test_what_was_lost_in_an_earlier_stretch_does_not_count() -> None:
    """Each stretch is judged by itself: a bad one that was passed is forgotten."""
    health = watched(900, 100, garbage=True)
    health.judge(PATIENCE_S)
    health.saw(b"1,2\r\n" * 10, block(10, 0), 2.0 * PATIENCE_S - 0.1)
    health.judge(2.0 * PATIENCE_S)
