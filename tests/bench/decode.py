"""Decode six columns from memory: ``python -m tests.bench.decode``.

MB/s of calib's decoder (with validation, text rows kept, numbers as an array) beside the plain
loop ``tuple(map(float, line.split()))``, numpy.loadtxt, pandas.read_csv and pyarrow.csv, all in one
run; then small batches, in which both give Python numbers. The plain loop gets the
text with blanks, for which ``split()`` is made; the others get commas.
"""

from __future__ import annotations

import io
import time
from collections.abc import Callable

import numpy as np
import pandas as pd
from pyarrow import csv as arrow_csv

from calib.link.layouts.delimited import Delimited
from tests.bench.priority import take_realtime
from tests.blocks import values_of

LINES = 200_000
REPEATS = 5


def make_text(kind: str, lines: int) -> bytes:
    """A counter and five columns: counts, or accelerations and volts with decimals."""
    rng = np.random.default_rng(5)
    times = 1_234_567 + 10 * np.arange(lines)
    if kind == "counts":
        counts = rng.integers(0, 1024, (lines, 5))
        rows = [
            f"{t},{a},{b},{c},{d},{e}" for t, (a, b, c, d, e) in zip(times, counts, strict=True)
        ]
    else:
        reals = rng.normal(0, 2, (lines, 5))
        rows = [
            f"{t},{a:.4f},{b:.4f},{c:.4f},{d:.3f},{e:.3f}"
            for t, (a, b, c, d, e) in zip(times, reals, strict=True)
        ]
    return ("\n".join(rows) + "\n").encode()


def batches(text: bytes, lines: int) -> list[bytes]:
    """The text in pieces of some lines."""
    cut = text.splitlines(keepends=True)
    return [b"".join(cut[place : place + lines]) for place in range(0, len(cut), lines)]


def best_s(run: Callable[[], object]) -> float:
    """Shortest of some runs, in CPU seconds."""
    times = []
    for _ in range(REPEATS):
        start_s = time.process_time()
        run()
        times.append(time.process_time() - start_s)
    return min(times)


def plain(pieces: list[bytes]) -> Callable[[], object]:
    """The plain loop over batches."""

    def run() -> None:
        for piece in pieces:
            [tuple(map(float, line.split())) for line in piece.splitlines()]

    return run


def ours(pieces: list[bytes], *, arrays: bool) -> Callable[[], object]:
    """Calib's decoder over batches."""

    def run() -> None:
        decoder = Delimited(whole_start=True)
        for piece in pieces:
            block = decoder.feed(piece, 0.0)
            if arrays:
                values_of(block)

    return run


def whole_readers(text: bytes) -> dict[str, Callable[[], object]]:
    """Readers of whole files, none of which can be fed piece by piece."""
    options = arrow_csv.ReadOptions(autogenerate_column_names=True, use_threads=False)
    return {
        "numpy.loadtxt, whole": lambda: np.loadtxt(io.BytesIO(text), delimiter=","),
        "pandas.read_csv, whole": lambda: pd.read_csv(io.BytesIO(text), header=None),
        "pyarrow.csv, whole, one thread": lambda: arrow_csv.read_csv(
            io.BytesIO(text), read_options=options
        ),
    }


def compare(kind: str) -> None:
    """All readers on one kind of text, then small batches."""
    text = make_text(kind, LINES)
    blanks = text.replace(b",", b" ")
    thousands = batches(text, 1000)
    dirty = [piece + b"# a comment\n" for piece in thousands]
    readers = {
        "plain loop, 1000 lines a batch": plain(batches(blanks, 1000)),
        "calib, 1000 lines, arrays": ours(thousands, arrays=True),
        "calib, 1000 lines, lists": ours(thousands, arrays=False),
        "calib, 1000 lines, blanks, arrays": ours(batches(blanks, 1000), arrays=True),
        "calib, 1000 lines and one comment": ours(dirty, arrays=True),
        **whole_readers(text),
    }
    print(f"{kind}: {LINES} lines, {len(text) / LINES:.1f} bytes each")
    plain_s = 0.0
    for name, run in readers.items():
        took_s = best_s(run)
        plain_s = plain_s or took_s
        rate = len(text) / took_s / 1e6
        print(f"  {name:<34} {rate:8.1f} MB/s   {plain_s / took_s:6.2f} times plain")
    for lines in (1, 3, 10):
        few = batches(text, lines)[: 20_000 // lines]
        few_s = best_s(plain([piece.replace(b",", b" ") for piece in few]))
        lists, arrays = (best_s(ours(few, arrays=kind)) / few_s for kind in (False, True))
        name = f"calib, {lines} a batch, time over plain's"
        print(f"  {name:<34} {lists:8.2f} as lists, {arrays:.2f} as arrays")


def main() -> None:
    """Both kinds of text."""
    print(f"CPU time, shortest of {REPEATS}; {take_realtime()}")
    for kind in ("counts", "decimals"):
        compare(kind)


if __name__ == "__main__":
    main()
