"""A text log or a capture played back as if its logger were on the line."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import chain
from pathlib import Path

from msgspec import structs

from calib.errors import NoDataError
from calib.link.assembly import Assembler, column_names
from calib.link.layouts.choose import layout_for
from calib.link.layouts.cleaning import fault_in
from calib.link.layouts.rows import Block, joined
from calib.store.capture import TIME_COLUMNS, was_without_clock
from calib.store.files import refused_as
from calib.store.rig import Rig
from calib.store.samples import Samples

READ_BYTES = 2**16
"""Bytes in one read: own choice; some two thousand lines."""


class Replay:
    """A file as a line; it goes through the decoder and the clock that a live line goes through.

    A log that has no arrival times gets the device's time for them. In a capture of ours both
    times are taken as they stand, unless it had no clock and the rig file now gives its rate.

    Args:
        path: A capture, or any text log in the rig's layout.
        rig: What its columns are.

    Attributes:
        columns: Names of the columns of ``Samples.values``, in order.

    Raises:
        NoDataError: It is missing, unreadable, or holds no decodable sample.
        UsageError: A column that the rig file needs is not in it.
    """

    def __init__(self, path: Path, rig: Rig) -> None:
        """Read on to the first sample, so that the columns are known."""
        self._path = path
        self._layout = layout_for(rig.link, whole_start=True)
        self._rest = self._read()
        self._opening: list[Block] = []
        for block in self._rest:
            self._opening.append(block)
            if block.rows:
                break
        else:
            lost = (line.text for block in self._opening for line in block.rejected)
            raise NoDataError.of(
                "log-without-sample", path=path, fault=fault_in(next(filter(None, lost), b""))
            )
        names = self._layout.names
        self._is_capture = names is not None and names[:2] == TIME_COLUMNS
        self._own_times = self._is_capture and not gets_a_rate(path, rig)
        if names is not None and self._is_capture:
            self.columns = names[len(TIME_COLUMNS) :]
        else:
            self.columns = column_names(names, self._layout.width or 0, rig)
        self._assembler = Assembler(rig, self.columns, stamped=self._layout.stamped, live=False)

    def blocks(self) -> Iterator[Samples]:
        """The whole file, in runs of some thousand samples."""
        for block in chain(self._opening, self._rest):
            yield self._samples(block)
        yield self._assembler.take([], final=True)

    def _read(self) -> Iterator[Block]:
        """Every block of the file."""
        hint = "Name another file with --from FILE."
        refused = refused_as(NoDataError, f"{self._path} cannot be read", hint)
        with refused, self._path.open("rb") as file:
            while chunk := file.read(READ_BYTES):
                yield self._layout.feed(chunk, math.nan)
        yield self._layout.finish(math.nan)

    def _samples(self, block: Block) -> Samples:
        """Samples of a log; of a capture of ours without its times, or by them."""
        if self._is_capture:
            both, _ = joined([block], len(TIME_COLUMNS) + len(self.columns))
            values = both[:, len(TIME_COLUMNS) :]
            rows = [row.split(",", len(TIME_COLUMNS))[-1] for row in block.rows]
            if self._own_times:
                return Samples(time_s=both[:, 0], arrival_s=both[:, 1], values=values, rows=rows)
            numbers = values.ravel().tolist()
            block = structs.replace(block, numbers=numbers, rows=rows, remarks=[])
        samples = self._assembler.take([block])
        return replace(samples, arrival_s=samples.time_s)


def gets_a_rate(path: Path, rig: Rig) -> bool:
    """Whether a capture that was taken without a clock is now given its rate.

    Args:
        path: A capture of ours.
        rig: With the rate, or without.
    """
    return rig.time.rate_hz is not None and was_without_clock(path)
