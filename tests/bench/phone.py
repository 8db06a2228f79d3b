"""The phone's page: how late it is, what it costs a capture. ``python -m tests.bench.phone``.

Late: a device sends at 1 kHz, as in :mod:`tests.bench.latency`, and its voltage jumps; timed is
from the write of the first line that carries the new voltage to the frame in which headless
Chromium has painted it. Cost: a line at 1.2 MB/s, as in :mod:`tests.bench.live`, is captured twice,
alone and with four viewers and a flood of bad requests; compared is what the capturing process
used of a core.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import resource
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime
from itertools import cycle
from pathlib import Path
from typing import Any, Final

import numpy as np

from calib.guide.capturing import capture_until
from calib.guide.protocols import Live, Reading, Step
from calib.link.line import open_line
from calib.show.phone.board import Board
from calib.show.phone.server import MOST_VIEWERS, PhoneServer
from calib.store.capture import read_capture
from calib.store.rig import load_rig
from calib.store.samples import Samples
from tests.bench import ledger
from tests.bench.latency import RIG as JUMPING_RIG
from tests.bench.latency import Jumps, feed
from tests.bench.live import OPEN_S, RATE_BYTES_S, RIG, make_lines
from tests.bench.live import feed as feed_lines
from tests.bench.priority import take_realtime
from tests.bench.terminal import Port, Screen, never_waiting
from tests.e2e.devtools import Browser

# The bars, from the request for this benchmark.
MEDIAN_BAR_MS: Final = 100.0
P99_BAR_MS: Final = 200.0
CORE_BAR_PCT: Final = 10.0

FLOODERS: Final = 8
SHOWN_S: Final = 0.05

WATCHED = """
window.painted = {};
const text = document.querySelector(".value .text");
new MutationObserver(() => {
  const now = text.textContent;
  requestAnimationFrame(() => setTimeout(() => {
    window.painted[now] ??= performance.timeOrigin + performance.now();
  }));
}).observe(text, {characterData: true, childList: true, subtree: true});
"""


def latencies_ms(jumps: Jumps, folder: Path) -> list[float]:
    """From wire to painted page, ms, for every jump that was seen."""
    port, stop = Port(), threading.Event()
    (folder / "rig.toml").write_text(JUMPING_RIG.format(port=port.path), encoding="utf-8")
    printed = bytearray()
    take_realtime()
    with Browser(folder) as browser:
        browser.size(390, 844)
        skew_s = time.time() - time.monotonic()
        screen = Screen(
            ["watch", "--isolated", "--phone"], folder, lambda _, data: printed.extend(data)
        )
        feeder = threading.Thread(target=feed, args=(port, jumps, stop), daemon=True)
        feeder.start()
        while (found := re.search(rb"http://[\d.:]+/[\w-]+/", printed)) is None:
            time.sleep(0.05)
        browser.open(found.group().decode("ascii"))
        browser.wait_for("document.querySelector('.value .text') !== null")
        browser.evaluate(WATCHED)
        feeder.join(len(jumps.texts) * 0.5 + 30.0)
        stop.set()
        painted: dict[str, float] = browser.evaluate("window.painted")
        screen.end()
    return [
        painted[f"{text} V"] - 1e3 * (jumps.sent_s[text] + skew_s)
        for text in jumps.texts
        if f"{text} V" in painted and text in jumps.sent_s
    ]


def listen(port: str, folder: Path, *, served: bool) -> None:
    """Capture until the line goes, with a flow that shows itself; print address, then the cost."""
    rig_path = folder / "rig.toml"
    rig_path.write_text(RIG.format(port=port), encoding="utf-8")
    rig = load_rig(rig_path)
    board = Board()
    shown_s = 0.0

    def show(samples: Samples) -> bool:
        nonlocal shown_s
        if len(samples) and time.monotonic() - shown_s >= SHOWN_S:
            shown_s = time.monotonic()
            value = Reading("throttle", float(samples.values[-1, 1]), "V", 0.0, 5.0)
            board.look(Live(Step("press", "", 2, 5, control="throttle"), (value,)))
        return False

    with ExitStack() as stack:
        url = stack.enter_context(PhoneServer(board)).door.url if served else ""
        print(url, flush=True)
        line = stack.enter_context(open_line(rig))
        before = resource.getrusage(resource.RUSAGE_SELF)
        path = capture_until(line, rig, folder, show, command="bench", now=datetime.now(UTC))
        after = resource.getrusage(resource.RUSAGE_SELF)
    cpu_s = after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime
    print(json.dumps({"cpu_s": cpu_s, "path": str(path)}))


def hostile(host: str, token: str) -> list[bytes]:
    """Requests that are refused, each in a way of its own."""
    good = f"GET /{token}/ HTTP/1.1\r\nHost: {host}\r\n\r\n".encode()
    return [
        good.replace(token.encode(), b"x" * len(token)),
        good.replace(token.encode(), b"../../etc/passwd"),
        good.replace(host.encode(), b"evil.example"),
        good.replace(b"GET", b"POST"),
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" * 20 + b"\r\n\r\n",
        b"GET / HTTP/1.1\r\n" + b"X-Long: " + b"x" * 20_000,
        b"GET /slow",
        b"",
    ]


class Crowd:
    """Four viewers, and flooders that send bad requests as fast as they are taken."""

    def __init__(self, url: str) -> None:
        """Begin."""
        self.frames = [0] * MOST_VIEWERS
        self.refused = 0
        self._stop = threading.Event()
        self._host, self._token = url.removeprefix("http://").rstrip("/").split("/")
        self._threads = [
            *(threading.Thread(target=self._view, args=(each,)) for each in range(MOST_VIEWERS)),
            *(threading.Thread(target=self._flood) for _ in range(FLOODERS)),
        ]
        for thread in self._threads[:MOST_VIEWERS]:
            thread.start()
        time.sleep(1.0)
        for thread in self._threads[MOST_VIEWERS:]:
            thread.start()

    def end(self) -> dict[str, Any]:
        """Stop; what was seen and refused."""
        self._stop.set()
        for thread in self._threads:
            thread.join()
        return {"frames": self.frames, "refused": self.refused}

    def _connect(self) -> socket.socket:
        address, _, port = self._host.partition(":")
        return socket.create_connection((address, int(port)), timeout=10.0)

    def _view(self, number: int) -> None:
        with self._connect() as client:
            client.sendall(
                f"GET /{self._token}/frames HTTP/1.1\r\nHost: {self._host}\r\n\r\n".encode()
            )
            while not self._stop.is_set() and (part := client.recv(65536)):
                self.frames[number] += part.count(b"data: ")

    def _flood(self) -> None:
        for request in cycle(hostile(self._host, self._token)):
            if self._stop.is_set():
                return
            try:
                with self._connect() as client:
                    client.sendall(request)
                    client.shutdown(socket.SHUT_WR)
                    client.recv(1024)
            except OSError:
                pass  # cut off: so it should be
            self.refused += 1


@contextmanager
def other(*arguments: str) -> Iterator[subprocess.Popen[str]]:
    """This module in another process."""
    command = [sys.executable, "-m", "tests.bench.phone", *arguments]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        yield process


def told(process: subprocess.Popen[str]) -> str:
    """The next line that it prints."""
    assert process.stdout is not None
    return process.stdout.readline().strip()


def cost(seconds: float, *, served: bool) -> dict[str, Any]:
    """Capture at full speed; what it used of a core, what was lost, what the crowd saw."""
    lines = make_lines(int(seconds * RATE_BYTES_S / 28))
    terminal = never_waiting()
    with tempfile.TemporaryDirectory() as name, ExitStack() as stack:
        listening = ["--listen", "--port", terminal.path, "--out", name]
        process = stack.enter_context(other(*listening, *(["--served"] if served else [])))
        url = told(process)
        crowd = stack.enter_context(other("--crowd", url)) if served else None
        terminal.wait_until_open()
        time.sleep(OPEN_S + 1.5)
        os.write(terminal.master, b"t_us,a0,a1,a2,a3,a4\n")
        fed = feed_lines(terminal.master, lines, RATE_BYTES_S)
        seen: dict[str, Any] = {}
        if crowd is not None:
            seen = json.loads(crowd.communicate("\n", timeout=60)[0])
        time.sleep(1.0)  # closing drops what nobody has read yet
        os.close(terminal.master)
        cost: dict[str, Any] = json.loads(process.communicate(timeout=60)[0])
        missing = fed.lines - len(read_capture(Path(cost["path"])))
    core_pct = 100.0 * cost["cpu_s"] / fed.seconds
    rate = fed.bytes / fed.seconds / 1e6
    return {"core_pct": core_pct, "missing": missing, "lines": fed.lines, "MB_s": rate, **seen}


def parsed() -> argparse.Namespace:
    """What was asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--steps", type=int, default=200)
    parser.add_argument("--seconds", type=float, default=110.0)
    parser.add_argument("--listen", action="store_true")
    parser.add_argument("--served", action="store_true")
    parser.add_argument("--crowd", default="")
    parser.add_argument("--port", default="")
    parser.add_argument("--out", type=Path, default=Path())
    return parser.parse_args()


