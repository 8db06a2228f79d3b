"""Polled Modbus RTU devices: each round of reads becomes one delimited line.

Functions 1 to 4 only (read coils, discrete inputs, holding registers, input registers), and only to
a device that the rig file declares.

Source: MODBUS Application Protocol 1.1b3, sections 6.1 to 6.4; from memory.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from calib.errors import PortError, RigError, UsageError
from calib.link.transport import Transport
from calib.store.rig import Rig
from calib.store.text import neutral

if TYPE_CHECKING:
    from pymodbus.client import ModbusSerialClient

ANSWER_S = 1.0
"""Longest wait for an answer: own choice, many times a device's usual delay."""

_READ = re.compile(
    r"(?P<table>coil|discrete|holding|input) (?P<address>\d{1,5})"
    r"(?: (?P<kind>uint16|int16|uint32|int32|float32))?"
)


@dataclass(frozen=True, slots=True)
class Read:
    """One value to be read.

    Args:
        table: coil, discrete, holding or input.
        address: As on the wire, from 0.
        kind: uint16, int16, uint32, int32 or float32, the high word first.
    """

    table: str
    address: int
    kind: str


class ModbusInstrument:
    """A device whose values are read one by one.

    Args:
        rig: Its ``[link]`` declares port, unit and reads, such as ``"input 0 int16"``.

    Raises:
        PortError: The port cannot be opened.
        RigError: No read is declared, or one of them is none.
        UsageError: The library for Modbus is not installed.
    """

    def __init__(self, rig: Rig) -> None:
        """Open the port; nothing is sent yet."""
        self._reads = checked_reads(rig)
        self._unit = rig.link.unit_id
        self._client = _client(rig)

    @property
    def columns(self) -> int:
        """Answers in a round."""
        return len(self._reads)

    def identity(self) -> bytes:
        """Functions 1 to 4 ask for none."""
        return b""

    def ask_all(self) -> list[bytes] | None:
        """The answers of one round, None where one of them did not come.

        Raises:
            PortError: The line has gone.
        """
        answers = []
        for read in self._reads:
            answer = self._ask(read)
            if answer is None:
                return None
            answers.append(answer.encode("ascii"))
        return answers

    def close(self) -> None:
        """Close the port."""
        self._client.close()  # type: ignore[no-untyped-call]

    def _ask(self, read: Read) -> str | None:
        """One value as text, None where the device gave none."""
        from pymodbus.exceptions import ConnectionException, ModbusException

        ask = {
            "coil": self._client.read_coils,
            "discrete": self._client.read_discrete_inputs,
            "holding": self._client.read_holding_registers,
            "input": self._client.read_input_registers,
        }[read.table]
        kind = self._client.DATATYPE[read.kind.upper()]
        words = 1 if read.table in ("coil", "discrete") else kind.value[1]
        try:
            answer = ask(read.address, count=words, device_id=self._unit)
            if answer.isError():
                return None
            if read.table in ("coil", "discrete"):
                return str(int(answer.bits[0]))
            value = self._client.convert_from_registers(answer.registers, kind)
        except (ConnectionException, OSError) as error:
            raise PortError(
                "The Modbus line has gone: unplugged, switched off, or a loose plug.",
                "Plug it in again, then start again.",
            ) from error
        except ModbusException:
            return None  # a missing or garbled answer: the round gives no sample
        return f"{value:.9g}" if isinstance(value, float) else str(value)


def checked_reads(rig: Rig) -> list[Read]:
    """The reads that a rig file declares.

    Raises:
        RigError: There is none, or one of them is none.
    """
    if not rig.link.queries:
        raise RigError(
            f"{rig.path}: layout 'modbus' needs queries.",
            'Add: queries = ["input 0 int16"] to [link].',
        )
    reads = []
    for query in rig.link.queries:
        match = _READ.fullmatch(query)
        if match is None or int(match["address"]) > 0xFFFF:
            raise RigError(
                f"{rig.path}: {neutral(query)!r} is no read of a Modbus value.",
                "Write table, address and kind: 'holding 4 float32'; tables are coil, discrete, "
                "holding and input, and calib writes to none.",
            )
        reads.append(Read(match["table"], int(match["address"]), match["kind"] or "uint16"))
    return reads


def _client(rig: Rig) -> ModbusSerialClient:
    """The open client.

    Raises:
        PortError: The port cannot be opened.
        UsageError: The library is not installed.
    """
    try:
        from pymodbus.client import ModbusSerialClient
    except ImportError as error:
        raise UsageError(
            "Modbus needs a library that is not installed.", "Run: pip install 'calib[modbus]'."
        ) from error
    client = ModbusSerialClient(rig.link.port, baudrate=rig.link.baud, timeout=ANSWER_S, retries=0)
    Transport(rig.link.port, rig.link.baud).close()  # the library would not say what is wrong
    if not client.connect():
        raise PortError(
            f"Port {neutral(rig.link.port)}: cannot be opened for Modbus.",
            "'calib ports' lists what is there and who has it open.",
        )
    return client
