"""The queue of bytes at both sides of what memory, a take and an idle line may hold."""

from __future__ import annotations

import io
import tempfile
import threading
import time

import pytest

from calib.errors import PortError
from calib.link.spool import Chunk, Spool

IN_MEMORY = 8 * 1024 * 1024
AT_ONCE = 128 * 1024
IDLE = 64 * 1024


def full(spool: Spool, *sizes: int) -> None:
    """Chunks of so many bytes, each of its own time."""
    for place, size in enumerate(sizes):
        spool.put(Chunk(b"x" * size, float(place)))


def sizes(spool: Spool) -> list[int]:
    """Bytes of each chunk of one take."""
    return [len(chunk.data) for chunk in spool.take(0.0)]


@pytest.fixture
def disk(monkeypatch: pytest.MonkeyPatch) -> io.BytesIO:
    """What is put to disk, in memory."""
    there = io.BytesIO()
    monkeypatch.setattr(tempfile, "TemporaryFile", lambda **_: there)
    return there


def test_eight_megabytes_stay_in_memory_and_a_byte_more_goes_to_disk(disk: io.BytesIO) -> None:
    """And what comes behind it too, until the disk is read: nothing overtakes."""
    spool = Spool()
    full(spool, IN_MEMORY)
    assert disk.getvalue() == b""
    full(spool, 1, 2)
    assert len(disk.getvalue()) == 2 * 12 + 3
    assert sizes(spool) == [IN_MEMORY]
    full(spool, 3)
    assert sizes(spool) == [1, 2, 3]
    assert disk.getvalue() == b""
    full(spool, 4)
    assert sizes(spool) == [4]
    assert not spool.lost()


def test_what_was_taken_makes_room_in_memory(disk: io.BytesIO) -> None:
    """To the byte."""
    spool = Spool(memory_bytes=100)
    full(spool, 60, 40)
    assert sizes(spool) == [60, 40]
    full(spool, 100)
    assert disk.getvalue() == b""
    full(spool, 1)
    assert len(disk.getvalue()) == 13


@pytest.mark.parametrize(("first", "together"), [(AT_ONCE - 1, True), (AT_ONCE, False)])
def test_a_take_gives_an_eighth_of_a_megabyte_and_what_exceeds_it(
    first: int, together: bool
) -> None:
    """The chunk that fills it is the last, whole as it came."""
    spool = Spool()
    full(spool, first, 1000)
    assert sizes(spool) == ([first, 1000] if together else [first])


@pytest.mark.parametrize(("first", "together"), [(AT_ONCE - 1, True), (AT_ONCE, False)])
def test_as_much_is_read_from_disk_at_once(disk: io.BytesIO, first: int, together: bool) -> None:
    """So that memory stays bounded while the taker catches up."""
    spool = Spool(memory_bytes=0)
    full(spool, first, 1000)
    assert sizes(spool) == ([first, 1000] if together else [first])
    assert (disk.getvalue() == b"") is together
    assert sizes(spool) == ([] if together else [1000])
    assert disk.getvalue() == b""


def test_while_nobody_listens_the_newest_64_kilobytes_are_kept() -> None:
    """A byte more drops the oldest, which is a loss; one chunk is kept however long it is."""
    spool = Spool()
    spool.listen(on=False)
    full(spool, 1, IDLE - 1)
    assert not spool.lost()
    full(spool, 1)
    assert spool.lost()
    assert not spool.lost()
    assert sizes(spool) == [IDLE - 1, 1]
    full(spool, IDLE + 5)
    assert sizes(spool) == [IDLE + 5]
    full(spool, IDLE + 5, 3)
    assert sizes(spool) == [3]


def test_who_listens_on_loses_nothing() -> None:
    """Only the change from not listening to listening drops what is held."""
    spool = Spool()
    full(spool, 5)
    spool.listen(on=True)
    assert not spool.lost()
    assert sizes(spool) == [5]
    spool.listen(on=False)
    full(spool, 6)
    spool.listen(on=True)
    assert spool.lost()
    assert sizes(spool) == []


def test_memory_is_whole_again_after_what_nobody_wanted(disk: io.BytesIO) -> None:
    """Neither what was in memory nor what was on disk is counted any longer."""
    spool = Spool(memory_bytes=100)
    full(spool, 90, 90)
    spool.listen(on=False)
    spool.listen(on=True)
    assert disk.getvalue() == b""
    full(spool, 100)
    assert disk.getvalue() == b""
    assert sizes(spool) == [100]


def waited(spool: Spool, then: threading.Timer) -> list[int]:
    """What a take gives that waits for something to happen."""
    then.start()
    began_s = time.monotonic()
    try:
        return [len(chunk.data) for chunk in spool.take(5.0)]
    finally:
        assert time.monotonic() - began_s < 4.0
        then.join()


def test_whoever_waits_is_woken_by_bytes_and_by_the_end_of_the_line() -> None:
    """At once; what is on disk needs no waiting at all."""
    spool = Spool()
    assert waited(spool, threading.Timer(0.005, lambda: full(spool, 9))) == [9]
    gone = PortError("gone.", "plug in.")
    with pytest.raises(PortError, match="gone"):
        waited(spool, threading.Timer(0.005, lambda: spool.fail(gone)))
    with pytest.raises(PortError, match="gone"):
        spool.take(5.0)


def test_what_is_on_disk_is_given_at_once(disk: io.BytesIO) -> None:
    """And what is in memory before it."""
    spool = Spool(memory_bytes=10)
    full(spool, 10, 3)
    assert [len(chunk.data) for chunk in spool.take(5.0)] == [10]
    assert [len(chunk.data) for chunk in spool.take(5.0)] == [3]
    spool.close()
    assert disk.closed
