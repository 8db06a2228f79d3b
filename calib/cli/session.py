"""A live session: whoever works the machine, the isolation, and the logger's line."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Final

import click

from calib.cli.audience import audience
from calib.cli.flow import OUTLASTS_S, Flow, now
from calib.cli.options import Shared
from calib.errors import PortError, UsageError
from calib.guide.capturing import attend
from calib.guide.cautions import isolation_card
from calib.guide.events import CABLE
from calib.guide.protocols import Card, Line, Live, Person, Step
from calib.guide.taking import MakeObserver, Taking
from calib.guide.tilt import MOVE_PATIENCE_S
from calib.link.line import open_line
from calib.link.ports import identity_of
from calib.link.transport import look_at
from calib.mule.presence import is_simulated
from calib.store.records import load_records
from calib.store.rig import Rig
from calib.store.text import neutral
from calib.tilt.inputs import find_inputs

EVENING = timedelta(hours=8)
"""Own choice: whoever comes back the next day reads the cautions again."""

AGAIN_S: Final = 0.5
"""Own choice: time between two looks for a line that was unplugged, s."""


@contextmanager
def person_at(shared: Shared) -> Iterator[Person]:
    """Whoever works the machine: at the terminal, or given by ``calib demo`` or ``evening``."""
    context = click.get_current_context(silent=True)
    if context is not None and context.obj is not None:
        given: Person = context.obj
        try:
            yield given
        finally:
            given.leave_page()
        return
    from calib.show.person import TerminalPerson

    with TerminalPerson(
        isolated=shared.isolated, yes=shared.yes, plain=shared.plain, audience=audience()
    ) as person:
        yield person


def ask_isolation(rig: Rig, person: Person, card: Card) -> None:
    """Have the isolation confirmed; not where a simulated bench of this user is on the port.

    The port is looked at first: nobody isolates a machine for a logger that is not there.

    Raises:
        PortError: The port is missing, or in use.
        StoppedError: It was not confirmed.
    """
    if not is_simulated(rig.link.port):
        look_at(rig.link.port)
        person.confirm_isolation(_once_an_evening(card, rig))


def _once_an_evening(card: Card, rig: Rig) -> Card:
    """The card in full the first time, then with one line that says how to read it again.

    What was read stands in the records: every flow keeps its cautions with its result.
    """
    read = [
        record.judged
        for record in load_records(rig.path.parent)
        if now() - record.judged < EVENING and set(card.lines) <= set(record.document.cautions)
    ]
    if not read:
        return card
    again = f"Its cautions are those of {max(read):%H:%M}; 'calib explain cautions' shows them."
    return replace(card, lines=(again,))


@contextmanager
def live_line(
    rig: Rig, person: Person, *, isolation: Card | None = None, outlasts_s: float = OUTLASTS_S
) -> Iterator[Line]:
    """The logger that the rig file names, open, once the isolation is confirmed.

    Args:
        rig: The rig file.
        person: Is asked.
        isolation: What must be so first; None where it was asked, or nothing is touched.
        outlasts_s: Silence after the first sample that is waited for, s.

    Raises:
        StoppedError: The isolation was not confirmed.
        PortError: The line cannot be opened.
        UsageError: Another logger is on the port than the rig file was made for.
    """
    _refuse_another_logger(rig)
    if isolation is not None:
        ask_isolation(rig, person, isolation)
    with open_line(rig, outlasts_s=outlasts_s) as line:
        yield line


def _refuse_another_logger(rig: Rig) -> None:
    """Refuse a second bench: its evidence is none of this machine's.

    Raises:
        UsageError: A logger is on the port that is not the rig file's; nothing was opened.
    """
    wanted, port = rig.link.usb, rig.link.port
    if wanted is None:
        return
    identity = identity_of(port)
    found = "the simulated bench" if is_simulated(port) else identity and identity.text
    if found not in (None, wanted):
        raise UsageError.of(
            "other-logger", port=neutral(port), found=found, path=rig.path, ours=neutral(wanted, 80)
        )


@contextmanager
def taking(flow: Flow, about: str) -> Iterator[Taking]:
    """What takes standings and poses of the machine, with whoever moves it.

    With --yes the first standing is taken as it is.

    Args:
        flow: The command's.
        about: What is done to the machine; the isolation is asked once, before the first prompt.
    """
    with person_at(flow.shared) as person, ExitStack() as stack:
        ask_isolation(flow.rig, person, isolation_card(about, flow.cautions))
        line = _ComingLine(flow, person, stack)
        yield Taking(person, flow.rig, line.attend, line.capture, at_once=flow.shared.yes)


class _ComingLine:
    """A line that is opened when it is first needed, and anew after it was pulled off."""

    def __init__(self, flow: Flow, person: Person, stack: ExitStack) -> None:
        """Nothing is open yet; what is, ends with the stack."""
        self._flow = flow
        self._person = person
        self._stack = stack
        self._line: Line | None = None
        self._heard = False

    def _opened(self) -> Line:
        if self._line is None:
            self._line = self._stack.enter_context(live_line(self._flow.rig, self._person))
            self._heard = True
        return self._line

    def capture(self, make: MakeObserver) -> Path:
        """Capture until the observer has enough."""
        line = self._opened()
        return self._flow.record(line, make(find_inputs(self._flow.rig, line.columns)))

    def attend(self, make: MakeObserver) -> None:
        """Look on without keeping anything; the cable may come off meanwhile."""
        began_s = time.monotonic()
        while True:
            try:
                line = self._opened()
                attend(line, make(find_inputs(self._flow.rig, line.columns)))
            except PortError:
                self._line = None
                self._stack.close()
                if not self._heard or time.monotonic() - began_s > MOVE_PATIENCE_S:
                    raise
                detail = "no line: put the plug back in once the machine stands"
                self._person.show(Live(Step(CABLE, detail)))
                time.sleep(AGAIN_S)
            else:
                return
