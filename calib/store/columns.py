"""Which column carries which channel, and whether its numbers can be what the rig file says."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from calib.errors import UsageError
from calib.store.capture import Capture
from calib.store.conversion import to_base
from calib.store.rig import Channel, Rig
from calib.store.text import neutral

Floats = NDArray[np.float64]

SHARE_WRONG = 0.01
"""Own choice: a garbled line now and then gives one wrong number; one in a hundred is the unit."""

MOST_PERCENT = 110.0
"""Own choice: a sender's percent may run a little past its ends."""

LARGEST_V, LARGEST_SHARE = 6.0, 1.1
"""Own choice: no hand control's sensor gives more volts, and no share is far above 1."""

MOST_G = 3.0
"""Own choice: the median of a capture in which a machine stands, is pushed, or is shaken by hand
stays below this many g."""

_USUAL_G = (("g", 1.0), ("m/s2", 9.80665), ("mg", 1000.0))
_NEAR_G = 0.15
"""Own choice: bias and scale of ordinary sensors together."""


def column_index(columns: Sequence[str], wanted: str | int) -> int | None:
    """Place of a column by header name or 0-based number; None where there is none."""
    if isinstance(wanted, int):
        return wanted if 0 <= wanted < len(columns) else None
    return columns.index(wanted) if wanted in columns else None


def require_column(columns: Sequence[str], rig: Rig, name: str) -> int:
    """Place of the column that carries channel ``name``.

    Raises:
        UsageError: The rig file has no such channel, or the line no such column.
    """
    wanted = rig.channel(name).column
    if (index := column_index(columns, wanted)) is None:
        there = ", ".join(neutral(column, 20) for column in columns)
        raise UsageError.of("no-such-column", name=name, wanted=wanted, path=rig.path, there=there)
    return index


def has_column(columns: Sequence[str], rig: Rig, name: str) -> bool:
    """Whether the line carries channel ``name``."""
    return column_index(columns, rig.channel(name).column) is not None


def sent(capture: Capture, rig: Rig, name: str) -> Floats:
    """A channel's numbers as they were sent, whether or not they can be in its unit; shape (n,).

    Raises:
        UsageError: There is no such channel or column.
    """
    return capture.values[capture.columns[require_column(capture.columns, rig, name)]]


def received(capture: Capture, rig: Rig, name: str) -> Floats:
    """A channel's numbers as received; shape (n,).

    Raises:
        UsageError: There is no such channel or column, or its numbers cannot be in its unit.
    """
    values = sent(capture, rig, name)
    refuse_wrong_unit(rig, name, values)
    return values


def in_base_unit(capture: Capture, rig: Rig, name: str) -> Floats:
    """A channel's readings in its base unit (V, deg, g ...); shape (n,).

    Raises:
        UsageError: There is no such channel or column.
    """
    return to_base(rig.channel(name), received(capture, rig, name))


def refuse_wrong_unit(rig: Rig, name: str, values: Floats) -> None:
    """Refuse numbers that the declared unit cannot give, and name the unit that they look like.

    Args:
        rig: The rig file.
        name: The channel.
        values: Numbers as received, shape (n,).

    Raises:
        UsageError: Counts with fractions or above full scale, or shares above the whole.
    """
    channel = rig.channels[name]
    found = what_is_odd(channel, values[np.isfinite(values)])
    if found is None:
        return
    what, example, unit = found
    raise UsageError(
        f"Channel {neutral(name)!r} has the unit {channel.unit!r} in {rig.path}, and its readings "
        f"{what}, such as {example:g}: {unit!r} by the look of them.",
        f"Give unit = {unit!r} for it, or mend full_scale; then judge the same file with --from.",
    )


def refuse_wrong_gravity(
    rig: Rig, names: tuple[str, ...], received: Floats, force_g: Floats
) -> None:
    """Refuse an accelerometer whose force is far above one g, and name what it may be in.

    Args:
        rig: The rig file.
        names: Its three channels.
        received: Their numbers as received, shape (n, 3).
        force_g: The same in g, shape (n, 3).

    Raises:
        UsageError: The median force is above `MOST_G`.
    """
    if not len(force_g):
        return
    force = float(np.median(np.linalg.norm(force_g, axis=1)))
    if not force > MOST_G:
        return
    length = float(np.median(np.linalg.norm(received, axis=1)))
    unit = rig.channels[names[0]].unit
    raise UsageError(
        f"The accelerometer ({', '.join(neutral(name) for name in names)}) shows {force:,.3g} g "
        f"by the unit {unit!r} of {rig.path}, and at rest it shows one: |a| as received is "
        f"{length:,.5g}, {_looks_like(length)}.",
        "Mend 'unit' of its channels; for counts give counts_per_g and zero_count too.",
    )


def _looks_like(length: float) -> str:
    """What an accelerometer's |a| at rest may be in."""
    for unit, usual in _USUAL_G:
        if abs(length / usual - 1.0) <= _NEAR_G:
            return f"which looks like {unit}"
    return f"which looks like counts, some {length:.0f} of them a g or with a zero_count"


def what_is_odd(channel: Channel, values: Floats) -> tuple[str, float, str] | None:
    """What cannot be about some numbers, an example, and the unit that fits; None if all can."""
    if channel.unit == "count":
        broken = values != np.floor(values)
        if _many(broken):
            return "have fractions", float(values[broken][0]), _unit_of(values)
        top = channel.full_scale
        if top is not None and channel.counts_per_g is None and _many(values > top):
            return f"go above full_scale = {top:g}", float(values.max()), "mV"
    most = {"percent": MOST_PERCENT, "share": LARGEST_SHARE}.get(channel.unit)
    if most is not None and _many(values > most):
        likely = "percent" if float(values.max()) <= MOST_PERCENT else "count"
        return "go above the whole", float(values.max()), likely
    return None


def _many(flags: NDArray[np.bool_]) -> bool:
    return bool(flags.any()) and float(flags.mean()) > SHARE_WRONG


def _unit_of(values: Floats) -> str:
    """The unit whose usual span holds numbers with fractions."""
    most = float(np.quantile(values, 0.99))
    if most <= LARGEST_SHARE:
        return "share"
    return "V" if most <= LARGEST_V else "percent" if most <= MOST_PERCENT else "mV"
