"""Polled instruments as lines like any other: each round of questions is one delimited line.

Only what asks is ever sent, and only to an instrument that the rig file declares: queries of SCPI,
and Modbus RTU functions 1 to 4 (read coils, discrete inputs, holding registers, input registers).

Source: IEEE 488.2 (``*IDN?``, a query's header ends in a question mark) and SCPI-1999 (9.9E37 for
an overload, 9.91E37 for not a number, both over our bound on numbers); MODBUS Application Protocol
1.1b3, sections 6.1 to 6.4; all from memory.
"""

from __future__ import annotations

import re
import time
from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING, Protocol

from calib.errors import PortError, RigError, UsageError
from calib.link.transport import Now, Source, Transport
from calib.store.rig import Rig
from calib.store.text import neutral

if TYPE_CHECKING:
    from pymodbus.client import ModbusSerialClient

PAUSE_S = 0.02
"""Longest sleep between two rounds before the reader is given its turn: own choice."""

SCPI_ANSWER_S = 2.0
"""Longest wait for an answer: own choice, over twice a bench multimeter's slow measurement."""

MODBUS_ANSWER_S = 1.0
"""Longest wait for an answer: own choice, many times a device's usual delay."""

LONGEST_ANSWER = 256
"""Bytes in an answer at most: own choice."""

_QUERY = re.compile(r"\*?[A-Za-z][A-Za-z0-9:_]*\?( [\x21-\x3a\x3c-\x7e][\x20-\x3a\x3c-\x7e]*)?")
"""A header that ends in a question mark, then parameters without a semicolon, which would begin
another command."""

_READ = re.compile(
    r"(?P<table>coil|discrete|holding|input) (?P<address>\d{1,5})"
    r"(?: (?P<kind>uint16|int16|uint32|int32|float32))?"
)
"""One value to be read: its table, its address as on the wire, from 0, and its kind, the high word
first."""

Question = Callable[[], bytes | None]
"""Asks for one value; None where no answer came."""


class Poller(ABC):
    """A source of lines: the identity as a comment, a header, then one line a round.

    Args:
        questions: One a column.
        poll_s: Time between two rounds, in s.
        clock: The computer's monotonic clock, in s.
    """

    def __init__(self, questions: Sequence[Question], poll_s: float, clock: Now) -> None:
        """Nothing is asked yet."""
        self._questions = questions
        self._poll_s = poll_s
        self._clock = clock
        self._due_s: float | None = None

    def read(self) -> bytes:
        """The lines of one round; nothing while none is due or an answer did not come.

        Raises:
            PortError: The line has gone.
        """
        if self._due_s is None:
            names = ",".join(f"q{place}" for place in range(len(self._questions)))
            identity = self._identity()
            self._due_s = self._clock()
            return b"# " + identity + b"\n" + names.encode() + b"\n"
        wait_s = self._due_s - self._clock()
        if wait_s > 0:
            time.sleep(min(wait_s, PAUSE_S))
            return b""
        self._due_s = max(self._due_s + self._poll_s, self._clock())
        answers = self.ask_all()
        return b"" if answers is None else b",".join(answers) + b"\n"

    def ask_all(self) -> list[bytes] | None:
        """The answers of one round, None where one of them did not come.

        Raises:
            PortError: The line has gone.
        """
        answers = []
        for question in self._questions:
            if (answer := question()) is None:
                return None
            answers.append(answer)
        return answers

    @abstractmethod
    def close(self) -> None:
        """Let go of the instrument."""

    def _identity(self) -> bytes:
        """What it says it is; empty where it does not say."""
        return b""


class Wire(Source, Protocol):
    """What a poller needs of a transport."""

    def write(self, query: bytes) -> None:
        """Send a query."""


