"""Where the flow leaves what is to be seen, and the server takes the newest of it."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from functools import partial
from typing import Final

import msgspec

from calib.errors import CalibError
from calib.guide.events import Kind, LiveEvent
from calib.guide.protocols import Live
from calib.show.phone import page as pages
from calib.show.spoken import spoken
from calib.show.views import view_of
from calib.store.documents.finding import Document

KEPT_EVENTS: Final = 8
"""Own choice: more than happen while a phone that is served twenty times a second misses one."""

RINGS: Final = frozenset({Kind.COUNTED, Kind.ENOUGH, Kind.UNCOUNTED})
"""What the bell rings at: the page flashes with it."""


class Told(msgspec.Struct, frozen=True, kw_only=True):
    """One event: its number, what a voice says of it, the line of plain mode, and if it rings."""

    number: int
    spoken: str
    text: str
    rings: bool


class Frame(msgspec.Struct, frozen=True, kw_only=True):
    """What is sent at once: the page, the last events, and whether nothing comes after it."""

    page: pages.Page
    told: tuple[Told, ...]
    over: bool


FULL_FRAME: Final = msgspec.json.encode(Frame(page=pages.FULL, told=(), over=False))
"""What one viewer too many is sent."""


class Board:
    """The newest state of the flow: put by the thread that captures, taken by the one that serves.

    Putting keeps a reference and wakes the server; all that is work is done where it is taken.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        """Nothing is to be seen yet; ``clock`` is steady, in s."""
        self._clock = clock
        self._lock = threading.Lock()
        self._page: Callable[[], pages.Page] = lambda: pages.START
        self._told: deque[Told] = deque(maxlen=KEPT_EVENTS)
        self._number = 0
        self._over = False
        self.wake: Callable[[], object] = lambda: None

    def look(self, live: Live) -> None:
        """A flow shows this now."""
        shown_s = self._clock()
        self._put(lambda: pages.live_page(live, self._clock() - shown_s))

    def hear(self, event: LiveEvent) -> None:
        """This has happened."""
        with self._lock:
            self._number += 1
            said, rings = spoken(event), event.kind in RINGS
            told = Told(number=self._number, spoken=said, text=event.text, rings=rings)
            self._told.append(told)
        if event.kind is Kind.PROMPTED:
            self._put(partial(pages.prompt_page, event))
        elif event.kind is Kind.ENDED:
            self._put(partial(pages.ended_page, event.text))

    def read(self, document: Document) -> None:
        """This came of it."""
        self._put(partial(pages.result_page, view_of(document)))

    def fail(self, error: CalibError) -> None:
        """The command could not do its work."""
        self._put(partial(pages.error_page, error))

    def close(self) -> None:
        """Nothing comes any more."""
        with self._lock:
            self._over = True
        self.wake()

    def frame(self) -> tuple[bytes, bool]:
        """What is to be seen now, as JSON, and whether it is the last of it."""
        with self._lock:
            page, told, over = self._page, tuple(self._told), self._over
        return msgspec.json.encode(Frame(page=page(), told=told, over=over)), over

    def _put(self, page: Callable[[], pages.Page]) -> None:
        with self._lock:
            self._page = page
        self.wake()
