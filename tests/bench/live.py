"""A line at full USB 2.0 full-speed rate: ``python -m tests.bench.live [--seconds 60]``.

A feeder writes six columns to a pseudo-terminal, paced by the clock and never waiting: what the
terminal does not take at its time is lost, as a device without memory would lose it. Another
process listens, decodes and records as ``calib record`` does. Beside it, the ceiling of the plain
``readline().split()`` loop on the same machine in the same run.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from tests.bench.priority import take_realtime
from tests.bench.terminal import never_waiting

RATE_BYTES_S = 1.2e6
"""USB 2.0 full speed, 19 bulk packets of 64 bytes a millisecond (USB 2.0, table 5-9; from
memory) is 1.216 MB/s."""

TICK_S = 0.001
OPEN_S = 0.2
"""Opening a port drops what had already come: the feeder waits this long after it."""
LATEST_S = 0.004
"""A feeder that the system wakes later than this lets the time between pass instead of sending it
all at once: a device has a clock of its own and makes no bursts. The rate that was really fed is
reported."""
PLAIN_SECONDS = 5.0

RIG = """
[link]
port = "{port}"
[time]
column = "t_us"
unit = "us"
[channels.throttle]
role = "control"
column = "a0"
unit = "count"
full_scale = 1024
reference_V = 5.0
"""


@dataclass
class Fed:
    """What a feeder did: lines taken and lost, seconds, bytes."""

    lines: int = 0
    lost: int = 0
    seconds: float = 0.0
    bytes: int = 0


def make_lines(count: int) -> list[bytes]:
    """Six columns: a counter in steps of 25 and five counts."""
    return [
        b"%d,%d,%d,%d,%d,%d\n" % (25 * n, n % 1024, 512, (7 * n) % 1024, 101, (3 * n) % 1024)
        for n in range(count)
    ]


def feed(master: int, lines: list[bytes], rate_bytes_s: float) -> Fed:
    """Write lines at a rate; a line that is not taken when it is due is lost."""
    fed = Fed()
    rest = b""
    place, due_bytes = 0, 0.0
    start_s = last_s = time.monotonic()
    while place < len(lines):
        time.sleep(TICK_S)
        now_s = time.monotonic()
        due_bytes += min(now_s - last_s, LATEST_S) * rate_bytes_s
        last_s = now_s
        first, size = place, len(rest)
        while place < len(lines) and size + len(lines[place]) <= due_bytes:
            size += len(lines[place])
            place += 1
        data = rest + b"".join(lines[first:place])
        if not data:
            continue
        try:
            sent = os.write(master, data)
        except BlockingIOError:
            sent = 0
        whole_end = data.find(b"\n", max(sent - 1, 0)) + 1 if sent else len(rest)
        rest = data[sent:whole_end]
        lost = data[whole_end:].count(b"\n")
        fed.lost += lost
        fed.lines += place - first - lost
        fed.bytes += len(data) - len(rest)
        due_bytes -= size - len(rest)
    while rest:
        time.sleep(TICK_S)
        with suppress(BlockingIOError):
            rest = rest[os.write(master, rest) :]
    fed.seconds = time.monotonic() - start_s
    return fed


def listen(port: str, folder: Path) -> None:
    """Record the line as `calib record` does, until it goes; print what it cost as JSON."""
    from calib.guide.capturing import capture_until
    from calib.link.line import open_line
    from calib.store.rig import load_rig
    from calib.store.samples import Samples

    rig_path = folder / "rig.toml"
    rig_path.write_text(RIG.format(port=port), encoding="utf-8")
    rig = load_rig(rig_path)

    def never(_: Samples) -> bool:
        return False

    before = resource.getrusage(resource.RUSAGE_SELF)
    with open_line(rig) as line:
        path = capture_until(line, rig, folder, never, command="bench", now=datetime.now(UTC))
    after = resource.getrusage(resource.RUSAGE_SELF)
    cpu_s = after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime
    print(json.dumps({"cpu_s": cpu_s, "path": str(path), "peak_kB": peak_kB()}))


def peak_kB() -> int:
    """Largest memory of this process so far, in kB; getrusage would count the parent's too."""
    status = Path("/proc/self/status").read_text(encoding="ascii")
    return int(status.partition("VmHWM:")[2].split()[0])


