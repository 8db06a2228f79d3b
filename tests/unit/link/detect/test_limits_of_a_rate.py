"""When a rate is settled, left or gone back to, and what is said where none fits."""

from __future__ import annotations

from collections.abc import Callable

import pytest

import calib.link.detect.rate
from calib.errors import PortError
from calib.link.detect.layout import Stated
from calib.link.detect.rate import RateFound, Tried, find_rate, listen_to
from tests.unit.link.detect.test_patience_at_a_rate import STEP_S, Scripted, listen

TRY_BYTES = 64 * 1024


def lines_until(last: int) -> Callable[[int, float], bytes]:
    """A line each 64th of a second, so many of them; the first one is cut."""

    def sends(_baud: int, since_s: float) -> bytes:
        number = round(since_s / STEP_S)
        return b"7,512\r\n" if number == 1 else b"%d,512\r\n" % number if number <= last else b""

    return sends


@pytest.mark.parametrize(("lines", "settled"), [(9, True), (8, False)])
def test_eight_samples_settle_a_rate_and_seven_are_heard_out(lines: int, settled: bool) -> None:
    """Besides the first line, which may be a part of one and is no sample."""
    wire = Scripted(lines_until(lines), 115200)
    found = listen(wire, 115200)
    assert found is not None
    assert found.heard.samples == lines - 1
    assert found.heard.values[0].tolist() == [2.0, 512.0]
    assert (wire.stays_s[0] < 0.25) is settled
    if not settled:
        assert wire.stays_s[0] == 6.0


def test_a_rate_is_looked_at_every_fifth_of_a_second() -> None:
    """Of steps of a twentieth at the fourth."""
    looked: list[int] = []

    class Looked(Scripted):
        def read(self) -> bytes:
            looked.append(len(looked) + 1)
            self.now_s = len(looked) / 20.0
            return b"%d,512\r\n" % len(looked) * 3

    wire = Looked(lambda *_: b"", 115200)
    found = listen(wire, 115200)
    assert found is not None
    assert (looked[-1], found.heard.samples) == (4, 11)


@pytest.mark.parametrize(("samples", "found"), [(1, False), (2, True)])
def test_two_samples_are_something_and_one_is_nothing(samples: int, found: bool) -> None:
    """One line of noise can look like one."""
    sent = b"t,a0\r\n" + b"1,512\r\n" * samples

    def sends(_baud: int, since_s: float) -> bytes:
        return b"7,5\r\n" + sent if since_s <= STEP_S else b""

    wire = Scripted(sends, 115200)
    if found:
        best = find_rate(wire, [115200], Stated(), port="p", clock=wire.clock, tell=lambda _: None)
        assert (best.heard.samples, best.best.merit) == (2, 1.0)
    else:
        with pytest.raises(PortError, match="text comes at 115200 baud, and no layout fits it"):
            find_rate(wire, [115200], Stated(), port="p", clock=wire.clock, tell=lambda _: None)


def test_a_rate_whose_lines_are_all_understood_but_a_tenth_is_the_one() -> None:
    """Two of twenty, the cut one among them; two of nineteen, and the next rate is tried too."""
    for whole, tried in ((17, 1), (16, 2)):
        sent = b"7,5\r\n" + b"1,512\r\n" * whole + b"?!\r\n" * 2

        def sends(baud: int, since_s: float, sent: bytes = sent) -> bytes:
            return sent if baud == 115200 and since_s <= STEP_S else b""

        wire = Scripted(sends, 115200)
        found = listen(wire, 115200, 9600)
        assert found is not None
        assert found.best.baud == 115200
        assert len(found.tried) == tried
        assert found.best.is_clear is (tried == 1)


def test_of_one_rate_64_kilobytes_are_kept() -> None:
    """What comes behind them is counted and not kept."""
    tried = Tried(9600)
    tried.take(b"x" * TRY_BYTES, 1.0)
    assert [chunk.arrival_s for chunk in tried.chunks] == [1.0]
    tried.take(b"\x80", 2.0)
    assert len(tried.chunks) == 1
    assert (tried.received, tried.unprintable) == (TRY_BYTES + 1, 1)


@pytest.mark.parametrize(("odd", "garbled"), [(15, False), (16, True)])
def test_of_a_hundred_bytes_sixteen_that_no_text_has_are_garbage(odd: int, garbled: bool) -> None:
    """The same share as on a line that is in use; from two hundred bytes on it is clear."""
    tried = Tried(9600)
    tried.take(b"\x80" * odd + b"x" * (100 - odd), 0.0)
    assert tried.garbled is garbled
    assert not tried.is_clear
    tried.take(b"\x80" * odd + b"x" * (99 - odd), 0.0)
    assert not tried.is_clear
    tried.take(b"x", 0.0)
    assert tried.is_clear is garbled
    assert tried.merit == 0.0


def said(wire: Scripted, *rates: int) -> str:
    """What is told where no rate gives anything."""
    with pytest.raises(PortError) as raised:
        find_rate(wire, rates, Stated(), port="/dev/x", clock=wire.clock, tell=lambda _: None)
    return raised.value.what


