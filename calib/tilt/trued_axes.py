"""A truing of three axes, taken along when the rig file names those axes in another order."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from calib.store.rig import Channel, Truing

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class AxisTruing:
    """Force = matrix · (reading - bias), in the axes that the rig file names now.

    Attributes:
        bias_g: Bias of each axis, g, shape (3,).
        matrix: Scale and cross-axis terms, shape (3, 3).
    """

    bias_g: Array
    matrix: Array


def axis_name(channel: Channel) -> str:
    """An accelerometer's column with its sign, such as ``ay`` or ``-ay``."""
    return f"{'-' if channel.sign < 0 else ''}{channel.column}"


def in_axes(truing: Truing, axes: tuple[str, str, str]) -> AxisTruing | None:
    """The truing for axes that may have been exchanged or turned over since.

    Args:
        truing: As ``calib poses`` wrote it.
        axes: What is accel-x, -y and -z now, as `axis_name` has it.

    Returns:
        The same truing in those axes; None where they are not the columns that were trued. A
        truing that names no columns is taken for these.

    Source: change of basis: with r' = P·r, bias' = P·bias and matrix' = P·matrix·Pᵀ.
    """
    bias, matrix = np.array(truing.bias), np.array(truing.matrix)
    if truing.columns is None:
        return AxisTruing(bias, matrix)
    turn = np.zeros((3, 3))
    for row, now in enumerate(axes):
        for place, then in enumerate(truing.columns):
            if now.lstrip("-") == then.lstrip("-"):
                turn[row, place] = 1.0 if now == then else -1.0
    if not np.array_equal(np.abs(turn).sum(axis=0), np.ones(3)):
        return None
    return AxisTruing(turn @ bias, turn @ matrix @ turn.T)
