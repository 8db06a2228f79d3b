"""Every key of the rig file: another value makes what used it stale, is refused, or is idle."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any, Literal, get_args, get_origin, get_type_hints

import msgspec
import pytest
import tomlkit

from calib.errors import RigError
from calib.store.asked import keys_of
from calib.store.records import load_records
from calib.store.rig import Channel, Link, RigNotes, Tilt, Time, load_rig
from tests.fake_clock import FakeClock
from tests.tilt_evening import EIGHT, judged

KEYS = [
    *(("rig", key) for key in RigNotes.__struct_fields__),
    *(("link", key) for key in Link.__struct_fields__),
    *(("time", key) for key in Time.__struct_fields__),
    *(("tilt", key) for key in Tilt.__struct_fields__),
    *(("channels.pitch", key) for key in Channel.__struct_fields__),
    *(("channels.ax", key) for key in Channel.__struct_fields__),
]
TABLES: dict[str, type] = {"rig": RigNotes, "link": Link, "time": Time, "tilt": Tilt}
IDENTITY = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]
BY_HAND: dict[str, Any] = {
    "scale": {"gain": 1.1, "offset_V": 0.1, "u_gain": 0.0, "u_offset_V": 0.0, "cov": 0.0,
              "date": "2026-03-01"},
    "truing": {"bias": [0.05, 0.0, 0.0], "matrix": IDENTITY, "u": 0.001, "date": "2026-03-01"},
    "limits": {"glitch_pct": 2.5},
    "second_track": "ay",
    "supply": "az",
    "column": "az",
    "role": "other",
    "unit": "mg",
    "output_range_V": [0.5, 4.5],
    "columns": ["t_ms", "az", "ay", "ax", "p"],
    "queries": ["MEAS?"],
}  # fmt: skip


def another(kind: type, key: str, old: Any) -> Any:
    """Another value of a key that the rig file takes."""
    if key in BY_HAND:
        return BY_HAND[key]
    hint = get_type_hints(kind)[key]
    options = [part for part in (get_args(hint) or (hint,)) if part is not type(None)]
    words = [word for part in (hint, *options) if get_origin(part) is Literal
             for word in get_args(part)]  # fmt: skip
    if words:
        return next(word for word in words if word != old)
    if bool in options:
        return not old
    if float in options or int in options:
        extra = get_type_hints(kind, include_extras=True)[key]
        for part in (extra, *get_args(extra)):
            for meta in getattr(part, "__metadata__", ()):
                low, high = meta.ge, meta.le
                if low is not None and high is not None:
                    middle = (low * high) ** 0.5 if low > 0 else (low + high) / 2
                    value = middle if middle != old else (middle + high) / 2
                    return int(value) if int in options else float(value)
        return 65536
    return "something else"


@pytest.mark.parametrize(("table", "key"), KEYS)
def test_a_key_makes_stale_or_changes_nothing(
    sound: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str], table: str, key: str,
) -> None:  # fmt: skip
    """Nobody keeps a list: what was read is noted, and what was not read cannot matter."""
    folder = tmp_path / "here"
    shutil.copytree(sound, folder, ignore=shutil.ignore_patterns("rest.csv"))
    monkeypatch.chdir(folder)
    FakeClock(monkeypatch, EIGHT)
    path = folder / "rig.toml"
    document: Any = tomlkit.parse(path.read_text(encoding="utf-8"))
    place = document
    for name in table.split("."):
        place = place.setdefault(name, tomlkit.table())
    kind = TABLES.get(table, Channel)
    place[key] = another(kind, key, place.get(key))
    path.write_text(tomlkit.dumps(document), encoding="utf-8")
    try:
        there = keys_of(load_rig(path))
    except RigError:
        return  # a rig file that is refused lends no value to anything
    records = load_records(folder)
    stale = {record.command for record in records
             if any(there.get(each.key) != each.value for each in record.rests_on)}  # fmt: skip
    if "surge" not in stale:
        before = next(record.document for record in records if record.command == "surge")
        _, after = judged(capsys, "surge", "--from", sound / "shake.csv")
        assert list(msgspec.to_builtins(before)["findings"]) == after["findings"]
