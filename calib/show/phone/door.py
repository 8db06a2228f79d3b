"""Who is let in: whoever knows the address, asks this host by its own name, and only looks."""

from __future__ import annotations

import secrets
from dataclasses import dataclass, field
from enum import Enum
from typing import Final

TOKEN_BYTES: Final = 16
"""128 bits: nobody finds it by trying."""


class Granted(Enum):
    """The four requests that are granted; the value is the method, and the rest of the path."""

    PAGE = ("GET", "")
    PAGE_HEAD = ("HEAD", "")
    FRAMES = ("GET", "frames")
    FRAMES_HEAD = ("HEAD", "frames")


@dataclass(frozen=True, slots=True)
class Door:
    """What a request must know.

    Attributes:
        host: The name under which the page is served, as a browser sends it: address and port.
        token: The secret part of the path.
    """

    host: str
    token: str = field(default_factory=lambda: secrets.token_urlsafe(TOKEN_BYTES))

    @property
    def url(self) -> str:
        """The page's address."""
        return f"http://{self.host}/{self.token}/"

    def let_in(self, head: bytes) -> Granted | None:
        """What a request is granted; None for every other, whatever is wrong with it.

        Args:
            head: Request line and header lines, the empty line included.

        Source: RFC 9112, sections 3 and 5; a wrong host is what a rebound name sends.
        """
        first, *lines = head.removesuffix(b"\r\n\r\n").split(b"\r\n")
        line, _, version = first.rpartition(b" ")
        granted = [
            each for each, (method, rest) in ((each, each.value) for each in Granted)
            if secrets.compare_digest(line, f"{method} /{self.token}/{rest}".encode("ascii"))
        ]  # fmt: skip
        hosts = [
            value.strip() for key, _, value in (line.partition(b":") for line in lines)
            if key.lower() == b"host"
        ]  # fmt: skip
        known = version in (b"HTTP/1.1", b"HTTP/1.0") and hosts == [self.host.encode("ascii")]
        return granted[0] if granted and known else None
