"""Lines that end in `*hh`: the exclusive or of the bytes before the star.

Source: NMEA 0183 (the dollar sign or exclamation mark at the start is left out of the sum);
from memory, checked against published sentences in the tests.
"""

from __future__ import annotations

from functools import reduce
from operator import xor


def checksum(payload: bytes) -> int:
    """Exclusive or of all bytes, 0 to 255."""
    return reduce(xor, payload, 0)


def verified(line: bytes) -> bytes | None:
    """The line without its `*hh`, or None where the checksum is missing or wrong."""
    payload, star, digits = line.rstrip(b" ").rpartition(b"*")
    if star != b"*" or len(digits) != 2 or not digits.isalnum():
        return None
    try:
        told = int(digits, 16)
    except ValueError:
        return None
    summed = payload[1:] if payload[:1] in (b"$", b"!") else payload
    return payload if told == checksum(summed) else None
