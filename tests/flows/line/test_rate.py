from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import pytest

from calib.errors import PortError
from calib.link.detect.layout import Stated
from calib.link.detect.rate import RATES, RateFound, find_rate
from calib.mule.device import heard

STEP_S = 0.05


@dataclass
class FakeWire:
    """A logger at one rate, heard at any other; time passes only while it is read."""

    sends_at: int
    line: Callable[[int], bytes]
    per_read: int = 5
    silent_s: float = 0.0
    refuses: tuple[int, ...] = ()
    baud: int = RATES[0]
    now_s: float = 0.0
    lines: int = 0
    set_to: list[int] = field(default_factory=list)

    def read(self) -> bytes:
        """Some lines, right or garbled, after a step of time."""
        self.now_s += STEP_S
        if self.now_s < self.silent_s:
            return b""
        sent = b"".join(self.line(self.lines + n) for n in range(self.per_read))
        self.lines += self.per_read
        return sent if self.baud == self.sends_at else heard(sent, self.sends_at, self.baud)

    def set_baud(self, baud: int) -> None:
        """Listen at another rate."""
        if baud in self.refuses:
            raise PortError("Port x: no such rate.", "")
        self.baud = baud
        self.set_to.append(baud)

    def clock(self) -> float:
        """The time that has passed, in s."""
        return self.now_s


def _counts(number: int) -> bytes:
    return b"%d,%d,%d\r\n" % (20 * number, 512 + number % 3, 300 - number % 2)


def _find(wire: FakeWire, rates: tuple[int, ...] = RATES) -> RateFound:
    told: list[int] = []
    found = find_rate(wire, rates, Stated(), port="/dev/x", clock=wire.clock, tell=told.append)
    assert told == [each.baud for each in found.tried]
    return found


@pytest.mark.parametrize("baud", RATES)
def test_each_rate_is_found(baud: int) -> None:
    """Among the usual rates, the one at which the logger sends decodes, and no other before it."""
    found = _find(FakeWire(baud, _counts))
    assert found.best.baud == baud
    assert [each.baud for each in found.tried] == list(RATES[: RATES.index(baud) + 1])


def test_a_board_that_starts_slowly_is_waited_for() -> None:
    """Two seconds of silence after opening are no reason to try another rate."""
    found = _find(FakeWire(115200, _counts, silent_s=2.2))
    assert len(found.tried) == 1


def test_a_slow_logger_is_heard() -> None:
    """Two lines a second at the third rate are enough, and do not take a minute."""
    wire = FakeWire(57600, _counts, per_read=0)
    ticks = iter(range(10**6))

    def one_in_ten() -> bytes:
        wire.now_s += STEP_S
        tick = next(ticks)
        sent = _counts(tick) if tick % 10 == 0 else b""
        return sent if wire.baud == 57600 else heard(sent, 57600, wire.baud)

    wire.read = one_in_ten  # type: ignore[method-assign]
    assert _find(wire).best.baud == 57600
    assert wire.now_s < 60.0


def test_a_rate_that_the_port_refuses_is_left_out() -> None:
    """The others are still tried."""
    found = _find(FakeWire(57600, _counts, refuses=(9600,)))
    assert found.best.baud == 57600
    assert 9600 not in [each.baud for each in found.tried]


def test_silence_is_told() -> None:
    """Nothing at any rate: is it powered?"""
    with pytest.raises(PortError, match=r"silent at every rate.*powered"):
        _find(FakeWire(9600, _counts, silent_s=1e9))


def test_text_without_numbers_is_told() -> None:
    """Readable text that no layout fits is shown, and not called a wrong rate."""
    with pytest.raises(PortError, match=r"text comes at 115200 baud.*hello"):
        _find(FakeWire(115200, lambda number: b"hello there, friend %d!\r\n" % number))


def test_garbage_at_every_rate_is_told() -> None:
    """A rate that is not among those tried leaves garbage; the person is asked for it."""
    with pytest.raises(PortError, match=r"garbage at every rate.*--baud"):
        _find(FakeWire(31250, _counts), rates=(115200, 9600, 230400))
