"""Wall clocks written as text: dates and times of day, as seconds.

Source: ISO 8601 for the order year, month, day and for the zone; the other forms are common
practice. Where day and month could be either, the date is left out and only the time of day counts.
"""

from __future__ import annotations

import re
from calendar import timegm

_DATE = (
    rb"(?:(?P<Y>\d{4})(?P<dash>[-/.]?)(?P<M>[01]\d)(?P=dash)(?P<D>[0-3]\d)"
    rb"|(?P<d>[0-3]?\d)\.(?P<m>[01]?\d)\.(?P<y>\d{4}|\d{2})"
    rb"|(?P<loose>[0-3]?\d[/-](?:[0-3]?\d|[A-Za-z]{3})[/-](?:\d{4}|\d{2})))"
)
_TIME = (
    rb"(?P<h>[0-2]?\d):(?P<min>[0-5]\d)(?::(?P<s>[0-6]\d)(?:[.,:](?P<frac>\d{1,9}))?)?"
    rb"(?:\s?(?P<half>[AaPp])\.?[Mm]\.?)?"
    rb"(?P<zone>Z|\s?(?:UTC|GMT)|[+-][01]\d:?[0-5]\d)?"
)
_BASIC = rb"(?P<compact>\d{8}T\d{6}(?:[.,]\d{1,9})?(?:Z|[+-]\d{4})?)"
STAMP = re.compile(rb"(?:" + _BASIC + rb"|(?:" + _DATE + rb"(?:[T_]|,?\s{1,3}))?" + _TIME + rb")")
"""A date and a time of day, or a time of day alone."""

_COMPACT = re.compile(rb"^(\d{4})(\d\d)(\d\d)T(\d\d)(\d\d)")
_NOON = 12


def stamp_s(text: bytes) -> float | None:
    """Seconds of a stamp: since 1970 in UTC where it has a date, else since midnight.

    Args:
        text: The whole field. Without a zone a date is read as if it were UTC.

    Returns:
        None where it is no stamp.
    """
    found = STAMP.fullmatch(text)
    return None if found is None else seconds_of(found)


def seconds_of(found: re.Match[bytes]) -> float | None:
    """Seconds of a stamp that was found; None where it names no time that there is."""
    if found["compact"] is not None:
        return stamp_s(_COMPACT.sub(rb"\1-\2-\3T\4:\5:", found["compact"]))
    hour = int(found["h"])
    if found["half"] is not None:
        if not 1 <= hour <= _NOON:
            return None
        hour = hour % _NOON + (_NOON if found["half"] in b"Pp" else 0)
    if hour > 23 or (found["s"] is None and found["half"] is None and found["Y"] is None):
        return None
    day_s = hour * 3600 + int(found["min"]) * 60 + int(found["s"] or 0)
    part_s = float(b"0." + (found["frac"] or b"0"))
    year, month, day = _date_of(found)
    if year is None:
        return day_s + part_s
    if not (1 <= month <= 12 and 1 <= day <= 31):
        return None
    whole_s = timegm((year, month, day, 0, 0, 0)) + day_s - _zone_s(found["zone"])
    return whole_s + part_s


def _date_of(found: re.Match[bytes]) -> tuple[int | None, int, int]:
    """Year, month and day; no year where there is no date, or none that is sure."""
    if found["Y"] is not None:
        return int(found["Y"]), int(found["M"]), int(found["D"])
    if found["y"] is not None:
        year = int(found["y"])
        return year + (2000 if year < 100 else 0), int(found["m"]), int(found["d"])
    return None, 0, 0


def _zone_s(zone: bytes | None) -> int:
    """How far a zone is ahead of UTC, s."""
    if zone is None or zone[:1] not in (b"+", b"-"):
        return 0
    digits = zone[1:].replace(b":", b"")
    ahead_s = int(digits[:2]) * 3600 + int(digits[2:]) * 60
    return -ahead_s if zone[:1] == b"-" else ahead_s


def stamp_text(seconds: float) -> bytes:
    """Seconds as they are kept in place of a stamp."""
    return b"%.6f" % seconds if seconds % 1 else b"%d" % seconds
