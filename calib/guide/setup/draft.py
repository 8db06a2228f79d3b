"""What a rig file should say, where each value comes from, and what of it is new."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from calib.book import entries
from calib.store.documents.printed import Origin, Setting
from calib.store.rig import ASSUMED
from calib.store.rig_writing import Entry, RigEdit, TableName, entries_of

Value = bool | int | float | str | tuple[float | str, ...]

_STRENGTH = (Origin.ASSUMED, Origin.FOUND, Origin.STATED)

WHY = entries("setup")["why"]
"""What speaks for a value, or what it would take to know it."""

HEAD = """Rig file of calib: which port the logger is on, and what each of its columns is.
Written by 'calib setup'; yours to read and mend. A second run keeps your keys and comments.
"assumed" marks what nobody measured or stated: mend it, or true it with 'calib meter'."""

ABOUT: Mapping[TableName, str] = {
    (name,): words for name, words in entries("setup")["table"].items()
}
CHANNEL_ABOUT = """What one column carries. unit: of the numbers as received. reference_V: volts at
the logger's pin that give full_scale counts. divider: volts at the wire over volts at the pin."""


@dataclass(frozen=True, slots=True)
class Proposed:
    """One value that the file should have.

    Attributes:
        table: Names from the top of the file down to the table.
        key: Its name.
        value: As it is to be written.
        origin: Found, stated or assumed.
        why: What speaks for it, or what it would take to know it.
    """

    table: TableName
    key: str
    value: Value
    origin: Origin
    why: str


class Draft:
    """Values for a rig file; of two for one key the stronger origin wins, then the later."""

    def __init__(self) -> None:
        """Start with nothing."""
        self._proposals: dict[TableName, dict[str, Proposed]] = {}

    def put(self, table: TableName, key: str, value: Value, origin: Origin, why: str = "") -> None:
        """Propose a value; see ``Proposed``."""
        self.add(Proposed(table, key, value, origin, why))

    def state(
        self,
        table: TableName,
        values: Mapping[str, Value | None],
        origin: Origin = Origin.STATED,
    ) -> None:
        """Propose what was stated, as far as it was: None for a key of which nothing was."""
        for key, value in values.items():
            if value is not None:
                self.put(table, key, value, origin)

    def add(self, proposed: Proposed) -> None:
        """Take in a proposal."""
        proposals = self._proposals.setdefault(proposed.table, {})
        was = proposals.get(proposed.key)
        if was is None or _STRENGTH.index(proposed.origin) >= _STRENGTH.index(was.origin):
            proposals[proposed.key] = proposed

    @property
    def tables(self) -> tuple[TableName, ...]:
        """Tables that have a value."""
        return tuple(self._proposals)

    def value(self, table: TableName, key: str, default: Value | None = None) -> Value | None:
        """The value that is proposed for a key; ``default`` where none is."""
        proposal = self._proposals.get(table, {}).get(key)
        return default if proposal is None else proposal.value

    def settle(self, path: Path) -> tuple[tuple[Setting, ...], RigEdit]:
        """Hold the draft against the file at ``path``, be there one or not.

        What is found or stated takes the place of what stands there; what is assumed only that of
        an earlier assumption.

        Returns:
            Every value of the draft as the file will have it, and what must be written for that.

        Raises:
            RigError: The file cannot be read.
        """
        settings: list[Setting] = []
        entries: dict[TableName, dict[str, Entry]] = {}
        for table, proposals in self._proposals.items():
            present = entries_of(path, table) if path.exists() else {}
            for key, proposal in proposals.items():
                setting = _settled(proposal, present.get(key))
                settings.append(setting)
                if setting.changed:
                    entries.setdefault(table, {})[key] = _entry(proposal)
        about = {table: CHANNEL_ABOUT for table in entries if table[0] == "channels"}
        return tuple(settings), RigEdit(entries, {**ABOUT, **about}, head=HEAD)


def _settled(proposal: Proposed, present: Entry | None) -> Setting:
    """One value as the file will have it."""
    value, origin, why, changed = proposal.value, proposal.origin, proposal.why, True
    if present is not None:
        there = tuple(present.value) if isinstance(present.value, list) else present.value
        changed = there != value or (present.is_assumed and origin is not Origin.ASSUMED)
        if origin is Origin.ASSUMED and not (changed and present.is_assumed):
            value, changed = there, False
            if not present.is_assumed:
                origin, why = Origin.KEPT, ""
    table, key = ".".join(proposal.table), proposal.key
    return Setting(table=table, key=key, value=value, origin=origin, why=why, changed=changed)


def _entry(proposal: Proposed) -> Entry:
    """A value with our comment on where it comes from."""
    if proposal.origin is Origin.ASSUMED:
        return Entry(proposal.value, f"{ASSUMED} {proposal.value}: {proposal.why}")
    if proposal.why:
        return Entry(proposal.value, f"{proposal.origin.value}: {proposal.why}")
    return Entry(proposal.value)
