from __future__ import annotations

import os
import struct
import sys
import threading
import tty
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import ClassVar, Self

import msgspec
import numpy as np
import pytest

import calib.link.health
import calib.link.polled
from calib.errors import PortError, RigError, UsageError
from calib.link.line import open_line
from calib.link.polled import ScpiPoller, checked_queries, checked_reads
from calib.store.rig import Rig, load_rig

Answer = Callable[[bytes], tuple[bytes, bytes]]
"""Takes what has come so far; gives what to send, and what is left of it."""


class Instrument:
    """A device on a pseudo-terminal that answers, and keeps all that it was sent."""

    def __init__(self, answer: Answer) -> None:
        """Make the pseudo-terminal raw."""
        self._master, slave = os.openpty()
        tty.setraw(slave)
        self._slave = slave  # kept open, so that the master can wait for bytes
        self.path = os.ttyname(slave)
        self._answer = answer
        self.heard = b""
        self._thread = threading.Thread(target=self._serve, daemon=True)

    def __enter__(self) -> Self:
        """Begin to answer."""
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Switch it off."""
        os.close(self._slave)
        self._thread.join(5)
        os.close(self._master)

    def _serve(self) -> None:
        held = b""
        while True:
            try:
                came = os.read(self._master, 4096)
            except OSError:  # nobody has the other end any more
                return
            self.heard += came
            reply, held = self._answer(held + came)
            if reply:
                os.write(self._master, reply)


def scpi(volts: list[bytes]) -> Answer:
    """A multimeter that gives these readings in turn."""

    def answer(heard: bytes) -> tuple[bytes, bytes]:
        reply = b""
        while b"\n" in heard:
            query, _, heard = heard.partition(b"\n")
            if query == b"*IDN?":
                reply += b"BENCH,METER,0,1.0\r\n"
            else:
                reply += volts[0] + b"\r\n"
                volts.append(volts.pop(0))
        return reply, heard

    return answer


def rig_for(folder: Path, port: str, layout: str, queries: list[str]) -> Rig:
    """A rig file of a polled instrument, read."""
    path = folder / "rig.toml"
    path.write_text(
        f'[link]\nport = "{port}"\nlayout = "{layout}"\nqueries = {queries}\npoll_s = 0.01\n'
        '[channels.volts]\nrole = "other"\ncolumn = 0\nunit = "V"\n',
        encoding="utf-8",
    )
    return load_rig(path)


def readings(rig: Rig, count: int) -> list[list[float]]:
    """So many rounds from a live line."""
    runs = []
    with open_line(rig) as line:
        for run in line.blocks():
            runs.append(run.values)
            if sum(map(len, runs)) >= count:
                break
    values: list[list[float]] = np.concatenate(runs)[:count].tolist()
    return values


def test_a_bench_multimeter_is_a_logger(tmp_path: Path) -> None:
    """Each round of queries is a sample; an overload (9.9E37) is none; nothing else is sent."""
    with Instrument(scpi([b"+1.50000000E+00", b"-2.5", b"9.9E37", b"3,4", b"0.25"])) as meter:
        rig = rig_for(tmp_path, meter.path, "scpi", ["MEAS:VOLT:DC? 10,0.001"])
        assert readings(rig, 4) == [[1.5], [-2.5], [0.25], [1.5]]
        sent = meter.heard.splitlines()
    assert sent[0] == b"*IDN?"
    assert set(sent[1:]) == {b"MEAS:VOLT:DC? 10,0.001"}


def test_a_late_answer_is_not_taken_for_the_next_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """After a missing answer, what still trickles in is dropped before the next round."""
    monkeypatch.setattr(calib.link.polled, "SCPI_ANSWER_S", 5.0)

    class Wire:
        """Answers by a script: each read gives the next piece."""

        pieces: ClassVar[list[bytes]] = [b"", b"late 1\n", b"", b"2.5\n", b"3.5\n"]

        def read(self) -> bytes:
            return self.pieces.pop(0)

        def write(self, query: bytes) -> None:
            pass

        def close(self) -> None:
            pass

    now_s = iter(range(0, 1000, 3))
    instrument = ScpiPoller(Wire(), ("A?", "B?"), 0.1, clock=lambda: next(now_s))
    assert instrument.ask_all() is None
    assert instrument.ask_all() == [b"2.5", b"3.5"]


@pytest.mark.parametrize(
    "query",
    ["*RST", "VOLT 5", "MEAS:VOLT?;*RST", "MEAS:VOLT?\n*RST", "SYST:PRES", "MEAS:VOLT? 1;VOLT 5",
     "MEAS? \x1b", "?", "", "CONF:VOLT?X"],
)  # fmt: skip
def test_what_is_more_than_a_query_is_refused(tmp_path: Path, query: str) -> None:
    """Before a port is opened: a command, two in one, a control character."""
    rig = rig_for(tmp_path, "none", "scpi", [])
    link = msgspec.structs.replace(rig.link, queries=(query,))
    with pytest.raises(RigError, match="is no plain query"):
        checked_queries(msgspec.structs.replace(rig, link=link))


def test_a_poller_needs_queries(tmp_path: Path) -> None:
    """Without queries there is nothing to ask."""
    for layout, check in (("scpi", checked_queries), ("modbus", checked_reads)):
        rig = rig_for(tmp_path, "none", layout, [])
        with pytest.raises(RigError, match=f"layout '{layout}' needs queries"):
            check(rig)


def crc(frame: bytes) -> bytes:
    """Checksum of a Modbus RTU frame, low byte first."""
    value = 0xFFFF
    for byte in frame:
        value ^= byte
        for _ in range(8):
            value = (value >> 1) ^ 0xA001 if value & 1 else value >> 1
    return struct.pack("<H", value)


def test_the_tests_own_checksum_is_right() -> None:
    """Source: MODBUS over Serial Line 1.02, appendix B: 02 07 ends in 41 12; from memory."""
    assert crc(b"\x02\x07") == b"\x41\x12"


def modbus(registers: dict[int, int]) -> Answer:
    """A device, unit 7, with these registers in both tables, and all coils on."""

    def answer(heard: bytes) -> tuple[bytes, bytes]:
        reply = b""
        while len(heard) >= 8:
            frame, heard = heard[:8], heard[8:]
            unit, function, address, count = struct.unpack(">BBHH", frame[:6])
            if function in (1, 2):
                body = struct.pack(">BBB", unit, function, 1) + b"\x01"
            else:
                words = [registers[address + place] for place in range(count)]
                body = struct.pack(f">BBB{count}H", unit, function, 2 * count, *words)
            reply += body + crc(body)
        return reply, heard

    return answer


def test_a_modbus_inclinometer_is_a_logger(tmp_path: Path) -> None:
    """Signed, unsigned, long and floating values of both tables; only functions 1 to 4 are sent."""
    pytest.importorskip("pymodbus")
    high, low = struct.unpack(">HH", struct.pack(">f", -12.5))
    registers = {0: 0xFFFE, 1: 512, 4: high, 5: low, 8: 1, 9: 2}
    with Instrument(modbus(registers)) as device:
        queries = ["input 0 int16", "holding 1", "input 4 float32", "holding 8 uint32", "coil 3"]
        rig = rig_for(tmp_path, device.path, "modbus", queries)
        assert readings(rig, 2) == [[-2, 512, -12.5, 65538, 1]] * 2
        functions = {device.heard[place + 1] for place in range(0, len(device.heard) - 7, 8)}
    assert functions <= {1, 2, 3, 4}


def test_what_is_no_read_is_refused(tmp_path: Path) -> None:
    """A write cannot even be worded."""
    for query in ("write 0 5", "holding", "holding 70000", "input 0 text", "holding 1 2"):
        with pytest.raises(RigError, match="no read of a Modbus value"):
            checked_reads(rig_for(tmp_path, "none", "modbus", [query]))


def test_a_missing_modbus_port_is_told(tmp_path: Path) -> None:
    """The same words as for any other port."""
    pytest.importorskip("pymodbus")
    rig = rig_for(tmp_path, "/dev/ttyNone7", "modbus", ["input 0"])
    with pytest.raises(PortError, match="there is no such port"), open_line(rig):
        pass


def refuse(heard: bytes) -> tuple[bytes, bytes]:
    """A Modbus device that answers every read with exception 2, illegal data address."""
    reply = b""
    while len(heard) >= 8:
        body = bytes([heard[0], heard[1] | 0x80, 2])
        reply, heard = reply + body + crc(body), heard[8:]
    return reply, heard


def mute(heard: bytes) -> tuple[bytes, bytes]:  # noqa: ARG001 (whatever it is)
    """A device that never answers."""
    return b"", b""


@pytest.mark.parametrize("answer", [refuse, mute])
def test_a_modbus_device_without_an_answer_gives_no_sample(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, answer: Answer
) -> None:
    """A refused read and a missing answer are no numbers: after the patience, it is told."""
    pytest.importorskip("pymodbus")
    monkeypatch.setattr(calib.link.health, "PATIENCE_S", 0.6)
    monkeypatch.setattr(calib.link.polled, "MODBUS_ANSWER_S", 0.1)
    with Instrument(answer) as device:
        rig = rig_for(tmp_path, device.path, "modbus", ["input 0"])
        with pytest.raises(PortError, match="no sample in"), open_line(rig):
            pass


def test_modbus_without_its_library_says_how_to_get_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The extra is named; nothing is opened."""
    monkeypatch.setitem(sys.modules, "pymodbus.client", None)
    rig = rig_for(tmp_path, "/dev/ttyNone7", "modbus", ["input 0"])
    with pytest.raises(UsageError, match=r"pip install 'calib\[modbus\]'"), open_line(rig):
        pass
