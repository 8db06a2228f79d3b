from __future__ import annotations

import pytest

from calib.mule.device import heard

LINE = b"t_ms,a0,a1\r\n100,229,187\r\n110,230,187\r\n" * 20


@pytest.mark.parametrize("error", [-0.03, 0.0, 0.03])
def test_three_per_cent_off_still_reads_right(error: float) -> None:
    """A receiver within 3 % samples the right bit to the end of a byte."""
    assert heard(LINE, 115200, 115200 * (1 + error)) == LINE


@pytest.mark.parametrize("baud", [9600, 38400, 57600, 230400])
def test_other_speeds_read_garbage(baud: int) -> None:
    """At half, twice or a twelfth of the speed hardly a byte is right."""
    got = heard(LINE, 115200, baud)
    right = sum(a == b for a, b in zip(got, LINE, strict=False))
    assert right < 0.1 * len(LINE)


def test_nothing_sent_nothing_heard() -> None:
    """An idle line has no edges."""
    assert heard(b"", 115200, 9600) == b""
