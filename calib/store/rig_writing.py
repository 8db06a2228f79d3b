"""Writes what was learned into a rig file, leaving its comments and the rest as they are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.container import OutOfOrderTableProxy
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Trivia

from calib.errors import RigError
from calib.store.files import read_whole, refused_as, write_whole
from calib.store.rig import ASSUMED, read_rig

TableName = tuple[str, ...]
"""Names from the top of the file down to a table."""

_OURS = (ASSUMED, "found", "stated")


@dataclass(frozen=True, slots=True)
class Entry:
    """One value of the file.

    Attributes:
        value: As it is written; tuples become arrays.
        comment: On its line, without the mark.
    """

    value: Any
    comment: str = ""

    @property
    def is_assumed(self) -> bool:
        """Whether the file says so of this very value: one that was typed over it is somebody's."""
        return self.comment.startswith(f"{ASSUMED} {self.value}:")


@dataclass(frozen=True, slots=True)
class RigEdit:
    """What is to be different in a rig file.

    Attributes:
        entries: Values to be set, by table.
        about: What a table is for: written at its top where the table is new.
        without: Tables to be taken out.
        head: What the file is, where the file is new.
    """

    entries: Mapping[TableName, Mapping[str, Entry]]
    about: Mapping[TableName, str] = field(default_factory=dict)
    without: Sequence[TableName] = ()
    head: str = ""


def write_table(path: Path, table: TableName, values: Mapping[str, Any]) -> None:
    """Set some keys of a table; the file is replaced whole, and only when it reads well.

    Args:
        path: The rig file.
        table: Names from the top down to the table; missing ones are made.
        values: Keys and their values; tuples become arrays.

    Raises:
        RigError: The file cannot be read or written, or would no longer be a rig file.
    """
    edit_rig(path, RigEdit({table: {key: Entry(value) for key, value in values.items()}}))


def edit_rig(path: Path, edit: RigEdit) -> None:
    """Make an edit; the file is replaced whole, and only when it reads well.

    A comment that somebody wrote on a line stays; one of ours goes with the value it speaks of.

    Raises:
        RigError: The file cannot be read or written, or would no longer be a rig file.
    """
    content = _edited(path, edit).encode("utf-8")
    read_rig(path, content)
    hint = "Free some space or mend its permissions; what was found is in the record."
    with refused_as(RigError, f"Rig file {path} cannot be written", hint):
        write_whole(path, content)


def entries_of(path: Path, table: TableName) -> dict[str, Entry]:
    """The values of a table with the comments on their lines; none where there is no such table.

    Raises:
        RigError: The file cannot be read.
    """
    place: Any = _parse(path)
    for name in table:
        place = place.get(name)
        if not isinstance(place, Mapping):
            return {}
    return {
        key: Entry(value, _comment(place, key))
        for key, value in place.unwrap().items()
        if not isinstance(value, Mapping)
    }


def _edited(path: Path, edit: RigEdit) -> str:
    """The text of the file with the edit made; of a new one where there is none."""
    is_new_file = edit.head and not path.exists()
    document = _headed(tomlkit.document(), edit.head) if is_new_file else _parse(path)
    for table in edit.without:
        del _place(document, table[:-1], edit.about)[table[-1]]
    for table, entries in edit.entries.items():
        parent = _place(document, table[:-1], edit.about)
        is_new = table[-1] not in parent
        about = edit.about.get(table, "")
        place = _headed(tomlkit.table(), about) if is_new else parent[table[-1]]
        for key, entry in entries.items():
            _put(place, key, entry)
        if is_new:
            place.add(tomlkit.nl())
            parent[table[-1]] = place
    text = tomlkit.dumps(document).rstrip("\n") + "\n"
    for table in edit.entries:  # a new table behind another new one gets a blank line from both
        head = f"[{'.'.join(table)}]\n"
        text = text.replace(f"\n\n\n{head}", f"\n\n{head}")
    return text


def _parse(path: Path) -> tomlkit.TOMLDocument:
    with refused_as(RigError, f"Rig file {path} cannot be read", "Name another with --rig FILE."):
        raw = read_whole(path)
    try:
        return tomlkit.parse(raw.decode("utf-8"))
    except TOMLKitError as error:
        raise RigError(f"Rig file {path} is not valid TOML.", "Mend it by hand.") from error


def _place(document: Any, table: TableName, about: Mapping[TableName, str]) -> Any:
    """A table of the document, made where it is missing."""
    place = document
    for depth, name in enumerate(table, 1):
        if name not in place:
            place[name] = _headed(tomlkit.table(is_super_table=True), about.get(table[:depth], ""))
        place = place[name]
    return place


def _headed(made: Any, text: str) -> Any:
    """A new file or table that says what it is for."""
    for line in text.splitlines():
        made.add(tomlkit.comment(line))
    return made


def _put(place: Any, key: str, entry: Entry) -> None:
    """Set a value; its comment where it is new, or where the old comment was ours."""
    was = _comment(place, key) if key in place else None
    fresh = tomlkit.item(entry.value)
    if was is None or was.startswith(_OURS):
        fresh.trivia.comment_ws = "  " if entry.comment else ""
        fresh.trivia.comment = f"# {entry.comment}" if entry.comment else ""
    place[key] = fresh
    if not entry.comment and was is not None and was.startswith(_OURS):
        trivia = _trivia(place, key)  # what is empty was taken over from the old value
        trivia.comment_ws = trivia.comment = ""


def _comment(place: Any, key: str) -> str:
    """The comment on a key's line, without its mark."""
    return str(_trivia(place, key).comment).lstrip("# ")


def _trivia(place: Any, key: str) -> Trivia:
    """What stands around a value on its line."""
    if isinstance(place, OutOfOrderTableProxy):  # a table in several places of the file
        return getattr(place[key], "trivia", Trivia())
    trivia: Trivia = place.item(key).trivia
    return trivia
