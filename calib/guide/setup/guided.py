"""Lets the person work the parts and raise the front, and tells from the signals which is which."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import chain
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from calib.guide.capturing import Observer, capture_until, held
from calib.guide.protocols import Line, Person
from calib.guide.setup import parts, standing, turning
from calib.guide.setup.draft import Proposed
from calib.guide.setup.plan import Sent
from calib.link.detect.numbers import columns_of
from calib.store.capture import read_capture
from calib.store.documents.finding import Finding
from calib.store.rig import TILT_ROLES, Channel, Rig
from calib.tilt.which import find_tilt, stand_of


@dataclass(frozen=True, slots=True)
class Told:
    """What the signals told.

    Attributes:
        proposals: For the rig file.
        findings: What was told and what was not.
        sent: What the logger sends, with all that was seen meanwhile.
        left_undone: The last part, where nothing moved for it; empty otherwise.
    """

    proposals: tuple[Proposed, ...]
    findings: tuple[Finding, ...]
    sent: Sent
    left_undone: str = ""


@dataclass(frozen=True, slots=True)
class Bench:
    """Where a guided part takes place.

    Attributes:
        line: The open line.
        rig: Its rig file.
        folder: Where ``captures/`` lies.
        person: Works the machine.
        now: Gives the time of day.
    """

    line: Line
    rig: Rig
    folder: Path
    person: Person
    now: Callable[[], datetime]

    def capture(self, observer: Observer) -> NDArray[np.float64]:
        """Capture until the observer has enough; numbers as received, shape (n, columns).

        Raises:
            NoDataError: No sample came.
            StoppedError: The person stopped it; what was captured is kept.
        """
        path = capture_until(
            self.line, self.rig, self.folder, observer, command="setup", now=self.now()
        )
        capture = read_capture(path)
        return held(np.column_stack([capture.values[name] for name in capture.columns]))


def tell_parts(bench: Bench, sent: Sent, names: Sequence[str], roles: Mapping[str, str]) -> Told:
    """Have parts worked one after the other.

    Args:
        bench: Where.
        sent: What the logger sends.
        names: Of the parts, in order.
        roles: Roles that were stated, or stand in the file, by part.
    """
    clock = _places(bench.rig, sent, lambda _: False)
    watch = parts.WorkWatch(bench.person, list(names), bench.line.columns, clock)
    seen = _widened(sent, bench.capture(watch))
    proposals = (parts.proposals_of(part, seen, roles) for part in watch.results)
    findings = tuple(parts.finding_on(part, seen, roles) for part in watch.results)
    return Told(tuple(chain.from_iterable(proposals)), findings, seen, watch.left_undone)


def tell_wheel(bench: Bench, sent: Sent) -> Told:
    """Have the wheel turned by hand."""
    skip = _places(bench.rig, sent, lambda channel: channel.role != "wheel")
    watch = turning.TurnedWatch(bench.person, skip)
    seen = _widened(sent, bench.capture(watch))
    proposals = tuple(turning.proposals_of(watch.found, seen))
    findings = tuple(turning.findings_on(watch.found, seen))
    return Told(proposals, findings, seen, "" if watch.found else turning.NAME)


def _places(rig: Rig, sent: Sent, of: Callable[[Channel], bool]) -> set[int]:
    """Places of the clock and of some channels, as far as they are sent."""
    columns = [channel.column for channel in rig.channels.values() if of(channel)]
    columns += [] if rig.time.column is None else [rig.time.column]
    return {place for column in columns if (place := sent.place(column)) is not None}


def tell_tilt(bench: Bench, sent: Sent) -> Told:
    """Have the machine stand level, then with its front raised."""
    skip = _places(bench.rig, sent, lambda channel: channel.role not in TILT_ROLES)
    stands, seen = [], []
    for asked in standing.POSES:
        watch = standing.StandWatch(bench.person, asked, skip)
        values = bench.capture(watch)
        stands.append(stand_of(values[-watch.still_rows :]))
        seen.append(values)
    tilt, wider = find_tilt(stands[0], stands[1], skip), _widened(sent, np.vstack(seen))
    findings = tuple(standing.findings_on(tilt, wider))
    return Told(tuple(standing.proposals_of(tilt, wider)), findings, wider)


def _widened(sent: Sent, values: NDArray[np.float64]) -> Sent:
    """What the logger sends, with the extremes of more readings."""
    all_values = np.vstack([sent.heard.values, values])
    return replace(sent, columns=columns_of(all_values, sent.names, sent.heard.units))
