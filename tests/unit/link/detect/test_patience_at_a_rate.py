"""How long a rate is listened at before the next one is tried, to the look."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import pytest

from calib.errors import PortError
from calib.link.detect.layout import Stated
from calib.link.detect.rate import RateFound, find_rate

STEP_S = 1.0 / 64.0


@dataclass
class Scripted:
    """A line that sends what is scripted for its rate and the time since that was set."""

    sends: Callable[[int, float], bytes]
    baud: int
    now_s: float = 0.0
    since_s: float = 0.0
    stays_s: list[float] = field(default_factory=list)

    def read(self) -> bytes:
        """What comes in the next 64th of a second."""
        self.now_s += STEP_S
        return self.sends(self.baud, self.now_s - self.since_s)

    def set_baud(self, baud: int) -> None:
        """Another rate, from now on."""
        self.stays_s.append(self.now_s - self.since_s)
        self.baud, self.since_s = baud, self.now_s

    def clock(self) -> float:
        """Time that has passed, in s."""
        return self.now_s


def listen(wire: Scripted, *rates: int) -> RateFound | None:
    """What is found; None where nothing is. The last stay is noted too."""
    try:
        found: RateFound | None = find_rate(
            wire, rates, Stated(), port="/dev/x", clock=wire.clock, tell=lambda _: None
        )
    except PortError:
        found = None
    wire.stays_s.append(wire.now_s - wire.since_s)
    return found


def test_silence_is_waited_out_for_a_board_that_starts_and_for_a_slow_logger() -> None:
    """Three seconds and a half at the first rate, 1.2 s at each further one."""
    wire = Scripted(lambda _baud, _s: b"", 115200)
    assert listen(wire, 115200, 9600, 57600) is None
    assert wire.stays_s[0] == 3.5
    assert wire.stays_s[1] == pytest.approx(1.2, abs=STEP_S)
    assert wire.stays_s[2] == pytest.approx(1.2, abs=2 * STEP_S)


def test_text_that_no_layout_fits_is_heard_out() -> None:
    """Two seconds and a half, and at the first rate as long again as a board takes to start."""
    wire = Scripted(lambda _baud, _s: b"hm ", 115200)
    assert listen(wire, 115200, 9600) is None
    assert wire.stays_s[0] == pytest.approx(6.0, abs=STEP_S)
    assert wire.stays_s[1] == pytest.approx(2.5, abs=2 * STEP_S)


@pytest.mark.parametrize(("odd", "left_at"), [(1, None), (2, 200)])
def test_garbage_is_left_after_two_hundred_bytes(odd: int, left_at: int | None) -> None:
    """Of ten bytes two that no text has are garbage, one is a fault of the line."""
    wire = Scripted(lambda _baud, _s: b"\x80" * odd + b"x" * (10 - odd), 115200)
    assert listen(wire, 115200, 9600) is None
    if left_at is None:
        assert wire.stays_s[0] == pytest.approx(6.0, abs=STEP_S)
    else:
        assert wire.stays_s[0] == left_at / 10 * STEP_S


def test_what_comes_just_after_a_change_of_rate_may_be_of_the_last_one() -> None:
    """Bytes of the first 60 ms are left out at every rate but the first."""

    def sends(baud: int, since_s: float) -> bytes:
        return b"\x80" * 400 if since_s < 0.06 else b"" if baud == 115200 else b"12,345\r\n"

    wire = Scripted(sends, 115200)
    found = listen(wire, 115200, 9600)
    assert found is not None
    assert [each.baud for each in found.tried] == [115200, 9600]
    first, second = found.tried
    assert (first.received, first.garbled) == (400, True)
    assert (second.unprintable, second.garbled) == (0, False)
    # of looks of a 64th of a second three are within 60 ms
    assert second.received == 8 * (wire.stays_s[-1] / STEP_S - 3)


def test_eight_samples_settle_a_rate_at_the_next_look() -> None:
    """Looked at five times a second: of forty lines a second eight are there at the second look."""

    def sends(_baud: int, since_s: float) -> bytes:
        number = round(since_s / STEP_S)
        return b"%d,512\r\n" % number if number % 2 else b""

    wire = Scripted(sends, 115200)
    found = listen(wire, 115200, 9600)
    assert found is not None
    assert found.best.baud == 115200
    assert 0.39 < wire.stays_s[0] < 0.66
    assert found.heard.samples >= 8


def test_the_rate_at_which_most_was_understood_is_gone_back_to() -> None:
    """Half of its lines are numbers; at the next rate none are."""

    def sends(baud: int, since_s: float) -> bytes:
        number = round(since_s / STEP_S)
        text = b"%d,512,300\r\n" % number if number % 2 else b"noise on the line!\r\n"
        return text if baud == 115200 else b"\x80\x81\x82\x83"

    wire = Scripted(sends, 115200)
    found = listen(wire, 115200, 9600)
    assert found is not None
    assert found.best.baud == wire.baud == 115200
    assert [each.baud for each in found.tried] == [115200, 9600]
    assert 0.0 < found.best.merit < 1.0
    assert found.tried[1].merit == 0.0
