"""When a polled instrument is asked, how long its answer is waited for, and what is made of it."""

from __future__ import annotations

import types
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, ClassVar

import msgspec
import pytest

import calib.link.polled
from calib.errors import PortError, RigError
from calib.link.line import open_source
from calib.link.polled import ModbusPoller, ScpiPoller, checked_queries, checked_reads
from calib.store.rig import Link, Rig
from tests.hands import make_rig


@dataclass
class Meter:
    """An instrument that answers by a script; each read takes a quarter of a second or as said."""

    pieces: list[bytes]
    step_s: float = 0.25
    now_s: float = 100.0
    sent: list[bytes] = field(default_factory=list)
    closed: bool = False

    def read(self) -> bytes:
        """The next piece; nothing when all were given."""
        self.now_s += self.step_s
        return self.pieces.pop(0) if self.pieces else b""

    def write(self, query: bytes) -> None:
        """Keep what was sent."""
        self.sent.append(query)

    def close(self) -> None:
        """Switched off."""
        self.closed = True

    def clock(self) -> float:
        """What time it is, in s."""
        return self.now_s

    def sleep(self, seconds: float) -> None:
        """Let time pass."""
        assert seconds > 0.0
        self.now_s += seconds


def poller(meter: Meter, *queries: str, poll_s: float = 0.5) -> ScpiPoller:
    """An instrument that is asked these."""
    return ScpiPoller(meter, queries, poll_s, clock=meter.clock)


@pytest.fixture
def sleeping(monkeypatch: pytest.MonkeyPatch) -> Callable[[Meter], None]:
    """Sleep is that of the meter."""

    def patch(meter: Meter) -> None:
        stopped = types.SimpleNamespace(sleep=meter.sleep, monotonic=meter.clock)
        monkeypatch.setattr(calib.link.polled, "time", stopped)

    return patch


def test_an_instrument_names_itself_and_then_answers_round_by_round(
    sleeping: Callable[[Meter], None],
) -> None:
    """Its identity as a comment, a header, then a line a round; a round begins when it is due.

    Between two rounds it is slept for a fiftieth of a second at most, to the due time at last.
    """
    meter = Meter([b"METER\n", b"1\n", b"2\n", b"3\n", b"4\n"], step_s=0.0)
    sleeping(meter)
    source = poller(meter, "A?", "B?", poll_s=0.05)
    assert source.read() == b"# METER\nq0,q1\n"
    assert source.read() == b"1,2\n"
    times_s = []
    while (line := source.read()) == b"":
        times_s.append(meter.now_s)
    assert line == b"3,4\n"
    assert times_s == pytest.approx([100.02, 100.04, 100.05])
    assert meter.sent == [b"*IDN?\n", b"A?\n", b"B?\n", b"A?\n", b"B?\n"]
    source.close()
    assert meter.closed


def test_a_round_that_came_late_is_not_made_up_for(sleeping: Callable[[Meter], None]) -> None:
    """The next one is due a period after the last was, or now where that has gone by."""
    meter = Meter([b"METER\n"] + [b"7\n"] * 9, step_s=0.0)
    sleeping(meter)
    source = poller(meter, "A?", poll_s=0.5)
    source.read()
    assert source.read() == b"7\n"
    meter.now_s = 100.7
    assert source.read() == b"7\n"
    assert source.read() == b""
    meter.now_s = 101.0
    assert source.read() == b"7\n"
    meter.now_s = 103.0
    assert source.read() == b"7\n"
    assert source.read() == b"7\n"
    assert source.read() == b""


def test_an_instrument_that_does_not_say_what_it_is_is_asked_all_the_same() -> None:
    """After two seconds without an answer; a slow answer just within them is taken."""
    silent = Meter([b""] * 8)
    assert poller(silent, "A?").read() == b"# \nq0\n"
    assert silent.now_s == 102.0
    slow = Meter([b"ME"] + [b""] * 6 + [b"TER\n"])
    assert poller(slow, "A?").read() == b"# METER\nq0\n"
    late = Meter([b""] * 8 + [b"METER\n"])
    assert poller(late, "A?").read() == b"# \nq0\n"


