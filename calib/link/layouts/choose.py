"""The layout that a rig file names."""

from __future__ import annotations

from calib.link.layouts.block import Layout
from calib.link.layouts.delimited import Delimited
from calib.link.layouts.dialect import SEPARATORS
from calib.store.rig import Link


def layout_for(link: Link, *, whole_start: bool) -> Layout:
    """A fresh decoder.

    Args:
        link: ``[link]`` of the rig file.
        whole_start: The first byte begins a line: a file, not a port just opened.
    """
    return Delimited(
        whole_start=whole_start,
        xor=link.checksum == "xor",
        separator=None if link.separator is None else SEPARATORS[link.separator],
        decimal={None: None, "point": b".", "comma": b","}[link.decimal],
    )
