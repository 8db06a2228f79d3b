"""Which layout a logger sends in: each is tried on the bytes, and what decodes most wins."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import msgspec

from calib.errors import NoDataError
from calib.link.layouts.choose import layout_for
from calib.link.layouts.cleaning import fault_in
from calib.link.layouts.delimited import Delimited
from calib.link.layouts.dialect import SEPARATORS
from calib.link.layouts.lines import LineCutter
from calib.link.layouts.rows import HARMLESS, Floats, Kind, joined
from calib.link.spool import Chunk
from calib.store.files import refused_as
from calib.store.rig import Link

GOOD_SHARE = 0.9
"""Share of lines that must decode for a layout to be taken without a doubt: own choice; a sound
line loses its first line and now and then one to noise."""

LEAST_SHARE = 0.5
"""Share of lines below which nothing is said to be found: own choice, because a wrong layout that
decodes every other line has not been seen."""

MOST_BYTES = 2**22
"""Bytes of a file that are looked at: own choice, an hour of an ordinary logger."""

TELLING_BYTES = 2**15
"""Bytes of a file by which its layout is told: own choice, some hundreds of lines."""

_CHECKSUMS: tuple[Literal["xor"] | None, ...] = (None, "xor")
_NAMED_LAYOUTS: tuple[Literal["pairs", "json"], ...] = ("pairs", "json")
_WORDS = {separator: word for word, separator in SEPARATORS.items()}


@dataclass(frozen=True, slots=True)
class Stated:
    """What the person said of the lines; None where it is to be found out.

    Attributes:
        layout: One of the layouts that only listen.
        checksum: ``xor`` or ``none``.
        separator: The rig file's word for it.
        decimal: ``point`` or ``comma``.
    """

    layout: Literal["delimited", "pairs", "json", "nmea"] | None = None
    checksum: Literal["xor", "none"] | None = None
    separator: Literal["comma", "semicolon", "tab", "blank"] | None = None
    decimal: Literal["point", "comma"] | None = None


@dataclass(frozen=True, slots=True)
class Heard:
    """What one layout made of the bytes.

    Attributes:
        link: Layout, checksum, separator, decimal mark and header as found; no port.
        names: Column names as the logger gave them, untrusted; None where it gave none.
        values: Numbers as received, shape (n, columns); NaN where missing.
        arrival_s: When each came by the computer's clock, in s; shape (n,).
        lines: Lines that came, blank ones left out.
        rejected: Those of them that are neither samples nor harmless.
        first_lost: The first of those, untrusted; empty where there is none.
        remarks: What had to be cleaned, in our words.
        stamped: Places of columns that hold a wall clock.
        units: Units that stand behind the numbers, by place, untrusted.
    """

    link: Link
    names: tuple[str, ...] | None
    values: Floats
    arrival_s: Floats
    lines: int
    rejected: int
    first_lost: bytes = b""
    remarks: tuple[str, ...] = ()
    stamped: frozenset[int] = frozenset()
    units: Mapping[int, str] = field(default_factory=dict)

    @property
    def samples(self) -> int:
        """Count of samples."""
        return int(self.values.shape[0])

    @property
    def share(self) -> float:
        """Share of the lines that were understood, 0 to 1; 0 without a sample."""
        return 1.0 - self.rejected / self.lines if self.samples and self.lines else 0.0


def best_layout(chunks: Sequence[Chunk], stated: Stated, *, whole_start: bool) -> Heard | None:
    """What the layout that decodes most made of the bytes; None where none decodes LEAST_SHARE.

    Args:
        chunks: Bytes in the order in which they came.
        stated: What need not be found out.
        whole_start: The first byte begins a line.
    """
    best = likeliest(chunks, stated, whole_start=whole_start)
    return best if best.share >= LEAST_SHARE else None


def likeliest(chunks: Sequence[Chunk], stated: Stated, *, whole_start: bool) -> Heard:
    """What the layout that decodes most, cleans least and keeps names made of the bytes."""
    links = (link for link in _candidates(stated) if stated.layout in (None, link.layout))
    heard = (decode(link, chunks, whole_start=whole_start) for link in links)
    return max(heard, key=_likelihood)


def _likelihood(heard: Heard) -> tuple[float, int, bool, int]:
    """What speaks for a layout: a name in each line, which others take for a prefix, among it."""
    named = heard.link.layout != "delimited"
    return heard.share, -len(heard.remarks), named, heard.samples


def read_log(path: Path, stated: Stated) -> Heard:
    """What a text log holds.

    Raises:
        NoDataError: It cannot be read, or no layout fits it.
    """
    hint = "Name a text log with --from."
    with refused_as(NoDataError, f"{path} cannot be read", hint), path.open("rb") as file:
        data = file.read(MOST_BYTES)
    if not data.endswith((b"\n", b"\r", b"\0")):
        data += b"\n"  # the last line of a file ends with the file
    heard = likeliest([Chunk(data[:TELLING_BYTES], 0.0)], stated, whole_start=True)
    if len(data) > TELLING_BYTES:
        heard = decode(heard.link, [Chunk(data, 0.0)], whole_start=True)
    if heard.share < LEAST_SHARE or heard.samples < 2:
        raise NoDataError.of("no-layout-fits", path=path, fault=fault_in(heard.first_lost))
    return heard


def decode(link: Link, chunks: Sequence[Chunk], *, whole_start: bool) -> Heard:
    """What one layout makes of the bytes."""
    layout = layout_for(link, whole_start=whole_start)
    blocks = [layout.feed(chunk.data, chunk.arrival_s) for chunk in chunks]
    blocks.append(layout.finish(chunks[-1].arrival_s if chunks else 0.0))
    harmless = HARMLESS | {Kind.PARTIAL}
    rejected = (line for block in blocks for line in block.rejected)
    lost = [line for line in rejected if line.kind not in harmless]
    values, arrival_s = joined(blocks, layout.width or 0)
    cutter = LineCutter(from_start=whole_start)
    text = b"".join(cutter.feed(chunk.data) for chunk in chunks) + cutter.take_rest()
    return Heard(
        link=_with_dialect(link, layout) if isinstance(layout, Delimited) else link,
        names=layout.names,
        values=values,
        arrival_s=arrival_s,
        lines=sum(1 for line in text.splitlines() if line.strip()),
        rejected=len(lost),
        first_lost=lost[0].text if lost else b"",
        remarks=tuple(remark for block in blocks for remark in block.remarks),
        stamped=layout.stamped,
        units=layout.units,
    )


def _with_dialect(link: Link, layout: Delimited) -> Link:
    """The link with what a delimited decoder found out."""
    separator = None if layout.separator is None else _WORDS[layout.separator]
    decimal = {b".": "point", b",": "comma"}.get(layout.decimal_mark)
    header = layout.names is not None
    return msgspec.structs.replace(link, separator=separator, decimal=decimal, header=header)


def _candidates(stated: Stated) -> Iterator[Link]:
    """Every way of reading that the stated checksum and dialect leave open, the plainest first."""
    sums = [each for each in _CHECKSUMS if stated.checksum in (None, each or "none")]
    for checksum in sums:
        yield Link(checksum=checksum, separator=stated.separator, decimal=stated.decimal)
    for layout in _NAMED_LAYOUTS:
        for checksum in sums:
            yield Link(layout=layout, checksum=checksum)
    yield Link(layout="nmea")
