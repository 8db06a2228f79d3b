"""Fuzz every layout, led by coverage: ``python -m tests.bench.fuzz [-max_total_time=SECONDS ...]``.

Needs atheris (``pip install atheris``), which is not among the test dependencies. Arguments are
libFuzzer's. Each input is fed whole and in two pieces: no crash, the same samples, no number that
is not finite, no row with another count of fields.
"""

from __future__ import annotations

import math
import sys

import atheris

with atheris.instrument_imports(include=["calib.link.layouts"]):
    from calib.link.layouts.choose import layout_for
    from calib.link.layouts.lines import Layout
    from calib.link.layouts.rows import Block
    from calib.store.rig import Link

LINKS = [
    Link(),
    Link(checksum="xor"),
    Link(separator="semicolon", decimal="comma"),
    Link(layout="pairs"),
    Link(layout="json"),
    Link(layout="nmea"),
    Link(separator="blank"),
]


class BrokenRuleError(Exception):
    """An input broke a rule."""


def decode(layout: Layout, *pieces: bytes) -> list[Block]:
    """Blocks of all pieces, and of the end."""
    return [*(layout.feed(piece, 0.0) for piece in pieces), layout.finish(0.0)]


def judge(data: bytes) -> None:
    """Decode one input whole and in two pieces, and hold the rules against it."""
    if len(data) < 3:
        return
    link = LINKS[data[0] % len(LINKS)]
    start, cut, body = bool(data[0] & 128), data[1], data[2:]
    whole = decode(layout_for(link, whole_start=start), body)
    parts = decode(layout_for(link, whole_start=start), body[:cut], body[cut:])
    rows = [row for block in whole for row in block.rows]
    numbers = [number for block in whole for number in block.numbers]
    if rows != [row for block in parts for row in block.rows]:
        raise BrokenRuleError("a split changed the samples")
    if numbers != [number for block in parts for number in block.numbers]:
        raise BrokenRuleError("a split changed the numbers")
    if not all(map(math.isfinite, numbers)):
        raise BrokenRuleError("a number is not finite")
    if [float(field) for row in rows for field in row.split(",")] != numbers:
        raise BrokenRuleError("text and numbers differ")


def main() -> None:
    """Run until libFuzzer's limits."""
    atheris.Setup(sys.argv, judge)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
