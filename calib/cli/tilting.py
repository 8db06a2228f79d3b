"""What the tilt commands share: captures from files or live, and their records."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from calib.cli.clock import host_clock_s, now
from calib.cli.on_file import evidence_of
from calib.cli.options import Shared
from calib.cli.session import ask_isolation, capture_in, live_line
from calib.guide.capturing import Observer, capture_until
from calib.guide.cautions import TILT_CAUTIONS, isolation_card
from calib.guide.protocols import Person
from calib.guide.standing import StandingWatch
from calib.store.asked import AskingRig
from calib.store.capture import Capture, read_capture
from calib.store.documents.kinds import AnyDocument
from calib.store.documents.level import LevelDocument
from calib.store.documents.signs import SignsDocument
from calib.store.records import Record, Subject, save_record
from calib.store.rig import Rig
from calib.tilt.inputs import TiltInputs, find_inputs

MakeObserver = Callable[[TiltInputs], Observer]


class Listener:
    """Captures one stretch after the other from the rig's line; the isolation is asked once."""

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
        self._standings = 0
        # Before the first prompt: whoever is asked to move the machine has isolated it.
        ask_isolation(rig, person, isolation_card(about, TILT_CAUTIONS))

    def capture(self, make: MakeObserver) -> Path:
        """Capture until the observer has enough; the line is opened anew each time."""
        with live_line(self._rig, self._person) as line:
            observer = make(find_inputs(self._rig, line.columns))
            return capture_until(
                line, self._rig, self._shared.folder, observer, command=self._command, now=now()
            )

    def standing(self, what: str) -> Path:
        """Capture one standing or pose, named in words.

        With --yes nobody is asked to go on, so from the second on a movement has to come first.
        """
        self._standings += 1
        after_a_move = self._shared.yes and self._standings > 1
        return self.capture(
            lambda inputs: StandingWatch(
                self._person, inputs, what=what, clock=host_clock_s, after_a_move=after_a_move
            )
        )


def captures_in(
    paths: Iterable[Path], shared: Shared, rig: Rig, *, command: str
) -> tuple[Capture, ...]:
    """The captures in some files.

    Raises:
        NoDataError: One is missing, unreadable, or nothing in it can be decoded.
    """
    return tuple(read_capture(capture_in(path, shared, rig, command=command)) for path in paths)


def keep(
    shared: Shared,
    rig: Rig,
    document: AnyDocument,
    *,
    command: str,
    captures: Sequence[Capture] = (),
) -> Record:
    """Save a record about the tilt sensor."""
    subject = Subject(command, tilt=True)
    return save_record(shared.folder, rig, document, subject, now=now(), captures=captures)


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
