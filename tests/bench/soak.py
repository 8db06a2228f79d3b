"""Faults, seeded: ``python -m tests.bench.soak [--runs 203] [--seed 1]``.

Each run records a logger on a pseudo-terminal while one fault happens at a drawn moment: unplugged,
unplugged and back, restarted, garbage, stalled, disk full, killed. Afterwards the capture must
open and hold every whole line that was delivered before the fault (before SIGKILL: more than 100 ms
before it; disk full: what was written before the first failed write), and no line that was not
sent.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import resource
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

import calib.link.line
from calib.errors import CalibError
from calib.guide.capturing import capture_until
from calib.link.line import open_line
from calib.store.capture import Capture, read_capture
from calib.store.rig import Rig, load_rig
from calib.store.samples import EventKind, Samples
from tests.bench.terminal import never_waiting

KINDS = ("unplug", "replug", "reset", "garbage", "stall", "disk full", "kill")
BATCH = 10
BATCH_S = 0.01
KILL_GRACE_S = 0.1
DISK_BYTES = 12_000
OPEN_S = 0.2
"""After the port was opened: opening drops what had already come."""
SETTLE_S = 0.3
"""Before unplugging: closing a pseudo-terminal drops what nobody has read."""


class Logger:
    """A logger at 1 kHz on a pseudo-terminal that can be unplugged."""

    def __init__(self, name: Path) -> None:
        """Plug it in; `name` leads to the port, as a link by USB identity does."""
        self._name = name
        self.sent: list[tuple[int, float]] = []  # number of a line, when it was taken
        self._number = 0
        self._start_number = 0
        self._terminal = never_waiting()
        self._name.symlink_to(self._terminal.path)

    def replug(self, away_s: float) -> None:
        """Unplug it, and plug it in again under the same name but with another number."""
        fresh = never_waiting()
        self.unplug()
        time.sleep(away_s)
        self._terminal = fresh
        link = self._name.with_suffix(".new")
        link.symlink_to(fresh.path)
        link.replace(self._name)

    def unplug(self) -> None:
        """Take it off once everything sent has been read."""
        time.sleep(SETTLE_S)
        self._terminal.close()

    def wait_until_open(self) -> None:
        """Until somebody reads."""
        self._terminal.wait_until_open()

    def start(self, banner: bytes = b"") -> None:
        """Power on: banner, header, clock at nought."""
        self._start_number = self._number
        self.write(banner + b"t,seq,x\n")

    def send(self, batches: int) -> None:
        """Batches of lines, paced."""
        for _ in range(batches):
            numbers = range(self._number, self._number + BATCH)
            text = b"".join(b"%d,%d,7\n" % (n - self._start_number, n) for n in numbers)
            if not self.write(text):
                return
            self.sent += [(n, time.monotonic()) for n in numbers]
            self._number += BATCH
            time.sleep(BATCH_S)

    def pause(self, lines: int) -> None:
        """The clock of the device goes on, but lines are not sent."""
        time.sleep(lines * BATCH_S / BATCH)
        self._start_number -= lines

    def write(self, data: bytes) -> bool:
        """Write all of it; whether somebody took it."""
        while data:
            try:
                data = data[os.write(self._terminal.master, data) :]
            except BlockingIOError:
                if not self._terminal.opened():
                    return False
                time.sleep(0.001)
        return True


@dataclass
class Outcome:
    """What came of one run."""

    kind: str
    expected: int
    missing: int
    wrong: int
    notes: list[str] = field(default_factory=list)

    @property
    def good(self) -> bool:
        """Nothing is missing, wrong or worth a note."""
        return not (self.missing or self.wrong or self.notes)


def write_rig(folder: Path) -> Rig:
    """The rig file of the soak."""
    path = folder / "rig.toml"
    path.write_text(
        f'[link]\nport = "{folder / "port"}"\n[time]\ncolumn = "t"\n'
        '[channels.x]\nrole = "other"\ncolumn = "x"\nunit = "V"\n',
        encoding="utf-8",
    )
    return load_rig(path)


def never(_: Samples) -> bool:
    """An observer that never has enough."""
    return False


def record(rig: Rig, folder: Path) -> str:
    """Record until something stops it; how it ended."""
    try:
        with open_line(rig) as line:
            path = capture_until(line, rig, folder, never, command="soak", now=datetime.now(UTC))
    except CalibError as error:
        return str(error)
    cut = (each.text for each in read_capture(path).events if each.kind is EventKind.CUT)
    return next(cut, "")


def script(kind: str, logger: Logger, draw: random.Random) -> None:
    """What the logger does until it is unplugged for good."""
    logger.wait_until_open()
    logger.start()
    logger.send(draw.randrange(20, 60))
    if kind == "replug":
        logger.replug(draw.uniform(0.1, 0.8))
        logger.wait_until_open()
        logger.start()
        logger.send(40)
    elif kind == "reset":
        logger.start(draw.choice([b"", b"boot 1.2\n", b"\x00\xffrst\r\n"]))
        logger.send(40)
    elif kind == "garbage":
        for _ in range(draw.randrange(1, 5)):
            logger.write(draw.randbytes(draw.randrange(1, 3000)) + b"\n")
            logger.send(draw.randrange(1, 10))
    elif kind == "stall":
        logger.pause(draw.randrange(100, 2000))
        logger.send(20)
    logger.unplug()


def judge(kind: str, capture: Capture, expected: list[int], sent: list[int]) -> Outcome:
    """Hold a capture against what was sent."""
    got = capture.values["seq"].astype(int).tolist()
    missing = len(set(expected) - set(got))
    wrong = len(set(got) - set(sent)) + (len(got) - len(set(got))) + (got != sorted(got))
    outcome = Outcome(kind, len(expected), missing, wrong)
    told = {event.kind for event in capture.events}
    due = {"replug": EventKind.REPLUG, "reset": EventKind.RESET, "stall": EventKind.GAP}.get(kind)
    if due is not None and due not in told:
        outcome.notes.append(f"{due} was not told")
    return outcome


def run_here(kind: str, folder: Path, draw: random.Random) -> Outcome:
    """A run whose fault is on the line."""
    logger = Logger(folder / "port")
    rig = write_rig(folder)
    player = threading.Thread(target=script, args=(kind, logger, draw))
    player.start()
    ended = record(rig, folder)
    player.join()
    (path,) = (folder / "captures").glob("*.csv")
    sent = [number for number, _ in logger.sent]
    outcome = judge(kind, read_capture(path), sent, sent)
    if "unplugged" not in ended:
        outcome.notes.append(f"ended with: {ended}")
    return outcome


@contextmanager
def recorder(folder: Path, limit_bytes: int) -> Iterator[subprocess.Popen[str]]:
    """Another process that records, with a limit on the size of its files (0: none)."""
    arguments = [sys.executable, "-m", "tests.bench.soak", "--record", str(folder)]
    arguments += ["--limit", str(limit_bytes)]
    with subprocess.Popen(arguments, stdout=subprocess.PIPE, text=True) as process:
        yield process


def run_apart(kind: str, folder: Path, draw: random.Random) -> Outcome:
    """A run whose fault is in the recording process."""
    logger = Logger(folder / "port")
    write_rig(folder)
    with recorder(folder, DISK_BYTES + draw.randrange(3000) if kind == "disk full" else 0) as other:
        logger.wait_until_open()
        logger.start()
        if kind == "kill":
            logger.send(draw.randrange(20, 80))
            time.sleep(draw.uniform(0, 0.15))
            killed_s = time.monotonic()
            other.send_signal(signal.SIGKILL)
            other.wait()
        else:
            logger.send(200)
            killed_s = time.monotonic()
        told = other.communicate(timeout=30)[0]
    (path,) = (folder / "captures").glob("*.csv")
    capture = read_capture(path)
    sent = [number for number, _ in logger.sent]
    if kind == "kill":
        expected = [number for number, at_s in logger.sent if at_s < killed_s - KILL_GRACE_S]
        return judge(kind, capture, expected, sent)
    got = len(capture)
    outcome = judge(kind, capture, sent[:got], sent)
    full_bytes = path.stat().st_size
    if "cannot be written" not in told:
        outcome.notes.append(f"the full disk was not told: {told!r}")
    if full_bytes < DISK_BYTES - 100:
        outcome.notes.append(f"stopped at {full_bytes} bytes, before the disk was full")
    return outcome


def record_here(folder: Path, limit_bytes: int) -> None:
    """The recording process."""
    if limit_bytes:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit_bytes, limit_bytes))
    ended = record(load_rig(folder / "rig.toml"), folder)
    print(json.dumps(ended))


def soak(runs: int, seed: int) -> int:
    """All runs; the exit code is 0 where each was good."""
    calib.link.line.REPLUG_WAIT_S = 2.0  # each run ends in an unplugging for good
    outcomes = []
    for number in range(runs):
        draw = random.Random(f"{seed} {number}")
        kind = KINDS[number % len(KINDS)]
        with tempfile.TemporaryDirectory() as name:
            run = run_apart if kind in ("disk full", "kill") else run_here
            outcome = run(kind, Path(name), draw)
        outcomes.append(outcome)
        if not outcome.good:
            print(f"run {number}: {outcome}", flush=True)
    for kind in KINDS:
        of_kind = [outcome for outcome in outcomes if outcome.kind == kind]
        counts = Counter(outcome.good for outcome in of_kind)
        lines = sum(outcome.expected for outcome in of_kind)
        missing = sum(outcome.missing for outcome in of_kind)
        wrong = sum(outcome.wrong for outcome in of_kind)
        print(f"{kind:<10} {counts[True]:>4} of {len(of_kind)} runs good, {lines} lines expected, "
              f"{missing} missing, {wrong} wrong")  # fmt: skip
    return 0 if all(outcome.good for outcome in outcomes) else 1


def main() -> int:
    """The soak, or its recording process."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=203)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--record", type=Path)
    parser.add_argument("--limit", type=int, default=0)
    given = parser.parse_args()
    if given.record is not None:
        record_here(given.record, given.limit)
        return 0
    return soak(given.runs, given.seed)


if __name__ == "__main__":
    sys.exit(main())
