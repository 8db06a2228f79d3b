"""How a piece of evidence stands today: good, failed, unknown, stale, odd or missing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Generic, TypeVar

from calib.checks.limits import AHEAD_MIN, KEPT_DAYS
from calib.store.asked import CHANNELS, LOGGER, MACHINE, keys_of
from calib.store.documents.check import CheckDocument
from calib.store.documents.finding import Document, Severity
from calib.store.documents.note import NoteDocument
from calib.store.documents.wheel import WheelDocument
from calib.store.records import Lost, OnFile, Record
from calib.store.rig import Rig
from calib.store.text import neutral

D = TypeVar("D", bound=Document)
D_co = TypeVar("D_co", bound=Document, covariant=True)


class State(StrEnum):
    """How evidence stands, best first; only ``good`` may be built upon."""

    GOOD = "good"
    MISSING = "missing"
    STALE = "stale"
    UNKNOWN = "unknown"
    ODD = "odd"
    FAILED = "failed"


@dataclass(frozen=True, slots=True)
class Validity(Generic[D_co]):
    """The newest evidence of one kind.

    Attributes:
        state: How it stands.
        why: One sentence for the person; empty when it is good.
        record: The record, whatever its state; None when there is none.
        document: What the record holds.
        age_h: Hours since it was measured; None where nobody knows.
    """

    state: State
    why: str = ""
    record: Record | None = None
    document: D_co | None = None
    age_h: float | None = None

    @property
    def is_good(self) -> bool:
        """Whether it may be built upon."""
        return self.state is State.GOOD

    @property
    def believed(self) -> D_co | None:
        """What the record holds, where it may be built upon."""
        return self.document if self.is_good else None

    def doubted(self, why: str, state: State = State.UNKNOWN) -> Validity[D_co]:
        """The same evidence where it does not answer what is asked of it."""
        return replace(self, state=state, why=why)


@dataclass(frozen=True, slots=True)
class Filed:
    """Everything on file for one rig, and the time at which it is looked at.

    Attributes:
        rig: The rig file as it is now.
        records: All records, in the order of judging, and what cannot be believed of them.
        now: The time, with its UTC offset.
    """

    rig: Rig
    records: OnFile
    now: datetime

    def validity(
        self, kind: type[D], *, channel: str | None = None, about: Callable[[D], bool] | None = None
    ) -> Validity[D]:
        """The newest record of ``kind`` that was not superseded, and how it stands.

        An older good record never stands in for a newer bad one, nor for a newer one that cannot
        be read. A judgement of the same capture takes the place of the earlier one.

        Args:
            kind: The kind of document.
            channel: The channel that it is about; any when None.
            about: Whether a document answers the question; every one does when None.
        """
        found = self._counted(kind, channel, about)
        lost = self._lost(kind, channel, found[-1][0].measured_after + 1 if found else 0)
        if lost is not None:
            return Validity(State.ODD, f"A newer record of it is lost. {lost.why} Do it again.")
        if not found:
            return Validity(State.MISSING, "Not measured yet.")
        return self._stands(*found[-1])

    def good(self, kind: type[D], channel: str) -> list[tuple[Record, D]]:
        """Every record of ``kind`` that may be built upon together with the newest, oldest first.

        They were made under the rig's inputs as they are now, and each stands good by itself;
        none where the newest does not. Of one capture only the last judgement is among them.

        Args:
            kind: The kind of document.
            channel: The channel that it is about.
        """
        if not self.validity(kind, channel=channel).is_good:
            return []
        found = self._counted(kind, channel, None)
        return [each for each in found if self._stands(*each).is_good]

    def comparable(
        self, kind: type[D], *, channel: str | None = None, about: Callable[[D], bool] | None = None
    ) -> tuple[Record, D] | None:
        """The newest good record that a new one may be compared with, however old it is.

        What was rewired or has aged since is just what a comparison shows; another scale or
        another column would only seem a change.
        """
        for record, document in reversed(self._counted(kind, channel, about)):
            is_sound = not from_the_future(record, self) and _other_rig(record, self.rig) is None
            if document.verdict.is_good and is_sound:
                return record, document
        return None

    def _counted(
        self, kind: type[D], channel: str | None, about: Callable[[D], bool] | None
    ) -> list[tuple[Record, D]]:
        """The records that answer a question and still count, oldest first.

        One that was superseded counts no more, nor one whose capture was judged again later.
        """
        found: dict[str, tuple[Record, D]] = {}
        for each in self.records:
            document = each.document
            if each.superseded is not None or channel not in (None, each.channel):
                continue
            if isinstance(document, kind) and (about is None or about(document)):
                ref = document.capture
                found[each.id if ref is None else ref.sha256] = (each, document)
        return sorted(found.values(), key=lambda pair: pair[0].place)

    def _lost(self, kind: type[Document], channel: str | None, sequence: int) -> Lost | None:
        """A record of a kind that cannot be read and may be newer than the one of ``sequence``."""
        # the records of documents tagged "calib.travel/1" are of "travel"
        command = str(kind.__struct_config__.tag).partition(".")[2].partition("/")[0]
        lost = (each for each in self.records.lost if each.is_about(command, channel))
        return next((each for each in lost if each.may_follow(sequence)), None)

    def _stands(self, record: Record, document: D) -> Validity[D]:
        """How one record stands, whatever came after it."""
        odd, stale = odd_because(record, self), _stale_because(record, self)
        if odd is not None:
            state, why = State.ODD, odd
        elif stale is not None:
            state, why = State.STALE, stale
        elif document.verdict.is_good:
            state, why = State.GOOD, ""
        else:
            failed = document.verdict is Severity.FAIL
            state, why = State.FAILED if failed else State.UNKNOWN, _worst_text(document)
        measured = record.measured
        age_h = None if measured is None else (self.now - measured).total_seconds() / 3600.0
        return Validity(state, why, record, document, age_h)


def odd_because(record: Record, filed: Filed) -> str | None:
    """Why nobody can say how old a record is; None where it is plain."""
    if record.measured is None:
        return (
            "Nobody knows when it was measured: its capture does not say, and a file's date is no "
            "evidence."
        )
    if from_the_future(record, filed):
        latest = max(record.judged, record.when)
        return f"It is dated {latest:%Y-%m-%d %H:%M}, in the future: a clock was wrong."
    return None


def from_the_future(record: Record, filed: Filed) -> bool:
    """Whether a record is dated later than any honest clock could have dated it."""
    return max(record.judged, record.when) > filed.now + timedelta(minutes=AHEAD_MIN)


def _stale_because(record: Record, filed: Filed) -> str | None:
    """Why a record no longer speaks for the machine as it is; None while it does."""
    other = _other_rig(record, filed.rig)
    if other is not None:
        return other
    happened = _happened_since(record, filed)
    if happened is not None:
        return f"Since it was measured the machine was changed: {happened}."
    age = filed.now - record.when
    if age > timedelta(days=KEPT_DAYS):
        return f"It is {age.days} days old; evidence is kept for {KEPT_DAYS:g}."
    return None


def _other_rig(record: Record, rig: Rig) -> str | None:
    """What the rig file says otherwise than it did when the record was judged."""
    there = keys_of(rig)
    changed = [each for each in record.rests_on if there.get(each.key) != each.value]
    if not changed:
        return None
    for each in changed:
        table, _, name = each.key.partition(".")
        if table == CHANNELS and name and "." not in name and name not in rig.channels:
            return f"The rig file no longer has the channel {neutral(name)!r}."
        new = _new_channels(each.value, rig) if each.key == CHANNELS else []
        if new:
            return f"The rig file has the channel {neutral(new[0])!r} since, which it never saw."
        if each.key == MACHINE:
            was, now = neutral(str(each.value)), neutral(str(there.get(MACHINE)))
            return f"It is of the machine '{was}', and this is '{now}' (rig.name)."
        if each.key == LOGGER:
            return "It was measured with another logger (link.usb): true and measure again."
    texts = [f"{neutral(each.key)} is {_said(there.get(each.key))}, was {_said(each.value)}"
             for each in changed if each.value != "given"] or [neutral(changed[0].key)]  # fmt: skip
    more = f" (and {len(texts) - 1} more)" if len(texts) > 1 else ""
    return f"Since it was judged the rig file changed: {texts[0]}{more}."


def _new_channels(names: object, rig: Rig) -> list[str]:
    """Channels that came to those of some names; none where one of them went."""
    were = names if isinstance(names, list) else []
    new = [each for each in rig.channels if each not in were]
    return new if len(new) == len(rig.channels) - len(were) else []


def _said(value: object) -> str:
    """A value of the rig file in words."""
    return "not given" if value is None else neutral(str(value), 40)


def _happened_since(record: Record, filed: Filed) -> str | None:
    """What was noted after ``record`` was measured that it does not outlive.

    For tilt that is anything. A control outlives a rewire once a whole bench check after it was
    good; a quick one flexes no connector. What counts is the order on file and no clock.
    """
    for what, sequence in _notes(filed):
        if sequence <= record.measured_after:
            continue
        if record.tilt or (what == "rewired" and not _lifted(sequence, filed)):
            return what
    return None


def _notes(filed: Filed) -> Iterator[tuple[str, int]]:
    """What was noted, with its place in the order of judging; a lost note may say anything."""
    for record in filed.records:
        if isinstance(record.document, NoteDocument) and record.superseded is None:
            yield record.document.what, record.sequence
    for lost in filed.records.lost:
        if lost.command == "note":
            yield "rewired", lost.before or filed.records.last_sequence + 1


def _lifted(sequence: int, filed: Filed) -> bool:
    """Whether a whole bench check after a note of that place was good."""
    return any(
        isinstance(each.document, CheckDocument)
        and each.document.is_whole
        and each.document.verdict.is_good
        and each.superseded is None
        and each.measured_after >= sequence
        and odd_because(each, filed) is None
        for each in filed.records
    )


def _worst_text(document: Document) -> str:
    """The statement of the worst finding."""
    if not document.findings:
        return "No reason was noted."
    return max(document.findings, key=lambda finding: finding.severity.rank).text


def turned_on_file(filed: Filed) -> Validity[WheelDocument]:
    """How the newest turning of the wheel by hand stands."""
    return filed.validity(WheelDocument, about=lambda wheel: wheel.turned is not None)


def rolled_on_file(filed: Filed) -> Validity[WheelDocument]:
    """How the newest rolling along a tape stands."""
    return filed.validity(WheelDocument, about=lambda wheel: wheel.rolled is not None)


def has_wheel(filed: Filed) -> bool:
    """Whether the rig file names a wheel sensor, or somebody rolled one all the same."""
    return bool(filed.rig.with_role("wheel")) or any(
        isinstance(record.document, WheelDocument) for record in filed.records
    )


def check_to_compare(filed: Filed, named: Record | None) -> Record | None:
    """The record that was named, else the last good check that still counts; None without one.

    A check that failed is never compared with: a fault on record would make the same fault pass.

    Args:
        filed: What is on file.
        named: The one that the person named.
    """
    if named is not None:
        return named
    found = filed.comparable(CheckDocument, about=lambda check: check.is_bench_check)
    return None if found is None else found[0]
