"""The server behind the page: one thread, four viewers, and no patience with anybody else.

Whoever knows the address, asks this host by its own name and only looks is let in.
It never touches the capture: it takes the newest from the board, at most twenty times a second.
Connections are taken one every hundredth of a second and must have asked within two seconds, so
that a flood costs a few per cent of a core and a slow client nothing but its own time.
"""

from __future__ import annotations

import asyncio
import base64
import hashlib
import re
import secrets
import socket
import threading
from contextlib import suppress
from dataclasses import dataclass, field
from enum import Enum
from functools import partial
from typing import Final, Self

from calib.book import packaged
from calib.show.phone.board import FULL_FRAME, Board

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
        fields = (each.partition(b":") for each in lines)
        hosts = [value.strip() for key, _, value in fields if key.lower() == b"host"]
        known = version in (b"HTTP/1.1", b"HTTP/1.0") and hosts == [self.host.encode("ascii")]
        return granted[0] if granted and known else None


HERE: Final = "127.0.0.1"
MOST_VIEWERS: Final = 4
LEAST_S: Final = 0.05
"""Twenty frames a second: what an eye takes for motion."""
BEAT_S: Final = 0.5
"""Own choice: a page that has heard nothing for three of these has lost its link."""
BETWEEN_S: Final = 0.01
"""Own choice: a hundred connections a second are far more than four phones make."""
ASK_S: Final = 2.0
"""Own choice: a phone on a poor network asks within this."""
MOST_ASKING: Final = 32
"""Own choice: of more that have not asked yet the oldest is let go. A phone asks at once, and what
a system lets a program open is needed for the evidence."""
STALLED_S: Final = 5.0
"""Own choice: a viewer that takes nothing for so long is asleep, and gives up its place."""
LAST_WORD_S: Final = 1.0
"""Own choice: how long the result may take to its viewers before the server goes."""
LONGEST_HEAD_BYTES: Final = 4096
SENDING_BYTES: Final = 8192
"""What the system may hold back for one viewer: some frames, so that the newest soon follows."""
WAITING: Final = 64

COMMON: Final = (
    "Cache-Control: no-store\r\nReferrer-Policy: no-referrer\r\nX-Content-Type-Options: nosniff\r\n"
    "Cross-Origin-Resource-Policy: same-origin\r\nConnection: close\r\n"
)
REFUSAL: Final = f"HTTP/1.1 404 Not Found\r\nContent-Length: 0\r\n{COMMON}\r\n".encode("ascii")
"""The same for whatever is wrong, so that nobody learns what was right."""
_FRAMES: Final = f"HTTP/1.1 200 OK\r\nContent-Type: text/event-stream\r\n{COMMON}\r\n".encode()
_RETRY: Final = b"retry: 1000\n\n"


