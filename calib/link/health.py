"""Whether a line gives anything usable, and in which words to say that it does not."""

from __future__ import annotations

import string

from calib.errors import PortError
from calib.link.layouts.rows import HARMLESS, Block
from calib.link.transport import shared_port_error
from calib.store.text import neutral

PATIENCE_S = 5.0
"""Seconds without one decodable sample until the line is given up: the contract's exit code 3."""

GARBAGE_SHARE = 0.15
"""Share of unprintable bytes that speaks for a wrong rate: own choice. At half the rate about
half the bytes come out unprintable; text that is merely not understood has none."""

MOSTLY = 0.75
"""Share of lost lines from which a line is mostly garbage: own choice; at that share neither a
rest nor a travel can be believed."""

A_LINE = 64
"""Bytes that may be left of a line that was cut: own choice."""

_TEXT = string.printable.encode()


def unprintable(data: bytes) -> int:
    """How many bytes no text has."""
    return len(data.translate(None, _TEXT))


class Health:
    """Watches one line, stretch by stretch of PATIENCE_S.

    Args:
        port: As given, for the words.
        baud: The rate in use, for the words.
        now_s: When the watch begins, by the computer's monotonic clock.
    """

    def __init__(self, port: str, baud: int, now_s: float) -> None:
        """The first stretch begins now."""
        self._port = port
        self._baud = baud
        self._last_line = b""
        self.restart(now_s)

    def restart(self, now_s: float) -> None:
        """What was seen before does not count: nobody listened, or the line was away."""
        self._last_sample_s = now_s
        self._has_spoken = False
        self._bytes_since = 0
        self._lost_since = 0
        self._begin(now_s)

    def saw(self, data: bytes, block: Block, now_s: float) -> None:
        """Bytes came, and this was made of them."""
        lost = [line.text for line in block.rejected if line.kind not in HARMLESS]
        self._bytes_since = 0 if block.rows else self._bytes_since + len(data)
        self._lost_since = 0 if block.rows else self._lost_since + len(lost)
        self._bytes += len(data)
        self._odd_bytes += unprintable(data)
        self._samples += len(block.rows)
        self._rejected += len(lost)
        self._last_line = lost[-1] if lost else self._last_line
        if block.rows:
            self._last_sample_s = now_s
            self._has_spoken = True

    def is_quiet(self, now_s: float, longest_s: float) -> bool:
        """Whether a line that gave samples has just gone silent, for no longer than ``longest_s``.

        That is a cable or a switch, and a person who is there puts it right.
        """
        quiet_s = now_s - self._last_sample_s
        return self._has_spoken and self._bytes_since < A_LINE and quiet_s < longest_s

    def judge(self, now_s: float) -> None:
        """Look at the stretch that ends now.

        Raises:
            PortError: Nothing usable came in it, or next to nothing.
        """
        if now_s - self._last_sample_s >= PATIENCE_S:
            raise self._silence() if self._has_ceased else self._problem()
        if now_s - self._since_s >= PATIENCE_S:
            if self._rejected and (shared := shared_port_error(self._port)) is not None:
                raise shared
            if self._garbled and self._rejected > MOSTLY * (self._rejected + self._samples):
                raise self._problem()
            self._begin(now_s)

    @property
    def _has_ceased(self) -> bool:
        """Whether nothing came since the last sample but the rest of a line that was cut there."""
        is_rest = self._has_spoken and not self._lost_since and self._bytes_since < A_LINE
        return not self._bytes_since or is_rest

    def _silence(self) -> PortError:
        """Nothing came since the last sample, however long that was waited for."""
        port = neutral(self._port)
        return PortError.of("silent", port=port, patience_s=PATIENCE_S, baud=self._baud)

    def _problem(self) -> PortError:
        """What is wrong with what comes, in words that say what to do."""
        port = neutral(self._port)
        if self._garbled:
            return PortError.of(
                "garbage", port=port, baud=self._baud, odd=self._odd_bytes, received=self._bytes
            )
        line = f"; the last line was: {neutral(self._last_line, 60)}" if self._last_line else ""
        return PortError.of("text-without-sample", port=port, patience_s=PATIENCE_S, line=line)

    @property
    def _garbled(self) -> bool:
        return self._odd_bytes > GARBAGE_SHARE * self._bytes

    def _begin(self, now_s: float) -> None:
        self._since_s = now_s
        self._bytes = self._odd_bytes = self._samples = self._rejected = 0
