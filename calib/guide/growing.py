"""Arrays that grow while a line is listened to."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


class Growing:
    """A float array that grows at its end in amortised constant time."""

    def __init__(self, start: int = 4096) -> None:
        """Reserve room for ``start`` numbers."""
        self._room = np.empty(start, dtype=np.float64)
        self._count = 0

    def extend(self, more: NDArray[np.float64]) -> None:
        """Append ``more``, of shape (m,)."""
        needed = self._count + more.shape[0]
        if needed > self._room.shape[0]:
            room = np.empty(max(needed, 2 * self._room.shape[0]), dtype=np.float64)
            room[: self._count] = self._room[: self._count]
            self._room = room
        self._room[self._count : needed] = more
        self._count = needed

    def __len__(self) -> int:
        """Count of numbers."""
        return self._count

    @property
    def array(self) -> NDArray[np.float64]:
        """All numbers so far, as a view; shape (n,)."""
        return self._room[: self._count]