def page_answer() -> tuple[bytes, bytes]:
    """Head and body of the page; its policy runs the page's own script and fetches nothing else.

    Source: Content Security Policy Level 3, sections 2.3.1 (hashes) and 6.
    """
    text = packaged("phone.html")
    script, style = (_hash(text, tag) for tag in ("script", "style"))
    policy = (
        f"default-src 'none'; script-src {script}; style-src {style}; connect-src 'self'; "
        "img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    )
    body = text.encode("utf-8")
    head = (
        f"HTTP/1.1 200 OK\r\nContent-Type: text/html; charset=utf-8\r\n"
        f"Content-Length: {len(body)}\r\nContent-Security-Policy: {policy}\r\n{COMMON}\r\n"
    )
    return head.encode("ascii"), body


def _hash(text: str, tag: str) -> str:
    """The hash under which a policy knows the one element of a kind."""
    inside = "".join(re.findall(f"<{tag}>(.*?)</{tag}>", text, re.DOTALL))
    digest = hashlib.sha256(inside.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"


class PhoneServer:
    """Serves a board to whoever knows the address; a context manager, and gone with its block."""

    def __init__(self, board: Board, address: str = HERE, port: int = 0) -> None:
        """Take the port; nobody is answered before the block begins.

        Args:
            board: What is shown.
            address: Of the network that is served: this machine alone unless it is given.
            port: A port; one that is free where it is 0.

        Raises:
            OSError: The port is in use, or the address is none of this machine's.
        """
        self._board = board
        self._socket = socket.create_server((address, port), backlog=WAITING)
        self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, SENDING_BYTES)
        self._socket.setblocking(False)
        self.door = Door(f"{address}:{self._socket.getsockname()[1]}")
        head, body = page_answer()
        self._answers = {
            None: REFUSAL,
            Granted.PAGE: head + body,
            Granted.PAGE_HEAD: head,
            Granted.FRAMES: _FRAMES + _RETRY,
            Granted.FRAMES_HEAD: _FRAMES,
        }
        self._viewers: set[object] = set()
        self._answering: dict[asyncio.Task[None], None] = {}
        self._loop = asyncio.SelectorEventLoop()
        self._changed, self._closing = asyncio.Event(), asyncio.Event()
        self._thread = threading.Thread(target=self._run, name="phone", daemon=True)

    def __enter__(self) -> Self:
        """Answer."""
        self._board.wake = partial(self._loop.call_soon_threadsafe, self._wake)
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Send the last frame to who looks on, and go."""
        self._board.close()
        self._loop.call_soon_threadsafe(self._closing.set)
        self._thread.join()
        self._board.wake = lambda: None
        self.close()

    def close(self) -> None:
        """Give the port back."""
        self._loop.close()
        self._socket.close()

    def _run(self) -> None:
        self._loop.run_until_complete(self._serve())

    def _wake(self) -> None:
        self._changed.set()
        self._changed = asyncio.Event()

    async def _serve(self) -> None:
        """Take connections until the board is closed; then give its viewers time for the last."""
        self._listen()
        await self._closing.wait()
        self._loop.remove_reader(self._socket)
        self._wake()
        until_s = self._loop.time() + LAST_WORD_S
        while self._viewers and self._loop.time() < until_s:
            await asyncio.sleep(LEAST_S)
        left = list(self._answering)
        for task in left:
            task.cancel()
        await asyncio.gather(*left, return_exceptions=True)
        await asyncio.sleep(0)  # what was let go is closed in the loop's next round

    def _listen(self) -> None:
        if not self._closing.is_set():
            self._loop.add_reader(self._socket, self._take)

    def _take(self) -> None:
        """Take one connection; the next one not at once.

        Nothing is awaited here: a task that is let go while it waits would lose an open connection.
        """
        self._loop.remove_reader(self._socket)
        self._loop.call_later(BETWEEN_S, self._listen)
        with suppress(OSError):  # it left before it was taken, or there are too many
            connection, _ = self._socket.accept()
            connection.setblocking(False)
            task = self._loop.create_task(self._answer(connection))
            task.add_done_callback(partial(self._let_go, connection))
            self._answering[task] = None
            asking = [each for each in self._answering if each not in self._viewers]
            for oldest in asking[:-MOST_ASKING]:
                oldest.cancel()

    def _let_go(self, connection: socket.socket, task: asyncio.Task[None]) -> None:
        """Close a connection whose task is done, or was cancelled before it began."""
        del self._answering[task]
        connection.close()

    async def _answer(self, connection: socket.socket) -> None:
        """Read one request and serve it; whoever is slow, or says anything else, is let go."""
        reader, writer = await asyncio.open_connection(sock=connection, limit=LONGEST_HEAD_BYTES)
        writer.transport.set_write_buffer_limits(high=0)
        try:
            async with asyncio.timeout(ASK_S):
                head = await reader.readuntil(b"\r\n\r\n")
            granted = self.door.let_in(head)
            await _send(writer, self._answers[granted])
            if granted is Granted.FRAMES:
                await self._stream(writer)
        except (TimeoutError, asyncio.IncompleteReadError, asyncio.LimitOverrunError, OSError):
            pass
        finally:
            writer.transport.abort()

    async def _stream(self, writer: asyncio.StreamWriter) -> None:
        """Send frame after frame: the newest each time, however slow the viewer is."""
        if len(self._viewers) >= MOST_VIEWERS:
            await _send(writer, _event(FULL_FRAME))
            return
        viewer = asyncio.current_task()
        self._viewers.add(viewer)
        try:
            is_over = False
            while not is_over:
                changed = self._changed
                frame, is_over = self._board.frame()
                await _send(writer, _event(frame))
                await asyncio.sleep(0.0 if is_over else LEAST_S)
                await _wait(changed, 0.0 if is_over else BEAT_S)
        finally:
            self._viewers.discard(viewer)


async def _send(writer: asyncio.StreamWriter, data: bytes) -> None:
    """Send, and wait until the system has taken it.

    Raises:
        TimeoutError: The viewer takes nothing.
    """
    writer.write(data)
    async with asyncio.timeout(STALLED_S):
        await writer.drain()


async def _wait(event: asyncio.Event, longest_s: float) -> None:
    with suppress(TimeoutError):
        async with asyncio.timeout(longest_s):
            await event.wait()


def _event(frame: bytes) -> bytes:
    return b"data: " + frame + b"\n\n"