@pytest.mark.parametrize(
    ("pieces", "answer"),
    [
        ([b"1.5\r\n"], b"1.5"),
        ([b" 1", b".5 ", b"\n"], b"1.5"),
        ([b"1\r5\n"], b"1 5"),
        ([b"1.5\n2.5\n"], b"1.5"),
        ([b"1" * 255 + b"\n"], b"1" * 255),
        ([b"1" * 256 + b"\n"], None),
        ([b"1" * 200, b"1" * 56, b"\n"], None),
        ([b"1" * 200, b"1" * 55 + b"\n"], b"1" * 255),
        ([b"1.5"], None),
    ],
)
def test_an_answer_is_one_line_of_256_bytes_at_most(
    pieces: list[bytes], answer: bytes | None
) -> None:
    """Its end counts; without an end it is none."""
    asked = poller(Meter(pieces), "A?").ask_all()
    assert asked == (None if answer is None else [answer])


def test_late_answers_go_by_until_the_line_is_silent() -> None:
    """For two seconds at most: then the round is asked, and the next one waits once more."""
    meter = Meter([b""] * 8 + [b"late\n"] * 3 + [b""] + [b"5\n", b"6\n"])
    source = poller(meter, "A?", "B?")
    assert source.ask_all() is None
    assert source.ask_all() == [b"5", b"6"]
    chatty = Meter([b""] * 8 + [b"x\n"] * 9 + [b"5\n", b"6\n"])
    source = poller(chatty, "A?", "B?")
    assert source.ask_all() is None
    assert source.ask_all() == [b"5", b"6"]
    chatty.pieces = [b"x\n", b"", b"7\n", b"8\n", b"9\n", b"10\n"]
    assert source.ask_all() == [b"7", b"8"]
    assert source.ask_all() == [b"9", b"10"]


def test_a_missing_answer_gives_no_line(sleeping: Callable[[Meter], None]) -> None:
    """Nor is anything asked behind it in that round."""
    meter = Meter([b"METER\n"])
    sleeping(meter)
    source = poller(meter, "A?", "B?")
    source.read()
    assert source.read() == b""
    assert meter.sent == [b"*IDN?\n", b"A?\n"]


def rig_asking(folder: Path, layout: str, *queries: str, **link: Any) -> Rig:
    """A rig with a polled instrument."""
    asked = Link(port="/dev/nowhere", layout=layout, queries=queries, **link)  # type: ignore[arg-type]
    return msgspec.structs.replace(make_rig(folder), link=asked)


@pytest.mark.parametrize(
    ("read", "kept"),
    [("holding 65535", True), ("holding 65536", False), ("coil 0", True), ("discrete 1", True),
     ("input 3 float32", True), ("input 000003", False), ("holding 1 int64", False)],
)  # fmt: skip
def test_a_register_has_a_number_of_two_bytes(tmp_path: Path, read: str, kept: bool) -> None:
    """As on the wire, from nought; its kind may be left away."""
    rig = rig_asking(tmp_path, "modbus", "input 0 int16", read)
    if kept:
        assert [each["address"] for each in checked_reads(rig)] == ["0", read.split()[1]]
    else:
        with pytest.raises(RigError, match="is no read of a Modbus value"):
            checked_reads(rig)


@pytest.mark.parametrize("query", ["*IDN?", "MEAS:VOLT:DC?", "A?", "READ? 1,2 3", "A1_b? (@101)"])
def test_a_query_may_have_parameters(tmp_path: Path, query: str) -> None:
    """Behind a blank; they are sent as they stand."""
    assert checked_queries(rig_asking(tmp_path, "scpi", query)) == (query,)


class Device:
    """Stands in for the Modbus library's client, and keeps what it was told."""

    there: ClassVar[Any]
    made: ClassVar[tuple[str, dict[str, Any]]]
    opens: ClassVar[bool] = True

    def __init__(self, port: str, **options: Any) -> None:
        """Nothing was asked yet."""
        from pymodbus.client import ModbusSerialClient

        Device.there, Device.made = self, (port, options)
        self.asked: list[tuple[str, int, int, int]] = []
        self.closed = False
        self.answers: list[Any] = []
        self.DATATYPE = ModbusSerialClient.DATATYPE
        self.convert_from_registers = ModbusSerialClient.convert_from_registers

    def connect(self) -> bool:
        """Whether it can be opened."""
        return Device.opens

    def close(self) -> None:
        """As a port is closed."""
        self.closed = True

    def __getattr__(self, name: str) -> Callable[..., Any]:
        """Any read."""

        def ask(address: int, *, count: int, device_id: int) -> Any:
            self.asked.append((name, address, count, device_id))
            answer = self.answers.pop(0)
            if isinstance(answer, Exception):
                raise answer
            return answer

        return ask