class ScpiPoller(Poller):
    """An instrument that answers queries over an open line."""

    def __init__(
        self, wire: Wire, queries: Sequence[str], poll_s: float, clock: Now = time.monotonic
    ) -> None:
        """Nothing is sent yet."""
        super().__init__([partial(self._ask, query) for query in queries], poll_s, clock)
        self._wire = wire
        self._missed = False

    def ask_all(self) -> list[bytes] | None:
        """The answers of one round, None where one of them did not come."""
        if self._missed:
            self._drop_late()
        answers = super().ask_all()
        self._missed = self._missed or answers is None
        return answers

    def close(self) -> None:
        """Close the line."""
        self._wire.close()

    def _identity(self) -> bytes:
        return self._ask("*IDN?") or b""

    def _ask(self, query: str) -> bytes | None:
        """The answer to a query, None where none came."""
        self._wire.write(query.encode("ascii") + b"\n")
        answer = b""
        give_up_s = self._clock() + SCPI_ANSWER_S
        while b"\n" not in answer and self._clock() < give_up_s:
            answer += self._wire.read()
            if len(answer) > LONGEST_ANSWER:
                return None
        line, end, _ = answer.partition(b"\n")
        return line.strip().replace(b"\r", b" ") if end else None

    def _drop_late(self) -> None:
        """Let late answers go by, so that none is taken for the answer to the next query."""
        give_up_s = self._clock() + SCPI_ANSWER_S
        while self._wire.read():
            if self._clock() > give_up_s:
                return
        self._missed = False


class ModbusPoller(Poller):
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
        questions = [partial(self._ask, read) for read in checked_reads(rig)]
        super().__init__(questions, rig.link.poll_s, time.monotonic)
        self._unit = rig.link.unit_id
        self._client = _client(rig)

    def close(self) -> None:
        """Close the port."""
        self._client.close()  # type: ignore[no-untyped-call]

    def _ask(self, question: re.Match[str]) -> bytes | None:
        """The value of a read, None where none came."""
        from pymodbus.exceptions import ConnectionException, ModbusException

        table = question["table"]
        ask = {
            "coil": self._client.read_coils,
            "discrete": self._client.read_discrete_inputs,
            "holding": self._client.read_holding_registers,
            "input": self._client.read_input_registers,
        }[table]
        kind = self._client.DATATYPE[(question["kind"] or "uint16").upper()]
        words = 1 if table in ("coil", "discrete") else kind.value[1]
        try:
            answer = ask(int(question["address"]), count=words, device_id=self._unit)
            if answer.isError():
                return None
            if table in ("coil", "discrete"):
                return b"%d" % answer.bits[0]
            value = self._client.convert_from_registers(answer.registers, kind)
        except (ConnectionException, OSError) as error:
            raise PortError.of("modbus-gone") from error
        except ModbusException:
            return None  # a missing or garbled answer: the round gives no sample
        return (f"{value:.9g}" if isinstance(value, float) else str(value)).encode("ascii")


def checked_queries(rig: Rig) -> tuple[str, ...]:
    """The queries of SCPI that a rig file declares.

    Raises:
        RigError: There is none, or one of them could do more than ask.
    """
    queries = _declared(rig, "MEAS:VOLT?")
    for query in queries:
        if not _QUERY.fullmatch(query):
            raise RigError.of("not-a-query", path=rig.path, query=neutral(query))
    return queries


def checked_reads(rig: Rig) -> list[re.Match[str]]:
    """The reads of Modbus that a rig file declares, taken apart.

    Raises:
        RigError: There is none, or one of them is none.
    """
    reads = []
    for query in _declared(rig, "input 0 int16"):
        read = _READ.fullmatch(query)
        if read is None or int(read["address"]) > 0xFFFF:
            raise RigError.of("not-a-modbus-read", path=rig.path, query=neutral(query))
        reads.append(read)
    return reads


def _declared(rig: Rig, example: str) -> tuple[str, ...]:
    """What a rig file declares to be asked."""
    if not rig.link.queries:
        raise RigError.of("no-queries", path=rig.path, layout=rig.link.layout, example=example)
    return rig.link.queries


def _client(rig: Rig) -> ModbusSerialClient:
    """The open client.

    Raises:
        PortError: The port cannot be opened.
        UsageError: The library is not installed.
    """
    try:
        from pymodbus.client import ModbusSerialClient
    except ImportError as error:
        raise UsageError.of("no-modbus-library") from error
    port, baud = rig.link.port, rig.link.baud
    client = ModbusSerialClient(port, baudrate=baud, timeout=MODBUS_ANSWER_S, retries=0)
    Transport(port, baud).close()  # the library would not say what is wrong
    if not client.connect():
        raise PortError.of("modbus-not-opened", port=neutral(port))
    return client
