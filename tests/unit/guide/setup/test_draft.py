from __future__ import annotations

from pathlib import Path

import pytest

from calib.guide.setup.draft import Draft
from calib.store.documents.printed import Origin, Setting
from calib.store.rig_writing import edit_rig

LINK = ("link",)
FILE = """\
[link]
port = "/dev/x"  # by the window
baud = 9600  # assumed 9600: nobody said
poll_s = 0.2
"""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A rig file with one assumed value and two that somebody wrote."""
    path = tmp_path / "rig.toml"
    path.write_text(FILE, encoding="utf-8")
    return path


def settle(path: Path, key: str, value: float | str, origin: Origin) -> Setting:
    """Hold one proposal against the file, and write what comes of it."""
    draft = Draft()
    draft.put(LINK, key, value, origin, "because")
    (setting,), edit = draft.settle(path)
    if edit.entries:
        edit_rig(path, edit)
    return setting


def test_an_assumption_never_takes_the_place_of_what_somebody_wrote(path: Path) -> None:
    """What stands in the file without our mark is kept."""
    setting = settle(path, "poll_s", 0.1, Origin.ASSUMED)
    assert (setting.value, setting.origin, setting.changed) == (0.2, Origin.KEPT, False)
    assert path.read_text(encoding="utf-8") == FILE


def test_an_assumption_stays_one_until_somebody_says_it(path: Path) -> None:
    """On the next run it is still told as assumed; stated, even the same, it is not any more."""
    again = settle(path, "baud", 9600, Origin.ASSUMED)
    assert (again.origin, again.changed) == (Origin.ASSUMED, False)
    said = settle(path, "baud", 9600, Origin.STATED)
    assert (said.origin, said.changed) == (Origin.STATED, True)
    assert settle(path, "baud", 19200, Origin.ASSUMED).origin is Origin.KEPT


def test_a_better_assumption_takes_the_place_of_a_worse(path: Path) -> None:
    """What was assumed from less is assumed anew from more."""
    assert settle(path, "baud", 19200, Origin.ASSUMED).changed
    assert "baud = 19200  # assumed 19200: because" in path.read_text(encoding="utf-8")


def test_what_is_found_takes_the_place_of_what_stands_there(path: Path) -> None:
    """The file is mended, and the person's comment stays."""
    assert settle(path, "port", "/dev/y", Origin.FOUND).changed
    assert 'port = "/dev/y"  # by the window' in path.read_text(encoding="utf-8")


def test_what_is_found_again_changes_nothing(path: Path) -> None:
    """The same value is no change."""
    assert not settle(path, "port", "/dev/x", Origin.FOUND).changed
    assert path.read_text(encoding="utf-8") == FILE


@pytest.mark.parametrize("first", [Origin.STATED, Origin.FOUND])
def test_the_stronger_origin_wins(path: Path, first: Origin) -> None:
    """Of two proposals what was said beats what was found, and that what is assumed."""
    draft = Draft()
    draft.put(LINK, "baud", 4800, first)
    draft.put(LINK, "baud", 2400, Origin.ASSUMED)
    assert draft.value(LINK, "baud") == 4800
    draft.put(LINK, "baud", 1200, Origin.STATED)
    assert draft.settle(path)[0][0].value == 1200
