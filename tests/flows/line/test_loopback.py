from __future__ import annotations

import time

import pytest

from calib.errors import PortError
from calib.link.transport import Transport
from calib.mule.loopback import Loopback


def read_until(line: Transport, wanted: bytes) -> bytes:
    """What comes until it ends in ``wanted``."""
    deadline_s = time.monotonic() + 5.0
    got = b""
    while not got.endswith(wanted) and time.monotonic() < deadline_s:
        got += line.read()
    return got


def wait_until_open(end: Loopback) -> None:
    """As the bench does, look until somebody is there."""
    deadline_s = time.monotonic() + 5.0
    while not end.is_open() and time.monotonic() < deadline_s:
        time.sleep(0.01)


def test_what_is_sent_arrives_whole() -> None:
    """The transport reads a bench on the loopback address as it reads a port."""
    end = Loopback()
    sent = b"".join(b"%d,512,300\r\n" % n for n in range(2000))
    with Transport(end.path, 115200) as line:
        wait_until_open(end)
        assert end.write(sent) == len(sent)
        assert read_until(line, b"1999,512,300\r\n") == sent
    end.close()


def test_it_serves_one_after_the_other() -> None:
    """Whoever hangs up makes room for the next; a second one at the same time is turned away."""
    end = Loopback()
    assert not end.is_open()
    with Transport(end.path, 115200) as first:
        wait_until_open(end)
        with Transport(end.path, 115200) as second:
            time.sleep(0.05)
            assert end.is_open()
            with pytest.raises(PortError, match="has gone"):
                read_until(second, b"never")
        end.write(b"still here")
        assert read_until(first, b"here") == b"still here"
    assert not end.is_open()
    with Transport(end.path, 115200) as third:
        wait_until_open(end)
        end.write(b"again")
        assert read_until(third, b"again") == b"again"
    end.close()


def test_what_came_before_the_end_is_not_lost() -> None:
    """The last bytes before the bench goes are read; then it has gone."""
    end = Loopback()
    with Transport(end.path, 115200) as line:
        wait_until_open(end)
        end.write(b"1,2\r\n")
        end.close()
        assert read_until(line, b"\n") == b"1,2\r\n"
        with pytest.raises(PortError, match="has gone"):
            line.read()
