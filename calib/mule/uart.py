"""What a receiver set to another speed makes of a serial line's bits."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

BITS_PER_BYTE = 10  # start, eight data bits with the lowest first, stop


def heard(sent: bytes, sent_baud: float, heard_baud: float) -> bytes:
    """The bytes that a receiver at another speed reads: mostly wrong ones beyond a few per cent.

    The receiver waits for a falling edge and samples each bit in its middle, by its own clock.
    """
    levels = _levels(sent)
    per_bit = sent_baud / heard_baud  # sent bits that pass during one bit of the receiver
    falling = np.flatnonzero((levels[:-1] == 1) & (levels[1:] == 0)) + 1
    out = bytearray()
    at = 0.0
    while True:
        place = int(np.searchsorted(falling, at))
        if place == len(falling):
            return bytes(out)
        start = float(falling[place])
        middles = start + per_bit * (np.arange(1, 9) + 0.5)
        index = np.minimum(middles.astype(np.int64), len(levels) - 1)
        out.append(int(np.packbits(levels[index], bitorder="little")[0]))
        at = start + per_bit * (BITS_PER_BYTE - 0.5)


def _levels(sent: bytes) -> NDArray[np.uint8]:
    """The line's level in each bit time, idle (high) before and after."""
    data = np.unpackbits(np.frombuffer(sent, dtype=np.uint8)[:, None], axis=1, bitorder="little")
    framed = np.ones((len(sent), BITS_PER_BYTE), dtype=np.uint8)
    framed[:, 0] = 0
    framed[:, 1:9] = data
    idle = np.ones(BITS_PER_BYTE, dtype=np.uint8)
    return np.concatenate([idle, framed.ravel(), idle])
