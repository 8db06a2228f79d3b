"""A day of 1 kHz samples through ``calib watch``: ``python -m tests.bench.watch_memory``.

The lines go through a pseudo-terminal as fast as it takes them, to the live view on a terminal of
80 by 24. Memory is the process's resident set; it must not grow after the first minute.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import threading
import time
from collections import deque
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from tests.bench.terminal import Port, Screen

RATE_HZ = 1000
CHUNK = 20_000
MOST_GROWTH_BYTES = 5_000_000

RIG = """
[link]
port = "{port}"
[time]
column = "t_ms"
unit = "ms"
[channels.throttle]
role = "control"
column = "a0"
unit = "count"
full_scale = 1024
reference_V = 5.0
[channels.regen]
role = "control"
column = "a1"
unit = "count"
full_scale = 1024
reference_V = 5.0
"""


@dataclass
class Fed:
    """How much was fed, and the memory at each look: device time (s), wall time (s), bytes."""

    samples: int = 0
    done: bool = False
    looks: list[tuple[float, float, int]] = field(default_factory=list)


def feed(port: Port, hours: float, fed: Fed) -> None:
    """Write ``hours`` of samples, waiting for the terminal to take them."""
    port.wait_until_open()
    time.sleep(0.2)
    os.write(port.master, b"t_ms,a0,a1\r\n")
    rng = np.random.default_rng(1)
    tails = [f",{a},{b}\r\n" for a, b in rng.integers(180, 860, (CHUNK, 2)).tolist()]
    for start in range(0, round(hours * 3600 * RATE_HZ), CHUNK):
        block = "".join(f"{start + n}{tail}" for n, tail in enumerate(tails)).encode()
        view = memoryview(block)
        while view:
            view = view[os.write(port.master, view) :]
        fed.samples = start + CHUNK
    fed.done = True


def main() -> int:
    """Feed, look at the memory, and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hours", type=float, default=24.0)
    hours = parser.parse_args().hours
    port, fed = Port(), Fed()
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "rig.toml").write_text(RIG.format(port=port.path), encoding="utf-8")
        tail = deque[bytes](maxlen=20)
        screen = Screen(
            ["watch", "--isolated"], Path(folder), lambda _when, data: tail.append(data)
        )
        began_s = time.monotonic()
        threading.Thread(target=feed, args=(port, hours, fed), daemon=True).start()
        while not fed.done and screen.process.poll() is None:
            time.sleep(0.25)
            look = (fed.samples / RATE_HZ, time.monotonic() - began_s, screen.rss_bytes())
            fed.looks.append(look)
        time.sleep(1.0)
        screen.end()
        if not fed.done:
            print(b"".join(tail).decode("utf-8", "replace"))
    return report(fed, hours)


def report(fed: Fed, hours: float) -> int:
    """Print what was seen; 1 where memory grew or not all was fed."""
    after = [look for look in fed.looks if look[0] >= 60.0 and look[1] >= 5.0]
    if not fed.done or not after:
        print("the watch ended before all was fed")
        return 1
    first, last = after[0], after[-1]
    most = max(look[2] for look in after)
    print(f"fed: {fed.samples} samples, {hours:g} h at 1 kHz, in {last[1]:.0f} s")
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        device_s, wall_s, rss = after[round(share * (len(after) - 1))]
        print(f"  after {device_s / 3600:6.2f} h of samples, {wall_s:5.0f} s: {rss / 1e6:7.2f} MB")
    growth = most - first[2]
    print(
        f"growth after the first minute of samples (and 5 s of start-up): {growth / 1e6:.2f} MB, "
        f"bar {MOST_GROWTH_BYTES / 1e6:.0f} MB"
    )
    return 0 if growth < MOST_GROWTH_BYTES else 1


if __name__ == "__main__":
    sys.exit(main())
