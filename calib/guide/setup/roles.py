"""What a channel is on the machine, as far as its name tells."""

from __future__ import annotations

import re
from typing import get_args

from calib.store.rig import Role

VOLTAGE_ROLES: frozenset[Role] = frozenset(
    {"control", "supply", "switch", "temperature", "ambient", "pitch", "roll"}
)
"""Roles whose channel is, as a rule, a voltage that the logger converts."""

_NAMED: dict[str, Role] = {role: role for role in get_args(Role)}
_SPOKEN: dict[Role, str] = {
    "control": "throttle regen lever",
    "switch": "brake switch",
    "supply": "rail supply",
    "temperature": "motor temperature",
    "ambient": "ambient",
    "pitch": "pitch",
    "roll": "roll",
    "wheel": "wheel",
}
_WORDS = {word: role for role, words in _SPOKEN.items() for word in words.split()}


def role_by_name(name: str) -> Role | None:
    """The role that a channel's name speaks of; None where it speaks of none."""
    plain = name.casefold().replace("_", "-")
    first = re.split(r"[-0-9]", plain, maxsplit=1)[0]
    return _NAMED.get(plain) or _WORDS.get(first)


_PLAIN = re.compile(
    r"(?P<part>throttle|regen|pitch|roll|wheel)|a(?P<short>[xyz])"
    r"|acc(?:el(?:eration|erometer)?)?[ _-]?(?P<axis>[xyz])"
)
_UNIT = re.compile(
    r"[ _]*[\[(]?(?:mv|v|volts?|deg|degrees|g|mg|m/s2|pct|percent|%|counts?|pulses|raw)?[\])]?$"
)


def part_by_header(column: str) -> tuple[str, Role] | None:
    """Name and role of the channel that a column's own name plainly speaks of; None for others.

    Args:
        column: As the logger calls it: ``Throttle (V)``, ``acc_x``.
    """
    found = _PLAIN.match(column.strip().casefold())
    if found is None or not _UNIT.fullmatch(column.strip().casefold(), found.end()):
        return None
    axis = found["axis"] or found["short"]
    if axis is not None:
        return f"accel_{axis}", _NAMED[f"accel-{axis}"]
    return found["part"], _WORDS[found["part"]]
