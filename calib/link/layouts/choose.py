"""The layout that a rig file names."""

from __future__ import annotations

from calib.link.layouts.delimited import Delimited
from calib.link.layouts.dialect import SEPARATORS
from calib.link.layouts.lines import Layout
from calib.link.layouts.named import Named, parse_dressed_pairs, parse_json, parse_pairs, parse_xdr
from calib.store.rig import Link

_NAMED = {"pairs": parse_pairs, "json": parse_json, "nmea": parse_xdr}
_MARKS = {None: None, "point": b".", "comma": b","}


def layout_for(link: Link, *, whole_start: bool) -> Layout:
    """A fresh decoder. What polled instruments answer comes as delimited lines.

    Args:
        link: ``[link]`` of the rig file.
        whole_start: The first byte begins a line: a file, not a port just opened.
    """
    xor = link.checksum == "xor" or link.layout == "nmea"
    if link.layout in _NAMED:
        dressed = parse_dressed_pairs if link.layout == "pairs" else None
        return Named(_NAMED[link.layout], whole_start=whole_start, xor=xor, parse_dressed=dressed)
    separator = None if link.separator is None else SEPARATORS[link.separator]
    mark = _MARKS[link.decimal]
    return Delimited(whole_start=whole_start, xor=xor, separator=separator, decimal=mark)
