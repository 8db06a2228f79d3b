"""What the tilt commands share: captures from files or live, and their records."""

from __future__ import annotations

import time
from collections.abc import Iterable, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import Final, Self

from calib.cli.clock import host_clock_s, now
from calib.cli.on_file import evidence_of
from calib.cli.options import Shared
from calib.cli.session import ask_isolation, capture_in, live_line
from calib.errors import PortError
from calib.guide.capturing import attend, capture_until
from calib.guide.cautions import TILT_CAUTIONS, isolation_card
from calib.guide.events import CABLE
from calib.guide.protocols import Line, Live, Person, Step
from calib.guide.taking import MakeObserver, Taking
from calib.guide.tilt import MOVE_PATIENCE_S
from calib.store.asked import AskingRig
from calib.store.capture import Capture, read_capture
from calib.store.documents.level import LevelDocument
from calib.store.documents.signs import SignsDocument
from calib.store.rig import Rig
from calib.tilt.inputs import find_inputs

AGAIN_S: Final = 0.5
"""Own choice: time between two looks for a line that was unplugged, s."""


class Listener:
    """The rig's line for a tilt flow; a context manager around it.

    The isolation is asked once. The line is opened when it is first needed, and anew after it was
    pulled off to turn the machine.
    """

    def __init__(
        self, shared: Shared, rig: Rig, person: Person, *, command: str, about: str
    ) -> None:
        """Prepare to listen.

        Args:
            shared: The shared options.
            rig: The rig file.
            person: Works the machine.
            command: The command that captures.
            about: What the flow does to the machine.
        """
        self._shared = shared
        self._rig = rig
        self._person = person
        self._command = command
        self._open = ExitStack()
        self._line: Line | None = None
        self._heard = False
        # Before the first prompt: whoever is asked to move the machine has isolated it.
        ask_isolation(rig, person, isolation_card(about, TILT_CAUTIONS))

    def __enter__(self) -> Self:
        """The listener."""
        return self

    def __exit__(self, *exc: object) -> None:
        """Close the line."""
        self._close()

    def _close(self) -> None:
        self._line = None
        self._open.close()

    def _opened(self) -> Line:
        if self._line is None:
            self._line = self._open.enter_context(live_line(self._rig, self._person))
            self._heard = True
        return self._line

    @property
    def taking(self) -> Taking:
        """Standings and poses on this line; with --yes the first standing is taken as it is."""
        return Taking(
            self._person,
            self._rig,
            self.attend,
            self.capture,
            host_clock_s,
            at_once=self._shared.yes,
        )

    def capture(self, make: MakeObserver) -> Path:
        """Capture until the observer has enough."""
        line = self._opened()
        observer = make(find_inputs(self._rig, line.columns))
        return capture_until(
            line, self._rig, self._shared.folder, observer, command=self._command, now=now()
        )

    def attend(self, make: MakeObserver) -> None:
        """Look on without keeping anything; the cable may come off meanwhile."""
        began_s = host_clock_s()
        while True:
            try:
                line = self._opened()
                attend(line, make(find_inputs(self._rig, line.columns)))
            except PortError:
                self._close()
                if not self._heard or host_clock_s() - began_s > MOVE_PATIENCE_S:
                    raise
                detail = "no line: put the plug back in once the machine stands"
                self._person.show(Live(Step(CABLE, detail)))
                time.sleep(AGAIN_S)
            else:
                return


def captures_in(
    paths: Iterable[Path], shared: Shared, rig: Rig, *, command: str
) -> tuple[Capture, ...]:
    """The captures in some files.

    Raises:
        NoDataError: One is missing, unreadable, or nothing in it can be decoded.
    """
    return tuple(read_capture(capture_in(path, shared, rig, command=command)) for path in paths)


def signs_on_file(shared: Shared, rig: AskingRig) -> SignsDocument | None:
    """The proof of sign, where it stands good; what uses it rests on what it rests on."""
    standing = evidence_of(shared, rig).standing(SignsDocument)
    if not standing.is_good or standing.record is None:
        return None
    for each in standing.record.rests_on:
        rig.asked.note(each.key)
    return standing.document


def shown_level_on_file(shared: Shared, rig: AskingRig) -> float | None:
    """What the controller showed on the level, where the last level run stands good."""
    standing = evidence_of(shared, rig).standing(LevelDocument)
    if not standing.is_good or standing.document is None or standing.document.shown is None:
        return None
    return standing.document.shown.reading


def mean_of(values: Sequence[float]) -> float | None:
    """Mean of what was typed; None where nothing was."""
    return sum(values) / len(values) if values else None
