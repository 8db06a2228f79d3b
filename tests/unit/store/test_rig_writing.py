from __future__ import annotations

from pathlib import Path

import pytest

from calib.errors import RigError
from calib.store.rig import load_rig
from calib.store.rig_writing import Entry, RigEdit, edit_rig, entries_of, write_table

MINE = """\
# my machine, do not touch
[link]
port = "/dev/ttyUSB0" # the red cable
baud = 9600  # found: decodes; 115200 did not
header = true

[channels.throttle]
role = "control"
column = "a0"
unit = "count"
full_scale = 1024  # assumed 1024: the usual width
reference_V = 5.0  # assumed 5.0: the usual supply

[tilt]
wheelbase_mm = 1250 # metered

[channels.throttle.limits]
"rest spread" = 0.02
"""


@pytest.fixture
def rig(tmp_path: Path) -> Path:
    """A rig file that somebody has written in."""
    path = tmp_path / "rig.toml"
    path.write_text(MINE, encoding="utf-8")
    return path


def changed_lines(path: Path) -> list[str]:
    """Lines that are not as they were."""
    before = set(MINE.splitlines())
    return [line for line in path.read_text(encoding="utf-8").splitlines() if line not in before]


def test_only_what_is_set_changes(rig: Path) -> None:
    """One value is another one; every other line, comments too, is as it was."""
    write_table(rig, ("link",), {"port": "/dev/ttyACM0"})
    assert changed_lines(rig) == ['port = "/dev/ttyACM0" # the red cable']


def test_our_comment_goes_with_its_value(rig: Path) -> None:
    """A comment of ours speaks of the old value, so it goes; one that is given takes its place."""
    edit_rig(rig, RigEdit({("link",): {"baud": Entry(57600, "found: decodes")}}))
    write_table(rig, ("link",), {"header": False})
    assert changed_lines(rig) == ["baud = 57600  # found: decodes", "header = false"]
    write_table(rig, ("link",), {"baud": 19200})
    assert changed_lines(rig) == ["baud = 19200", "header = false"]


def test_a_table_in_two_places_can_be_edited(rig: Path) -> None:
    """Where a channel's tables stand apart in the file, its values are still reached."""
    values = {"reference_V": Entry(4.96, "stated: metered"), "divider": Entry(2.0)}
    edit_rig(rig, RigEdit({("channels", "throttle"): values}))
    channel = load_rig(rig).channels["throttle"]
    assert (channel.reference_V, channel.divider) == (4.96, 2.0)
    assert channel.limits == {"rest spread": 0.02}
    assert "reference_V = 4.96  # stated: metered" in changed_lines(rig)


def test_a_new_table_says_what_it_is_for(rig: Path) -> None:
    """It stands with its comment, apart from its neighbours by one blank line."""
    table = ("channels", "regen")
    values = {"role": Entry("control"), "column": Entry("a1"), "unit": Entry("V", "assumed: dots")}
    edit_rig(rig, RigEdit({table: values, ("time",): {"unit": Entry("ms")}}, {table: "The lever."}))
    text = rig.read_text(encoding="utf-8")
    assert '\n\n[channels.regen]\n# The lever.\nrole = "control"\n' in text
    assert "\n\n\n" not in text
    assert set(MINE.splitlines()) <= set(text.splitlines())


def test_a_new_file_says_what_it_is(tmp_path: Path) -> None:
    """It begins with what it is for."""
    path = tmp_path / "new.toml"
    edit_rig(path, RigEdit({("link",): {"port": Entry("/dev/x")}}, head="A rig file.\nMend it."))
    assert path.read_text().startswith("# A rig file.\n# Mend it.\n\n[link]\n")


def test_what_cannot_be_is_not_written(rig: Path) -> None:
    """A value that the file may not hold leaves it as it was, and no second file behind."""
    with pytest.raises(RigError, match=r"rig\.toml, line 4, link\.baud"):
        write_table(rig, ("link",), {"baud": "fast"})
    assert rig.read_text(encoding="utf-8") == MINE
    assert list(rig.parent.iterdir()) == [rig]


def test_entries_are_read_with_their_comments(rig: Path) -> None:
    """What the file says of a value is known, and whether it is an assumption."""
    link = entries_of(rig, ("link",))
    throttle = entries_of(rig, ("channels", "throttle"))
    assert link["port"] == Entry("/dev/ttyUSB0", "the red cable")
    assert (link["header"].value, link["baud"].is_assumed) == (True, False)
    assert throttle["full_scale"].is_assumed
    assert entries_of(rig, ("channels", "nobody")) == {}