def plain(port: str) -> None:
    """Read with readline and split until the line goes; print bytes and seconds as JSON."""
    import serial

    line = serial.Serial(port, timeout=1)
    size, start_s = 0, 0.0
    try:
        while True:
            text = line.readline()
            start_s = start_s or time.process_time()
            size += len(text)
            tuple(map(float, text.split(b",")))
    except (serial.SerialException, ValueError):
        print(json.dumps({"bytes": size, "cpu_s": time.process_time() - start_s}))


def other(what: str, port: str, folder: Path) -> subprocess.Popen[str]:
    """This module in another process."""
    arguments = [
        sys.executable,
        "-m",
        "tests.bench.live",
        what,
        "--port",
        port,
        "--out",
        str(folder),
    ]
    return subprocess.Popen(arguments, stdout=subprocess.PIPE, text=True)


def answer(process: subprocess.Popen[str]) -> dict[str, object]:
    """What the other process printed."""
    out, _ = process.communicate(timeout=60)
    found: dict[str, object] = json.loads(out)
    return found


def measure_plain() -> float:
    """Ceiling of readline and split in MB/s: flooded for some seconds, bytes per CPU second."""
    terminal = never_waiting()
    master, port = terminal.master, terminal.path
    with tempfile.TemporaryDirectory() as folder, other("--plain", port, Path(folder)) as process:
        terminal.wait_until_open()
        time.sleep(OPEN_S)
        flood = b"".join(make_lines(1000))
        stop_s = time.monotonic() + PLAIN_SECONDS
        rest = flood
        while time.monotonic() < stop_s:
            try:
                rest = rest[os.write(master, rest) :] or flood
            except BlockingIOError:
                time.sleep(TICK_S)
        time.sleep(0.5)
        os.close(master)
        told = answer(process)
    return float(str(told["bytes"])) / float(str(told["cpu_s"])) / 1e6


def measure_live(seconds: float) -> int:
    """Feed, record, compare; the exit code is 0 where each line that was taken is in the capture.

    Lines that the terminal did not take are told apart: between the two ends of a pseudo-terminal
    a kernel thread of ordinary priority carries the bytes, and on a busy machine it comes late.
    """
    from calib.store.capture import read_capture
    from calib.store.rig import load_rig  # noqa: F401 (imports before the clock starts)

    lines = make_lines(int(seconds * RATE_BYTES_S / 28))
    terminal = never_waiting()
    master, port = terminal.master, terminal.path
    with tempfile.TemporaryDirectory() as name:
        with other("--listen", port, Path(name)) as process:
            terminal.wait_until_open()
            time.sleep(OPEN_S)
            os.write(master, b"t_us,a0,a1,a2,a3,a4\n")
            fed = feed(master, lines, RATE_BYTES_S)
            time.sleep(1.0)  # closing drops what nobody has read yet
            os.close(master)
            told = answer(process)
        capture = read_capture(Path(str(told["path"])))
        missing = fed.lines - len(capture)
    cpu_s = float(str(told["cpu_s"]))
    print(f"fed            {fed.bytes / fed.seconds / 1e6:6.3f} MB/s for {fed.seconds:.1f} s, "
          f"{fed.lines} lines, {fed.lines / fed.seconds:.0f} a second")  # fmt: skip
    print(f"lost           {fed.lost} not taken by the terminal, {missing} not in the capture, "
          f"{capture.rejected_lines} rejected")  # fmt: skip
    print(f"one core       {100 * cpu_s / fed.seconds:6.1f} % in reader, decoder and recorder")
    print(f"memory         {int(str(told['peak_kB'])) / 1024:6.0f} MB at most")
    print(f"machine        load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    return 1 if missing else 0


def main() -> int:
    """Run one part, or all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--listen", action="store_true")
    parser.add_argument("--plain", action="store_true")
    parser.add_argument("--port", default="")
    parser.add_argument("--out", type=Path, default=Path())
    given = parser.parse_args()
    if given.listen:
        listen(given.port, given.out)
        return 0
    if given.plain:
        plain(given.port)
        return 0
    print(f"run at         {take_realtime()}")
    code = measure_live(given.seconds)
    print(f"plain loop     {measure_plain():6.3f} MB/s at a full core with readline().split()")
    return code


if __name__ == "__main__":
    sys.exit(main())
