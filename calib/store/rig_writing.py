"""Writes what was learned into a rig file, leaving its comments and the rest as they are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from calib.errors import RigError
from calib.store.rig import load_rig


def write_table(path: Path, table: Sequence[str], values: Mapping[str, Any]) -> None:
    """Set some keys of a table; the file is replaced whole, and only when it reads well.

    Args:
        path: The rig file.
        table: Names from the top down to the table; missing ones are made.
        values: Keys and their values; tuples become arrays.

    Raises:
        RigError: The file cannot be read or written, or would no longer be a rig file.
    """
    fresh = path.with_name(path.name + ".new")
    try:
        document = tomlkit.parse(path.read_text(encoding="utf-8"))
        place: Any = document
        for name in table:
            if name not in place:
                place[name] = tomlkit.table()
            place = place[name]
        for key, value in values.items():
            place[key] = _plain(value)
        fresh.write_text(tomlkit.dumps(document), encoding="utf-8")
        load_rig(fresh)
        fresh.replace(path)
    except RigError:
        fresh.unlink(missing_ok=True)
        raise
    except OSError as error:
        raise RigError(
            f"Rig file {path} cannot be written: {error.strerror}.",
            "Free some space or mend its permissions; what was found is in the record.",
        ) from error
    except TOMLKitError as error:
        raise RigError(f"Rig file {path} is not valid TOML.", "Mend it by hand.") from error


def _plain(value: Any) -> Any:
    """A value with lists in place of tuples."""
    if isinstance(value, tuple | list):
        return [_plain(each) for each in value]
    return value
