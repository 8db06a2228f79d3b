"""NMEA 0183 transducer sentences: ``$--XDR,type,value,unit,name,...*hh``.

Source: NMEA 0183, sentence XDR (groups of type, measurement, unit and name; the checksum is the
exclusive or between ``$`` and ``*``); from memory.
"""

from __future__ import annotations

from calib.link.layouts.block import Kind
from calib.link.layouts.dialect import is_name
from calib.link.layouts.named import Value
from calib.link.layouts.numbers import NotARowError

_GROUP = 4


def parse_xdr(sentence: bytes) -> list[Value]:
    """Measurements of a transducer sentence by their names; by type and place where unnamed.

    Args:
        sentence: Without its checksum, which was right.

    Raises:
        NotARowError: It is another sentence, or its groups are not whole.
    """
    address, *fields = sentence.split(b",")
    if address[:1] != b"$" or address[3:] != b"XDR":
        raise NotARowError(Kind.OTHER)
    if not fields or len(fields) % _GROUP:
        raise NotARowError(Kind.COLUMNS)
    values = []
    for place in range(0, len(fields), _GROUP):
        kind, number, _, name = fields[place : place + _GROUP]
        shown = (name.strip() or b"%s%d" % (kind, place // _GROUP)).decode("utf-8", "replace")
        if not is_name(shown):
            raise NotARowError(Kind.TEXT)
        values.append(Value(shown, number))
    return values
