"""The one flow of the commands: rig file, line or file, capture, judgement, record, page.

A command states its options, how it captures and who judges; all else stands here. What is heavy
is imported when it is used: a glance at the records needs no array and no port.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import KW_ONLY, dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final, TypeVar

import click

from calib.cli.audience import audience
from calib.cli.options import Shared

if TYPE_CHECKING:
    from calib.checks.file.validity import Filed, Validity
    from calib.guide.capturing import Observer
    from calib.guide.protocols import Line, Person
    from calib.show.console import Screen
    from calib.store.asked import AskingRig
    from calib.store.capture import Capture
    from calib.store.documents.finding import Document
    from calib.store.documents.kinds import AnyDocument
    from calib.store.documents.note import Happening
    from calib.store.records import OnFile, Subject

    Begin = Callable[[Person, Line], Observer]
    """Makes the observer of a live capture, once the line is open."""

D = TypeVar("D", bound="Document")

OUTLASTS_S: Final = 180.0
"""Own choice: silence of a line, s, in which a person finds the plug and puts it back."""


def now() -> datetime:
    """The time with its UTC offset, read here alone: all below the commands is given it."""
    return datetime.now(UTC).astimezone()


@dataclass(slots=True)
class Flow:
    """What one command works with, from the rig file to the exit code.

    Attributes:
        shared: The shared options.
        command: The command, as captures and records name it.
        cautions: What it is careful about: on the card before a live line, and in its document.
        channel: The channel that its record is about; None where that is more than one.
        condition: What the person said of the conditions.
        tilt: Whether its record is about the tilt sensor.
        outlasts_s: Silence of a line after its first sample that is waited for, s.
        rig: The rig file, which notes what is asked of it.
    """

    shared: Shared
    command: str
    cautions: tuple[str, ...] = ()
    _: KW_ONLY
    channel: str | None = None
    condition: str | None = None
    tilt: bool = False
    outlasts_s: float = OUTLASTS_S
    rig: AskingRig = field(init=False)

    def __post_init__(self) -> None:
        """Read the rig file.

        Raises:
            RigError: It cannot be read, or names a limit that nothing reads.
        """
        self.rig = self.shared.rig()

    def reread(self, wrote: str | None = None) -> None:
        """Read the rig file again, after it was written to.

        Args:
            wrote: The table that was written: what wrote it rests on it, and on all below it.
        """
        self.rig = self.shared.rig(again=self.rig)
        if wrote is not None:
            self.rig.note_below(wrote)

    @contextmanager
    def line(self, about: str | None = None) -> Iterator[tuple[Person, Line]]:
        """Whoever works the machine, and the logger's line, open.

        Args:
            about: What is done to the machine, for the card; None where nothing is touched.

        Raises:
            StoppedError: The isolation was not confirmed.
            PortError: The line cannot be opened.
            UsageError: Another logger is on the port than the rig file was made for.
        """
        from calib.cli.session import live_line, person_at
        from calib.guide.cautions import isolation_card

        card = None if about is None else isolation_card(about, self.cautions)
        with (
            person_at(self.shared) as person,
            live_line(self.rig, person, isolation=card, outlasts_s=self.outlasts_s) as line,
        ):
            yield person, line

    def record(self, line: Line, observer: Observer, command: str | None = None) -> Path:
        """Capture a line until the observer has enough; ``command`` if it is called otherwise.

        Raises:
            StoppedError: The person pressed Ctrl-C.
            NoDataError: No sample came.
            BrokenOffError: The cable went, or nobody worked on.
        """
        from calib.guide.capturing import capture_until

        return capture_until(
            line, self.rig, self.shared.folder, observer, command=command or self.command, now=now()
        )

    def capture(
        self, begin: Begin, about: str | None = None, *, columns: Sequence[str | int] | None = None
    ) -> Capture:
        """What is judged: the file that ``--from`` names, else what is captured live.

        Args:
            begin: Makes the observer that says when there is enough.
            about: As ``line`` has it.
            columns: Those that will be asked for; all of them when None.

        Raises:
            CalibError: The file or the line gives nothing, or the person would rather stop.
        """
        from calib.store.capture import read_capture

        if self.shared.from_file is not None:
            return self.given(self.shared.from_file, columns)
        with self.line(about) as (person, line):
            path = self.record(line, begin(person, line))
        return read_capture(path, columns)

    def given(self, path: Path, columns: Sequence[str | int] | None = None) -> Capture:
        """The capture in a file; a text log becomes one through the usual decoder.

        Raises:
            NoDataError: It is missing, unreadable, or nothing in it can be decoded.
        """
        from calib.guide.capturing import captured
        from calib.store.capture import read_capture

        folder = self.shared.folder
        found = captured(path, self.rig, folder, command=self.command, now=now())
        return read_capture(found, columns)

    def filed(self) -> Filed:
        """Everything on file for the rig, as it stands now.

        What cannot be believed is named on stderr and costs itself.
        """
        from calib.checks.file.validity import Filed
        from calib.store.records import load_records

        file = load_records(self.shared.folder)
        for line in file.odd:
            click.echo(f"calib: {line}", err=True)
        return Filed(self.rig, file, now())

    def build_on(self, validity: Validity[D]) -> D | None:
        """What was found earlier, where it stands good; what uses it rests on what it rests on."""
        if not validity.is_good or validity.record is None:
            return None
        for each in validity.record.rests_on:
            self.rig.asked.add(each.key)
        return validity.document

    def note(self, happened: Mapping[Happening, bool], remark: str = "") -> None:
        """Note what of all this was done to the machine; it makes earlier evidence stale."""
        from calib.store.documents.finding import Severity
        from calib.store.documents.note import NoteDocument
        from calib.store.records import Subject

        for what, has_happened in happened.items():
            if has_happened:
                note = NoteDocument(verdict=Severity.PASS, what=what, remark=remark)
                self.keep(note, about=Subject("note", tilt=self.tilt))

    def keep(
        self,
        document: AnyDocument,
        captures: Sequence[Capture] = (),
        *,
        about: Subject | None = None,
        file: OnFile | None = None,
    ) -> None:
        """Save a record.

        Args:
            document: What was found.
            captures: What it was judged from; without any it is of now.
            about: What it is about, where that is not what the flow is about.
            file: What is on file, where it was just looked at.

        Raises:
            NoDataError: It cannot be written.
        """
        from calib.store.records import Subject, save_record

        about = about or Subject(self.command, self.channel, self.condition, self.tilt)
        save_record(
            self.shared.folder, self.rig, document, about, now=now(), captures=captures, file=file
        )

    def show(
        self, document: D, page: Callable[[D, Screen], None] | None = None, *, onward: bool = False
    ) -> int:
        """Show a document, as ``finish`` does; the exit code of its verdict.

        Args:
            document: What was found.
            page: Shows it on a console; its view is shown when None.
            onward: It is a step of the evening: below its page stands the next command.
        """
        code = finish(document, page, as_json=self.shared.as_json)
        if onward and not self.shared.as_json:
            from calib.cli.status import next_command

            click.echo(f"\n NEXT  {next_command(self.shared)}")
        return code

    def end(self, document: AnyDocument, captures: Sequence[Capture] = ()) -> int:
        """Keep a step of the evening and show it, below it the next command; the exit code."""
        self.keep(document, captures)
        return self.show(document, onward=True)


def print_document(document: object) -> None:
    """Print a document as JSON on stdout."""
    import msgspec

    encoded = msgspec.json.format(msgspec.json.encode(document), indent=2)
    click.echo(encoded.decode("utf-8"))


def finish(document: D, page: Callable[[D, Screen], None] | None = None, *, as_json: bool) -> int:
    """Show a document and give the exit code of its verdict: 0 for pass and caution, else 1.

    Args:
        document: What was found.
        page: Shows it on a console; its view is shown when None.
        as_json: Print JSON on stdout instead of the page.
    """
    listening = audience()
    if listening is not None:
        listening.judged(document)
    if as_json:
        print_document(document)
    else:
        from calib.show.console import Screen

        if page is None:
            from calib.show.views import show_view

            page = show_view
        page(document, Screen())
    return 0 if document.verdict.is_good else 1
