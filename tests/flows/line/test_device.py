"""The device over its own line; waits are bounded by deadlines, never slept out."""

from __future__ import annotations

import itertools
import os
import select
import time
import tty
from collections.abc import Iterator

import pytest
import serial

from calib.mule.bench import CHANNELS, draw_bench
from calib.mule.device import SEEN_S, Device, header_of
from calib.mule.stage import Stage
from tests.tools import needs_posix

HEADER = header_of(draw_bench(1))
PATIENCE_S = 10.0


@pytest.fixture
def device() -> Iterator[Device]:
    """A running device at ten times real time."""
    device = Device(Stage(draw_bench(1)), speed=10.0, baud=115200)
    device.start()
    yield device
    device.stop()


def _wait_until_unused(device: Device) -> None:
    deadline_s = time.monotonic() + PATIENCE_S
    while device.in_use and time.monotonic() < deadline_s:
        time.sleep(0.001)


def _read(port: serial.Serial, least: int) -> bytes:
    got = b""
    deadline_s = time.monotonic() + PATIENCE_S
    while len(got) < least and time.monotonic() < deadline_s:
        got += port.read(port.in_waiting or 1)
    return got


def _read_on(port: serial.Serial) -> None:
    while True:
        port.read(1)


def test_lines_begin_with_the_header_and_count_from_zero(device: Device) -> None:
    """The first whole line is the header, then decimal counts with CR LF at a fixed rate."""
    with serial.serial_for_url(device.path, 115200, timeout=PATIENCE_S) as port:
        lines = _read(port, 3000).decode("ascii").split("\r\n")[:-1]
    assert lines[0] + "\r\n" == HEADER
    rows = [[int(field) for field in line.split(",")] for line in lines[1:]]
    assert {len(row) for row in rows} == {1 + len(CHANNELS)}
    times_ms = [row[0] for row in rows]
    assert times_ms[0] < 200
    assert {b - a for a, b in itertools.pairwise(times_ms)} == {10}


def test_board_restarts_when_the_port_is_opened_again(device: Device) -> None:
    """Closing does not end the device; opening sends the header and counts from zero again."""
    for _ in range(3):
        with serial.serial_for_url(device.path, 115200, timeout=PATIENCE_S) as port:
            lines = _read(port, 500).split(b"\r\n")
        assert lines[0] + b"\r\n" == HEADER.encode()
        assert int(lines[1].split(b",")[0]) < 200
        _wait_until_unused(device)


@needs_posix
def test_another_speed_reads_garbage(device: Device) -> None:
    """At 57,600 bit/s neither the header nor one row can be read."""
    with serial.Serial(device.path, 57600, timeout=PATIENCE_S) as port:
        got = _read(port, 1000)
    assert HEADER.encode() not in got
    assert not any(line.replace(b",", b"").isdigit() for line in got.split())


def test_what_the_host_sends_is_ignored(device: Device) -> None:
    """A probing host neither stops the device nor is echoed."""
    with serial.serial_for_url(device.path, 115200, timeout=PATIENCE_S) as port:
        _read(port, 500)
        port.write(b"AT\r\n" * 50)
        got = _read(port, 3000)
    assert b"AT" not in got
    assert len(got) >= 3000


def test_pulling_the_cable_ends_the_readers_line() -> None:
    """After stop the reader meets the end of the line, not silence."""
    device = Device(Stage(draw_bench(1)), speed=10.0)
    device.start()
    with serial.serial_for_url(device.path, 115200, timeout=PATIENCE_S) as port:
        _read(port, 200)
        device.stop()
        with pytest.raises(serial.SerialException, match=r"readiness to read|failed|disconnected"):
            _read_on(port)


@needs_posix
def test_reader_that_never_reads_does_not_stop_the_bench() -> None:
    """With the port open and nobody reading, lines are lost and the device still ends at once."""
    device = Device(Stage(draw_bench(1, "quiet")), speed=20.0)
    device.start()
    other = os.open(device.path, os.O_RDWR | os.O_NOCTTY)
    tty.setraw(other)
    ready, _, _ = select.select([other], [], [], PATIENCE_S)
    began_s = time.monotonic()
    device.stop()
    assert ready
    assert time.monotonic() - began_s < 2.0
    os.close(other)


def test_hands_act_when_asked(device: Device) -> None:
    """An act that is asked for moves the throttle's column."""
    device.act(lambda stage: stage.press("throttle"))
    with serial.serial_for_url(device.path, 115200, timeout=PATIENCE_S) as port:
        lines = _read(port, 20_000).split(b"\r\n")[1:-1]
    throttle = [int(line.split(b",")[1]) for line in lines]
    assert max(throttle) - min(throttle) > 400 or max(throttle) > 600


def test_a_bench_that_is_looked_at_waits_for_the_next_look(device: Device) -> None:
    """Whoever looks seldom, on a starved machine, finds it a moment later and no further."""
    device.seen(True)
    seen_s = device.now_s
    deadline_s = time.monotonic() + 3.0 * SEEN_S
    while time.monotonic() < deadline_s:
        time.sleep(0.001)
    assert device.now_s - seen_s <= 1.1 * SEEN_S * device.speed
    device.seen(False)
    deadline_s = time.monotonic() + PATIENCE_S
    while device.now_s - seen_s < 2.0 * SEEN_S * device.speed and time.monotonic() < deadline_s:
        time.sleep(0.001)
    assert device.now_s - seen_s >= 2.0 * SEEN_S * device.speed


def test_a_bench_quicker_than_a_real_one_waits_for_a_slow_reader(device: Device) -> None:
    """Who does not look for a while on a starved machine has every line none the less."""
    device.speed = 100.0
    with serial.serial_for_url(device.path, 115200, timeout=PATIENCE_S) as port:
        _read(port, 200)
        stood_s, deadline_s = -1.0, time.monotonic() + PATIENCE_S
        while device.now_s > stood_s and time.monotonic() < deadline_s:
            stood_s = device.now_s
            time.sleep(0.1)
        assert device.now_s == stood_s
        lines = _read(port, 400_000).split(b"\r\n")[1:-1]
    times_ms = [int(line.split(b",")[0]) for line in lines]
    steps_ms = [after - before for before, after in itertools.pairwise(times_ms)]
    assert max(steps_ms) <= 1.5 * sum(steps_ms) / len(steps_ms)
