"""Who is let in: whoever knows the address, asks this host by its own name, and only looks."""

from __future__ import annotations

import secrets
from dataclasses import dataclass, field
from enum import Enum
from typing import Final

TOKEN_BYTES: Final = 16
"""128 bits: nobody finds it by trying."""


class Wanted(Enum):
    """What a request may be for; the value is the rest of its path."""

    PAGE = ""
    FRAMES = "frames"


@dataclass(frozen=True, slots=True)
class Request:
    """A request that is granted: what for, and whether its head alone is wanted."""

    wanted: Wanted
    head_only: bool


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

    def let_in(self, head: bytes) -> Request | None:
        """What a request is granted; None for every other, whatever is wrong with it.

        Args:
            head: Request line and header lines, the empty line included.

        Source: RFC 9112, sections 3 and 5; a wrong host is what a rebound name sends.
        """
        first, *lines = head.removesuffix(b"\r\n\r\n").split(b"\r\n")
        method, _, rest = first.partition(b" ")
        target, _, version = rest.partition(b" ")
        wanted = [
            each for each in Wanted
            if secrets.compare_digest(target, f"/{self.token}/{each.value}".encode("ascii"))
        ]  # fmt: skip
        hosts = [
            value.strip() for key, _, value in (line.partition(b":") for line in lines)
            if key.lower() == b"host"
        ]  # fmt: skip
        allowed = (
            method in (b"GET", b"HEAD")
            and version in (b"HTTP/1.1", b"HTTP/1.0")
            and hosts == [self.host.encode("ascii")]
        )
        return Request(wanted[0], method == b"HEAD") if allowed and wanted else None
