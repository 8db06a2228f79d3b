"""Byte on the wire to figure on the screen: ``python -m tests.bench.latency [--steps 200]``.

A device sends at 1 kHz through a pseudo-terminal; every now and then the throttle's voltage jumps
to one that was never sent before. What is timed is from the write of the first line that carries
it to the read of the first screen of ``calib watch`` (a terminal of 80 by 24) that shows it.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import threading
import time
from pathlib import Path

import numpy as np

from tests.bench.priority import take_realtime
from tests.bench.terminal import Port, Screen

PERIOD_S = 0.001
MEDIAN_BAR_S = 0.050
P99_BAR_S = 0.120

RIG = """
[link]
port = "{port}"
[time]
column = "t_ms"
unit = "ms"
[channels.throttle]
role = "control"
column = "v"
unit = "V"
"""


class Jumps:
    """The voltages that were sent, when, and when each was seen."""

    def __init__(self, steps: int) -> None:
        """Distinct voltages in random order, none of them near another."""
        rng = np.random.default_rng(1)
        self.texts = [f"{volts:.3f}" for volts in rng.permutation(np.linspace(1.0, 4.0, steps))]
        self.sent_s: dict[str, float] = {}
        self.seen_s: dict[str, float] = {}
        self._waited_for: str | None = None
        self._tail = b""

    def send(self, text: str) -> None:
        """Note that a voltage is about to be written."""
        self._waited_for = text
        self.sent_s[text] = time.monotonic()

    def saw(self, when_s: float, data: bytes) -> None:
        """Look for the voltage that is waited for in what the screen shows."""
        self._tail = (self._tail + data)[-4096:]
        text = self._waited_for
        if text is not None and f" {text} V".encode() in self._tail:
            self._waited_for = None
            self.seen_s[text] = when_s

    @property
    def latencies_s(self) -> list[float]:
        """From wire to screen, for every voltage that was seen."""
        return [self.seen_s[text] - self.sent_s[text] for text in self.texts if text in self.seen_s]


def feed(port: Port, jumps: Jumps, stop: threading.Event) -> None:
    """Send at 1 kHz by the clock; jump at random moments some three times a second."""
    rng = np.random.default_rng(2)
    port.wait_until_open()
    time.sleep(2.0)
    os.write(port.master, b"t_ms,v\r\n")
    began_s = time.monotonic()
    volts, waiting, number = "0.500", list(jumps.texts), 0
    next_jump_s = 1.0
    while not stop.is_set():
        now_s = time.monotonic() - began_s
        if now_s > next_jump_s:
            if not waiting:
                return
            volts = waiting.pop(0)
            next_jump_s = now_s + float(rng.uniform(0.25, 0.4))
            jumps.send(volts)
        due = int(now_s / PERIOD_S)
        lines = "".join(f"{n},{volts}\r\n" for n in range(number, due))
        number = due
        if lines:
            os.write(port.master, lines.encode("ascii"))
        time.sleep(PERIOD_S)


def main() -> int:
    """Run it and print the figures; 1 where a bar is missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--steps", type=int, default=200)
    steps = parser.parse_args().steps
    priority = take_realtime()
    port, jumps, stop = Port(), Jumps(steps), threading.Event()
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "rig.toml").write_text(RIG.format(port=port.path), encoding="utf-8")
        screen = Screen(["watch", "--isolated"], Path(folder), jumps.saw)
        feeder = threading.Thread(target=feed, args=(port, jumps, stop), daemon=True)
        feeder.start()
        feeder.join(steps * 0.5 + 30.0)
        stop.set()
        screen.end()
    latencies_ms = 1e3 * np.array(jumps.latencies_s)
    missed = steps - len(latencies_ms)
    if missed == steps:
        print("no jump was seen")
        return 1
    median_ms, p99_ms = np.percentile(latencies_ms, [50, 99])
    print(f"wire to screen at 1 kHz, {len(latencies_ms)} jumps, {missed} not seen; {priority}")
    print(f"  median {median_ms:6.1f} ms   bar {1e3 * MEDIAN_BAR_S:.0f} ms")
    print(f"  99 %   {p99_ms:6.1f} ms   bar {1e3 * P99_BAR_S:.0f} ms")
    kept = median_ms <= 1e3 * MEDIAN_BAR_S and p99_ms <= 1e3 * P99_BAR_S and not missed
    return 0 if kept else 1


if __name__ == "__main__":
    sys.exit(main())
