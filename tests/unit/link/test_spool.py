from __future__ import annotations

import errno
import tempfile
from typing import IO

import pytest

from calib.errors import PortError
from calib.link.spool import IDLE_BYTES, Chunk, Spool


def put(spool: Spool, *numbers: int) -> None:
    """Chunks of 100 bytes, each full of its number."""
    for number in numbers:
        spool.put(Chunk(bytes([number]) * 100, float(number)))


def taken(spool: Spool) -> list[int]:
    """Numbers of the chunks that are taken until none is left."""
    numbers = []
    while chunks := spool.take(0.0):
        for chunk in chunks:
            assert chunk.data == bytes([int(chunk.arrival_s)]) * 100
            numbers.append(int(chunk.arrival_s))
    return numbers


def test_what_memory_should_not_hold_comes_back_from_disk_in_order() -> None:
    """However far the taker is behind, nothing is lost or swapped."""
    spool = Spool(memory_bytes=250)
    put(spool, *range(10))
    assert len(spool.take(0.0)) == 2
    put(spool, *range(10, 20))
    assert taken(spool) == list(range(2, 20))
    put(spool, 20, 21)
    assert taken(spool) == [20, 21]
    assert not spool.lost()
    spool.close()


def test_a_full_disk_is_a_loss_that_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where even the disk takes no more, the decoder is told that bytes are missing."""

    def full(*_: object, **__: object) -> IO[bytes]:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(tempfile, "TemporaryFile", full)
    spool = Spool(memory_bytes=250)
    put(spool, 0, 1, 2)
    assert taken(spool) == [0, 1]
    assert spool.lost()
    put(spool, 3)
    assert taken(spool) == [3]
    assert not spool.lost()


def test_a_failure_comes_after_all_that_was_read() -> None:
    """The error of a line that went is raised when everything before it was taken."""
    spool = Spool()
    put(spool, 1)
    spool.fail(PortError("gone.", "plug in."))
    assert len(spool.take(0.0)) == 1
    with pytest.raises(PortError, match="gone"):
        spool.take(0.0)
    spool.recover()
    assert spool.take(0.0) == []


def test_while_nobody_listens_memory_is_bounded_and_the_rest_is_dropped() -> None:
    """Between two captures only the newest bytes are held, and then they are dropped too."""
    spool = Spool()
    spool.listen(on=False)
    for number in range(200):
        spool.put(Chunk(bytes(1000), float(number)))
    held = sum(len(chunk.data) for chunk in spool.take(0.0))
    assert IDLE_BYTES - 1000 < held <= IDLE_BYTES
    spool.put(Chunk(b"old", 0.0))
    spool.listen(on=True)
    assert spool.lost()
    put(spool, 3)
    assert taken(spool) == [3]


def test_what_was_on_disk_when_nobody_listened_belongs_to_nobody() -> None:
    """A second capture begins with what comes then, however far behind the first one was."""
    spool = Spool(memory_bytes=250)
    put(spool, *range(10))
    spool.listen(on=False)
    put(spool, 10)
    spool.listen(on=True)
    put(spool, 20, 21, 22, 23)
    assert taken(spool) == [20, 21, 22, 23]
    assert spool.lost()
    spool.close()
