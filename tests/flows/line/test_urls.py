from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import numpy as np
import pytest

from calib.errors import PortError, UsageError
from calib.link.line import open_line
from calib.link.transport import Transport
from calib.store.rig import Rig, load_rig


def rig_for(folder: Path, port: str) -> Rig:
    """A rig file for a URL."""
    path = folder / "rig.toml"
    path.write_text(
        f'[link]\nport = "{port}"\n[time]\ncolumn = "t"\n'
        '[channels.lever]\nrole = "control"\ncolumn = "a"\nunit = "V"\n',
        encoding="utf-8",
    )
    return load_rig(path)


@contextmanager
def served(lines: int) -> Iterator[int]:
    """A logger on a network socket; gives its port number."""
    with socket.create_server(("127.0.0.1", 0)) as server:

        def serve() -> None:
            line, _ = server.accept()
            with line, suppress(OSError):  # the reader hangs up when it has enough
                time.sleep(0.3)  # opening drops what had already come
                line.sendall(b"t,a\n")
                for n in range(lines):
                    line.sendall(b"%d,%d\n" % (10 * n, n))
                    time.sleep(0.001)

        thread = threading.Thread(target=serve, daemon=True)
        thread.start()
        yield server.getsockname()[1]
        thread.join(5)


def test_a_logger_on_a_socket(tmp_path: Path) -> None:
    """Any pyserial URL is a port: a serial line behind a network bridge."""
    runs = []
    with (
        served(300) as number,
        open_line(rig_for(tmp_path, f"socket://127.0.0.1:{number}")) as line,
    ):
        for run in line.blocks():
            runs.append(run.values)
            if sum(map(len, runs)) >= 200:
                break
    values = np.concatenate(runs)
    assert values[:200, 1].tolist() == list(range(200))


def test_a_socket_that_nobody_serves() -> None:
    """One line and exit code 3, as for any port."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        number = server.getsockname()[1]
    with pytest.raises(PortError, match="cannot be opened") as raised:
        Transport(f"socket://127.0.0.1:{number}", 115200)
    assert raised.value.exit_code == 3


def test_a_loop_gives_back_what_it_is_sent() -> None:
    """The transport reads what is waiting, nothing more."""
    with Transport("loop://", 115200) as line:
        line.write(b"A?\n")
        assert line.read() == b"A?\n"
        assert line.read() == b""
        line.set_baud(9600)
    with pytest.raises(PortError, match="has gone"):
        line.read()


@pytest.mark.parametrize(
    "port",
    [
        "spy:///dev/null?file={notes}",
        "SPY:///dev/null?file={notes}",
        "alt:///dev/null?class=PosixPollSerial",
        "hwgrep://.*",
        "cp2110://",
        "file://{notes}",
        "carrier-pigeon://loft",
    ],
)
def test_an_address_of_another_kind_opens_nothing(port: str, tmp_path: Path) -> None:
    """A rig file from a stranger can neither empty a file nor open a port that it does not name."""
    notes = tmp_path / "notes.txt"
    notes.write_text("keep this", encoding="utf-8")
    with pytest.raises(UsageError, match="is not opened") as raised:
        Transport(port.format(notes=notes), 115200)
    assert "socket://" in raised.value.hint
    assert notes.read_text(encoding="utf-8") == "keep this"