def test_what_came_says_why_no_rate_fits() -> None:
    """Silence, text that is no numbers at the first rate that gave any, or garbage."""
    silent = Scripted(lambda *_: b"", 115200)
    assert "silent at every rate that was tried (115200, 9600 baud)" in said(silent, 115200, 9600)
    garbage = Scripted(lambda *_: b"\x80" * 200, 115200)
    assert "garbage at every rate that was tried (115200, 9600" in said(garbage, 115200, 9600)

    def once(silent: int, first: bytes) -> Scripted:
        def sends(baud: int, since_s: float) -> bytes:
            text = first if baud == silent else b"hm, no\n"
            return text if 0.07 < since_s < 0.09 else b""

        return Scripted(sends, silent)

    words = once(1200, b"")
    assert "text comes at 9600 baud, and no layout fits it: 'hm, no" in said(
        words, 1200, 9600, 4800
    )
    mixed = once(1200, b"\x80")
    assert "text comes at 4800 baud" in said(mixed, 1200, 4800)


def test_a_rate_that_the_port_refuses_is_left_out() -> None:
    """The others are tried all the same, and only they are told."""

    class Refusing(Scripted):
        def set_baud(self, baud: int) -> None:
            if baud == 9600:
                raise PortError("no such rate.", "")
            super().set_baud(baud)

    told: list[int] = []
    wire = Refusing(lambda baud, s: lines_until(99)(baud, s) if baud == 4800 else b"", 115200)
    found = find_rate(
        wire, [115200, 9600, 4800], Stated(), port="p", clock=wire.clock, tell=told.append
    )
    assert told == [each.baud for each in found.tried] == [115200, 4800]


class Opened(Scripted):
    """A port that may be opened more than once: what it sends is by the time since then."""

    def __enter__(self) -> Opened:
        """Opened: its board starts."""
        self.since_s = self.now_s
        return self

    def __exit__(self, *_: object) -> None:
        """Closed."""


def listened(
    patch: pytest.MonkeyPatch, wire: Opened, *rates: int, listen_s: float = 2.0
) -> tuple[RateFound, list[int], list[float]]:
    """What a port is heard to send, at which rates it was opened, and the pauses between."""
    opened: list[int] = []
    pauses_s: list[float] = []

    def made(port: str, baud: int) -> Opened:
        assert port == "/dev/x"
        opened.append(baud)
        wire.baud = baud
        return wire

    patch.setattr(calib.link.detect.rate, "Transport", made)
    heard = listen_to(
        "/dev/x", rates, Stated(), listen_s=listen_s, clock=wire.clock, tell=lambda _: None,
        pause=pauses_s.append,
    )  # fmt: skip
    return heard, opened, pauses_s


def board(baud: int, since_s: float, *, at: int, header: bytes, quiet_s: float = 0.0) -> bytes:
    """A board that sends its header when it starts, then 64 lines a second."""
    if baud != at:
        return b"\x80\x81\x82"
    if since_s <= quiet_s:
        return b""
    number = round((since_s - quiet_s) / STEP_S)
    return header + b"%d,512\r\n" % number if number == 1 else b"%d,512\r\n" % number


@pytest.mark.parametrize(
    ("rates", "header", "opened"),
    [
        ((9600, 4800), b"t,a0\r\n", [9600]),
        ((9600, 4800), b"", [9600]),
        ((115200, 9600), b"t,a0\r\n", [115200, 9600]),
        ((115200, 9600), b"", [115200, 9600]),
    ],
)
def test_a_port_is_opened_again_for_a_header_that_a_wrong_rate_had_lost(
    monkeypatch: pytest.MonkeyPatch, rates: tuple[int, ...], header: bytes, opened: list[int]
) -> None:
    """After three tenths of a second, at the rate that was found.

    Once: if there is none, the first listening counts.
    """
    wire = Opened(lambda baud, s: board(baud, s, at=9600, header=header), rates[0])
    heard, at, pauses_s = listened(monkeypatch, wire, *rates)
    assert at == opened
    assert pauses_s == [0.3] * (len(opened) - 1)
    assert heard.heard.names == (("t", "a0") if header else None)
    assert heard.best.baud == 9600
    if not header:
        assert heard.heard.values[0, 0] == (2.0 if len(opened) == 1 else 5.0)
        assert heard.heard.samples >= 128 + 8 - 2


def test_it_is_listened_on_from_the_first_byte_and_a_board_is_waited_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Three seconds and a half for a board that starts; then as long as was asked."""
    late = Opened(lambda baud, s: board(baud, s, at=9600, header=b"t,a0\r\n", quiet_s=3.0), 115200)
    wire, alone = (
        Opened(lambda baud, s: board(baud, s, at=9600, header=b"t,a0\r\n", quiet_s=0.5), 9600)
        for _ in range(2)
    )
    heard, _, _ = listened(monkeypatch, wire, 9600, listen_s=1.0)
    rate = find_rate(alone, [9600], Stated(), port="p", clock=alone.clock, tell=lambda _: None)
    assert heard.heard.samples == pytest.approx(rate.heard.samples + 64, abs=2)
    heard, opened, _ = listened(monkeypatch, late, 9600, listen_s=1.0)
    assert opened == [9600]
    assert heard.heard.names == ("t", "a0")
