from __future__ import annotations

import sys
from types import ModuleType, SimpleNamespace

import pytest

from calib.errors import UsageError
from calib.link.firmware import Settings, logger_source
from calib.link.layouts.xor import verified


def test_settings_are_put_into_the_c_source() -> None:
    """Channels, rate, speed and checksum stand where the source says that they may be changed."""
    text = logger_source(Settings(channels=3, rate_hz=200, baud=250000, checksum=True))
    for line in (
        "#define CHANNELS 3 ",
        "#define RATE_HZ 200 ",
        "#define BAUD 250000",
        "#define CHECKSUM 1 ",
    ):
        assert f"\n{line}" in text


@pytest.mark.parametrize(
    ("settings", "said"),
    [
        (Settings(channels=9), "has 1 to 8 analog pins"),
        (Settings(board="micropython", channels=4), "has 1 to 3 analog pins"),
        (Settings(rate_hz=300), "do not divide"),
        (Settings(rate_hz=500), "longer than the 2.0 ms"),
    ],
)
def test_what_the_board_cannot_do_is_refused(settings: Settings, said: str) -> None:
    """Before anything is written."""
    with pytest.raises(UsageError, match=said):
        logger_source(settings)


class FakeBoard:
    """A board with a clock that wraps at 1000 ms and pins that read twice their number."""

    def __init__(self, lines: int) -> None:
        """Stop after some lines."""
        self.now_ms = 990
        self.lines: list[str] = []
        self.wanted = lines

    def show(self, text: str) -> None:
        """What the board prints."""
        self.lines.append(text)
        if len(self.lines) == self.wanted:
            raise EOFError

    def sleep_ms(self, wait_ms: int) -> None:
        """Time passes only here."""
        self.now_ms += wait_ms

    def modules(self) -> dict[str, ModuleType]:
        """The modules that the source imports there."""
        time, machine = ModuleType("time"), ModuleType("machine")
        vars(time).update(
            ticks_ms=lambda: self.now_ms % 1000,
            ticks_diff=lambda a, b: (a - b + 500) % 1000 - 500,
            sleep_ms=self.sleep_ms,
        )
        vars(machine)["ADC"] = lambda pin: SimpleNamespace(read_u16=lambda: 2 * pin << 4)
        return {"time": time, "machine": machine}


def test_the_micropython_source_sends_our_firmware_line(monkeypatch: pytest.MonkeyPatch) -> None:
    """On a fake board: header, a steady clock over its wrap, 12-bit counts, checksum."""
    board = FakeBoard(lines=5)
    for name, module in board.modules().items():
        monkeypatch.setitem(sys.modules, name, module)
    source = logger_source(Settings(board="micropython", channels=2, rate_hz=50, checksum=True))
    with pytest.raises(EOFError):
        exec(compile(source, "main.py", "exec"), {"print": board.show})
    payloads = [verified(line.encode()) for line in board.lines]
    assert payloads == [b"t_ms,a0,a1", b"0,52,54", b"20,52,54", b"40,52,54", b"60,52,54"]
