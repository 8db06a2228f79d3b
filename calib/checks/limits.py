"""The one table of limits of all checks, ``calib/data/limits.txt``, each with where it comes from.

A limit is what a finding's figure is held against; how a figure is found stands beside the method.
A limit that the user gives under ``[channels.X.limits]`` takes the table's place.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any, Final

from calib.book import entries
from calib.errors import RigError
from calib.store.rig import Channel, Rig
from calib.store.text import neutral


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit.

    Attributes:
        value: The figure, in ``unit``.
        unit: Its unit; "%" of the span unless ``meaning`` says otherwise.
        meaning: What is held against it.
        source: The document and section, "common practice, no source", or "own choice,
            because ...".
    """

    value: float
    unit: str
    meaning: str
    source: str


LIMITS: Final[dict[str, Limit]] = {
    name: Limit(float(each["value"]), each["unit"], each["meaning"], each["source"])
    for name, each in entries("limits").items()
    if name
}
"""Limits by name; the names are also the keys of ``[channels.X.limits]``."""


KEPT_DAYS: Final = 30.0
"""Age of evidence above which it is stale; own choice, because plugs, springs and floors change in
a month of building. It is of all evidence alike, so no rig file sets it; nor the next."""

AHEAD_MIN: Final = 5.0
"""How far ahead of the computer's clock evidence may be dated; own choice, because clocks that are
set by the network agree within seconds, by hand within minutes; what is dated later is not new, it
is odd."""


def limit(name: str, channel: Channel | None) -> float:
    """A limit's figure: the user's own for this channel, else the table's.

    Args:
        name: Its name in ``LIMITS``.
        channel: The channel that is judged; None where the rig file no longer has it.

    Source: see the table.
    """
    if channel is not None and name in channel.limits:
        return channel.limits[name]
    return LIMITS[name].value


def limit_of_all(name: str, channels: Iterable[Channel]) -> float:
    """A limit on what several channels share: the least that any of them gives.

    Args:
        name: Its name in ``LIMITS``.
        channels: The channels that share it.

    Source: see the table.
    """
    own = [channel.limits[name] for channel in channels if name in channel.limits]
    return min(own, default=LIMITS[name].value)


def limit_of_line(name: str, rig: Rig) -> float:
    """A limit on what all channels share (line, clock): the least that any of them gives."""
    return limit_of_all(name, rig.with_limit(name))


def tilt_limit(name: str, rig: Rig) -> float:
    """A limit on the tilt sensor, which is several channels: the least that any of them gives."""
    return limit_of_all(name, rig.tilt_channels.values())


def published() -> dict[str, Any]:
    """The table as ``calib schema limits`` prints it."""
    return {
        "title": "calib limits",
        "limits": [{"name": name, **asdict(each)} for name, each in LIMITS.items()],
    }


def refuse_unknown_limits(rig: Rig) -> None:
    """Refuse a limit in the rig file that nothing reads: it may be a typing slip.

    Raises:
        RigError: ``[channels.X.limits]`` names something that is not in the table.
    """
    for name, channel in rig.channels.items():
        for key in channel.limits:
            if key not in LIMITS:
                from difflib import get_close_matches

                near = get_close_matches(key, LIMITS, n=1)
                raise RigError(
                    f"{rig.path}: [channels.{neutral(name)}.limits] names "
                    f"{neutral(key)!r}, which is no limit.",
                    f"Did you mean {near[0]!r}?" if near else "'calib schema limits' lists them.",
                )
