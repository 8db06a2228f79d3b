"""What a channel is on the machine, as far as its name tells."""

from __future__ import annotations

import re
from typing import get_args

from calib.store.rig import Role

VOLTAGE_ROLES: frozenset[Role] = frozenset(
    {"control", "supply", "switch", "temperature", "ambient", "pitch", "roll"}
)
"""Roles whose channel is, as a rule, a voltage that the logger converts."""

_WORDS: dict[str, Role] = {
    "throttle": "control",
    "regen": "control",
    "lever": "control",
    "brake": "switch",
    "switch": "switch",
    "rail": "supply",
    "supply": "supply",
    "motor": "temperature",
    "temperature": "temperature",
    "ambient": "ambient",
    "pitch": "pitch",
    "roll": "roll",
}


def role_by_name(name: str) -> Role | None:
    """The role that a channel's name speaks of; None where it speaks of none."""
    plain = name.casefold().replace("_", "-")
    exact: Role | None = next((role for role in get_args(Role) if role == plain), None)
    if exact is not None:
        return exact
    first = re.split(r"[-0-9]", plain, maxsplit=1)[0]
    return _WORDS.get(first)
