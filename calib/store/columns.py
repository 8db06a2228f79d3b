"""Which column carries which channel."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from calib.errors import UsageError
from calib.store.capture import Capture
from calib.store.conversion import to_base
from calib.store.declared import refuse_wrong_unit
from calib.store.rig import Rig
from calib.store.text import neutral


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
    index = column_index(columns, wanted)
    if index is None:
        there = ", ".join(neutral(column, 20) for column in columns)
        raise UsageError(
            f"Channel {name!r} is column {wanted!r} in {rig.path}, and the logger sends no such "
            f"column; it sends: {there}.",
            "Mend 'column' in the rig file, or run 'calib setup'.",
        )
    return index


def has_column(columns: Sequence[str], rig: Rig, name: str) -> bool:
    """Whether the line carries channel ``name``."""
    return column_index(columns, rig.channel(name).column) is not None


def sent(capture: Capture, rig: Rig, name: str) -> NDArray[np.float64]:
    """A channel's numbers as they were sent, whether or not they can be in its unit; shape (n,).

    Raises:
        UsageError: There is no such channel or column.
    """
    return capture.values[capture.columns[require_column(capture.columns, rig, name)]]


def received(capture: Capture, rig: Rig, name: str) -> NDArray[np.float64]:
    """A channel's numbers as received; shape (n,).

    Raises:
        UsageError: There is no such channel or column, or its numbers cannot be in its unit.
    """
    values = sent(capture, rig, name)
    refuse_wrong_unit(rig, name, values)
    return values


def in_base_unit(capture: Capture, rig: Rig, name: str) -> NDArray[np.float64]:
    """A channel's readings in its base unit (V, deg, g ...); shape (n,).

    Raises:
        UsageError: There is no such channel or column.
    """
    return to_base(rig.channel(name), received(capture, rig, name))
