"""Capture a line to disk while a procedure looks on: the one loop that every live flow runs.

Whoever looks on is given even times where stamps are ragged, and no reading missing: observers only
decide when enough was captured. The clock model is that of the judged capture
(`calib/measure/pace.py`), given the newest stamps, and a missing reading is held at the last one;
the capture keeps stamps and readings as they came.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from calib.errors import BrokenOffError, CalibError, NoDataError, PortError, StoppedError
from calib.guide.events import KEPT
from calib.guide.protocols import Line
from calib.link.replay import Replay, gets_a_rate
from calib.measure.pace import find_pace
from calib.store.capture import is_capture
from calib.store.capture_writer import CaptureWriter, capture_path, taken_after
from calib.store.leftover import JUDGED
from calib.store.rig import Rig
from calib.store.samples import Event, EventKind, Samples

Floats = NDArray[np.float64]
Observer = Callable[[Samples], bool]
"""Looks at each run of samples as it comes; returns whether enough was captured."""

LOOK_BACK = 2048
"""Newest samples whose stamps are looked at: own choice, fifty bursts of forty."""

LOOK_EVERY_S = 0.1
"""Time between two looks at the stamps: own choice, half of that between two counts of presses."""


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
                what = f"Broken off: {error.what}"
                raise BrokenOffError(what, f"{KEPT} Run it again.") from error
        if writer.samples == 0:
            raise NoDataError.of("line-ended-unheard", capture=path)
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
        raise StoppedError.of("stopped-with-nothing") from error
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
        raise StoppedError.of("stopped-with-capture", path=path, capture=path) from error
    except CalibError as error:
        if error.capture is None and path.exists():
            error.capture = path
        raise


class Pacer:
    """Lays an even time through ragged stamps as they come; even stamps pass as they are."""

    def __init__(self) -> None:
        """Nothing came yet."""
        self._stamps_s: Floats = np.empty(0)
        self._looked_s = -math.inf
        self._step_s: float | None = None  # where stamps are ragged
        self._last_s = -math.inf

    def take(self, samples: Samples) -> Samples:
        """The samples with even times, and without gaps that were only waits for a burst."""
        count = len(samples)
        if not count:
            return samples
        stamps_s = samples.time_s
        self._stamps_s = np.concatenate([self._stamps_s, stamps_s])[-max(LOOK_BACK, count) :]
        times_s: NDArray[np.floating] = stamps_s
        if stamps_s[-1] - self._looked_s >= LOOK_EVERY_S:
            self._looked_s = float(stamps_s[-1])
            times_s = self._looked_at(count)
        elif self._step_s is not None:
            times_s = self._last_s + self._step_s * np.arange(1, count + 1)
        even_s: Floats = np.maximum.accumulate(np.append(self._last_s, times_s))[1:]
        self._last_s = float(even_s[-1])
        if self._step_s is None:
            return samples if even_s[0] == stamps_s[0] else replace(samples, time_s=even_s)
        events = [event for event in samples.events if event.kind is not EventKind.GAP]
        return replace(samples, time_s=even_s, events=events)

    def _looked_at(self, count: int) -> Floats:
        """Times of the newest samples by all stamps that are kept, s, shape (count,)."""
        pace = find_pace(self._stamps_s)
        self._step_s = pace.step_s if pace.laid else None
        if not pace.laid:
            return self._stamps_s[-count:]
        on_time_s = float((self._stamps_s - pace.time_s).min())
        return pace.time_s[-count:] + on_time_s


def held(values: Floats, before: Floats | float = np.nan) -> Floats:
    """Readings with each missing one as the last that was there; ``before`` where none was.

    Args:
        values: Readings, shape (n, columns); NaN where missing.
        before: The last reading of each column before them, shape (columns,).
    """
    missing = np.isnan(values)
    if not missing.any():
        return values
    places = np.arange(len(values))[:, None]
    latest = np.maximum.accumulate(np.where(missing, -1, places), axis=0)
    filled: Floats = np.where(latest < 0, before, np.take_along_axis(values, latest, axis=0))
    return filled


def eased(line: Line) -> Iterator[tuple[Samples, Samples]]:
    """Each run of a line's samples as it came, and as whoever looks on is given it.

    Raises:
        PortError: The cable went, or nothing decodable came.
    """
    pacer = Pacer()
    last: Floats | float = np.nan
    for samples in line.blocks():
        paced = pacer.take(samples)
        if len(paced):
            values = held(paced.values, last)
            last = values[-1]
            paced = paced if values is paced.values else replace(paced, values=values)
        yield samples, paced
