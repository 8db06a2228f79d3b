"""Blocks of a layout as arrays."""

from __future__ import annotations

from calib.link.layouts.rows import Block, Floats, joined


def values_of(block: Block) -> Floats:
    """Numbers of a block, shape (lines, columns); (0, 0) without a line."""
    return joined([block], len(block.numbers) // len(block.rows) if block.rows else 0)[0]
