"""Capture a line to disk while a procedure looks on: the one loop that every live flow runs."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

import numpy as np

from calib.errors import BrokenOffError, CalibError, NoDataError, PortError, StoppedError
from calib.guide.pacing import eased
from calib.guide.protocols import Line
from calib.link.replay import Replay, gets_a_rate
from calib.store.capture import is_capture
from calib.store.capture_writer import CaptureWriter, capture_path, taken_after
from calib.store.leftover import JUDGED
from calib.store.rig import Rig
from calib.store.samples import Event, EventKind, Samples

Observer = Callable[[Samples], bool]
"""Looks at each run of samples as it comes; returns whether enough was captured."""


def capture_until(
    line: Line,
    rig: Rig,
    folder: Path,
    observer: Observer,
    *,
    command: str,
    now: datetime,
    of_now: bool = True,
) -> Path:
    """Record ``line`` until ``observer`` has enough or the line ends; every sample is on disk.

    Args:
        line: The open line.
        rig: What its columns are.
        folder: Where ``captures/`` lies.
        observer: Looks on and decides.
        command: The command that captures.
        now: The time, with its UTC offset.
        of_now: Whether the line runs now; else nobody knows when what it says was measured.

    Returns:
        The path of the closed capture; when the cable went after samples had come, an event in it
        says so.

    Raises:
        StoppedError: The person pressed Ctrl-C; the capture is closed and named.
        NoDataError: No sample came.
        BrokenOffError: The cable went in a flow that judges what it captures.
    """
    path = capture_path(folder, command, now)
    with (
        _named_when_broken(path),
        CaptureWriter(
            path,
            rig,
            line.columns,
            command=command,
            started=now if of_now else None,
            taken_after=taken_after(folder) if of_now else None,
        ) as writer,
    ):
        last_s = 0.0
        try:
            for samples, shown in eased(line):
                writer.append(samples)
                last_s = float(samples.time_s[-1]) if len(samples) else last_s
                if observer(shown):
                    break
        except PortError as error:
            if writer.samples == 0:
                raise
            writer.append(_cut(error, last_s))
            if of_now and command in JUDGED:
                raise BrokenOffError(
                    f"Broken off: {error.what}",
                    "What was captured is kept and nothing was judged; records of before stand. "
                    "Run it again.",
                ) from error
        if writer.samples == 0:
            raise NoDataError(
                "The line ended before one sample could be decoded.",
                "Look at the rejected lines beside the capture, then check baud and layout.",
                capture=path,
            )
    return path


def captured(path: Path | None, rig: Rig, folder: Path, *, command: str, now: datetime) -> Path:
    """The capture in a file; a text log becomes one through the usual decoder.

    Args:
        path: A capture or a text log in the rig file's layout.
        rig: What its columns are.
        folder: Where ``captures/`` lies.
        command: The command that asks for it.
        now: The time, with its UTC offset; it names the capture of a log.

    Raises:
        NoDataError: It is missing, unreadable, or nothing in it can be decoded.
    """
    if path is None or not path.is_file():
        raise NoDataError(f"There is no file {path}.", "Name a capture or text log with --from.")
    if is_capture(path) and not gets_a_rate(path, rig):
        return path
    # A log has no date of its own, and its file's date is no evidence: a copy has a new one.
    log, to_its_end = Replay(path, rig), lambda _: False
    return capture_until(log, rig, folder, to_its_end, command=command, now=now, of_now=False)


def attend(line: Line, observer: Observer) -> None:
    """Look on until ``observer`` has seen what it waits for; nothing of it is kept.

    Raises:
        StoppedError: The person pressed Ctrl-C.
        PortError: The cable went, or nothing decodable came.
        NoDataError: The line ended before.
    """
    try:
        if any(observer(shown) for _, shown in eased(line)):
            return
    except KeyboardInterrupt as error:
        raise StoppedError(
            "Stopped. Nothing was captured in this step.", "Start it again."
        ) from error
    raise NoDataError("The line ended before anything was done.", "Look at the line, start again.")


def _cut(error: PortError, time_s: float) -> Samples:
    """No sample, but that the line broke off: whoever judges the capture later must know."""
    nothing = np.empty(0)
    event = Event(kind=EventKind.CUT, time_s=time_s, text=error.what)
    return Samples(nothing, nothing, np.empty((0, 0)), (), events=(event,))


@contextmanager
def _named_when_broken(path: Path) -> Iterator[None]:
    """Name the capture in whatever stops it."""
    try:
        yield
    except KeyboardInterrupt as error:
        raise StoppedError(
            f"Stopped. What was captured is kept: {path}.",
            "Judge it with --from, or start again.",
            capture=path,
        ) from error
    except CalibError as error:
        if error.capture is None and path.exists():
            error.capture = path
        raise
