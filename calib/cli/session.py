"""Open a line for a command, or read the capture it was given."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import click

from calib.cli.audience import audience
from calib.cli.clock import now
from calib.cli.options import Shared
from calib.errors import UsageError
from calib.guide.capturing import captured
from calib.guide.protocols import Card, Line, Person
from calib.link.line import open_line
from calib.link.ports import identity_of
from calib.link.transport import look_at
from calib.mule.presence import is_simulated
from calib.store.records import load_records
from calib.store.rig import Rig
from calib.store.text import neutral

EVENING = timedelta(hours=8)
"""Own choice: whoever comes back the next day reads the cautions again."""

OUTLASTS_S = 180.0
"""Own choice: silence of a line, s, in which a person finds the plug and puts it back."""


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
    rig: Rig,
    person: Person,
    *,
    isolation: Card | None = None,
    outlasts_s: float = OUTLASTS_S,
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
        raise UsageError(
            f"Port {neutral(port)}: this is another logger ({found}) than that of {rig.path} "
            f"({neutral(wanted, 80)}).",
            "Another machine: give it a folder and a rig file of its own. Another logger on this "
            "machine: run 'calib setup', then 'calib meter' for each control.",
        )


def given_capture(shared: Shared, rig: Rig, *, command: str) -> Path:
    """The capture that ``--from`` names.

    Raises:
        NoDataError: It is missing, unreadable, or nothing in it can be decoded.
    """
    return capture_in(shared.from_file, shared, rig, command=command)


def capture_in(path: Path | None, shared: Shared, rig: Rig, *, command: str) -> Path:
    """The capture in a file; a text log becomes one through the usual decoder.

    Raises:
        NoDataError: It is missing, unreadable, or nothing in it can be decoded.
    """
    return captured(path, rig, shared.folder, command=command, now=now())