def main() -> int:
    """Run one part, or all."""
    given = parsed()
    if given.listen:
        take_realtime()
        listen(given.port, given.out, served=given.served)
        return 0
    if given.crowd:
        crowd = Crowd(given.crowd)
        sys.stdin.readline()
        print(json.dumps(crowd.end()))
        return 0
    return measure(given.steps, given.seconds)


def measure(steps: int, seconds: float) -> int:
    """Measure both, print and keep."""
    priority = take_realtime(inherited=False)
    alone, beset = (cost(seconds, served=served) for served in (False, True))
    jumps = Jumps(steps)
    with tempfile.TemporaryDirectory() as folder:
        late_ms = latencies_ms(jumps, Path(folder))
    median_ms, p99_ms = np.percentile(late_ms, [50, 99]) if late_ms else (np.inf, np.inf)
    more_pct = beset["core_pct"] - alone["core_pct"]
    lost = alone["missing"] + beset["missing"]
    met = (
        median_ms <= MEDIAN_BAR_MS
        and p99_ms <= P99_BAR_MS
        and len(late_ms) == steps
        and more_pct <= CORE_BAR_PCT
        and lost == 0
    )
    body = (
        f"Wire to painted page at 1 kHz, headless Chromium, {priority}: {len(late_ms)} of {steps} "
        f"jumps seen, median {median_ms:.0f} ms (bar {MEDIAN_BAR_MS:.0f}), 99 of 100 within "
        f"{p99_ms:.0f} ms (bar {P99_BAR_MS:.0f}).\n\n"
        f"Capture at {beset['MB_s']:.2f} MB/s for {seconds:.0f} s with {MOST_VIEWERS} viewers and "
        f"{beset['refused']} bad requests from {FLOODERS} clients at once: {lost} of "
        f"{alone['lines'] + beset['lines']} lines lost in both runs (bar 0), "
        f"{beset['core_pct']:.1f} % of a core against {alone['core_pct']:.1f} % alone, "
        f"{more_pct:.1f} % more (bar {CORE_BAR_PCT:.0f}). The viewers were shown "
        f"{min(beset['frames']) / seconds:.0f} to {max(beset['frames']) / seconds:.0f} frames a "
        f"second.\n\nAll bars {'met' if met else 'MISSED'}."
    )
    arguments = f"--steps {steps} --seconds {seconds:g}"
    return ledger.publish("phone", "The page for a phone", body, arguments, met=met)


if __name__ == "__main__":
    raise SystemExit(main())