def answer(*registers: int, bits: tuple[bool, ...] = (), error: bool = False) -> Any:
    """What a device answers."""
    return types.SimpleNamespace(registers=list(registers), bits=list(bits), isError=lambda: error)


@pytest.fixture
def device(monkeypatch: pytest.MonkeyPatch) -> type[Device]:
    """The library's client is ours, and any port can be opened."""
    client = pytest.importorskip("pymodbus.client")
    exceptions = pytest.importorskip("pymodbus.exceptions")
    assert exceptions.ModbusException
    real = client.ModbusSerialClient

    class Stood(Device):
        def __init__(self, port: str, **options: Any) -> None:
            monkeypatch.setattr(client, "ModbusSerialClient", real)
            super().__init__(port, **options)

    monkeypatch.setattr(client, "ModbusSerialClient", Stood)
    monkeypatch.setattr(
        calib.link.polled, "Transport", lambda *_: types.SimpleNamespace(close=lambda: None)
    )
    monkeypatch.setattr(Device, "opens", True)
    return Device


def test_a_modbus_device_is_given_a_second_and_asked_once(
    tmp_path: Path, device: type[Device]
) -> None:
    """On the port and at the rate of the rig file; where it cannot be opened, that is told."""
    source = open_source(rig_asking(tmp_path, "modbus", "input 0", baud=9600))
    assert isinstance(source, ModbusPoller)
    assert device.made == ("/dev/nowhere", {"baudrate": 9600, "timeout": 1.0, "retries": 0})


def test_a_modbus_port_that_does_not_open_is_told(tmp_path: Path, device: type[Device]) -> None:
    """By its name."""
    device.opens = False
    with pytest.raises(PortError, match="Port /dev/nowhere: cannot be opened for Modbus"):
        ModbusPoller(rig_asking(tmp_path, "modbus", "input 0"))


def test_values_of_a_modbus_device(tmp_path: Path, device: type[Device]) -> None:
    """One or two registers by their kind, the high word first; a bit is one, whatever its kind."""
    asked = ("input 0 int16", "holding 1", "input 4 float32", "holding 8 uint32", "holding 9 int32",
             "coil 3 uint32", "discrete 7")  # fmt: skip
    source = ModbusPoller(rig_asking(tmp_path, "modbus", *asked, unit_id=7))
    client = device.there
    client.answers = [
        answer(0xFFFE), answer(0xFFFE), answer(0x3DCC, 0xCCCD), answer(1, 2),
        answer(0xFFFF, 0xFFFF), answer(bits=(True, False)), answer(bits=(False, True)),
    ]  # fmt: skip
    assert source.ask_all() == [b"-2", b"65534", b"0.100000001", b"65538", b"-1", b"1", b"0"]
    assert client.asked == [
        ("read_input_registers", 0, 1, 7), ("read_holding_registers", 1, 1, 7),
        ("read_input_registers", 4, 2, 7), ("read_holding_registers", 8, 2, 7),
        ("read_holding_registers", 9, 2, 7), ("read_coils", 3, 1, 7),
        ("read_discrete_inputs", 7, 1, 7),
    ]  # fmt: skip
    client.answers = [answer(error=True)]
    assert source.ask_all() is None
    source.close()
    assert client.closed


def test_a_modbus_line_that_goes_is_told_and_a_garbled_answer_is_none(
    tmp_path: Path, device: type[Device]
) -> None:
    """A cable that was pulled ends the line; noise costs a round."""
    from pymodbus.exceptions import ConnectionException, ModbusIOException

    source = ModbusPoller(rig_asking(tmp_path, "modbus", "input 0"))
    client = device.there
    client.answers = [ModbusIOException("garbled")]
    assert source.ask_all() is None
    for gone in (OSError("x"), ConnectionException("x")):
        client.answers = [gone]
        with pytest.raises(PortError, match="The Modbus line has gone"):
            source.ask_all()
