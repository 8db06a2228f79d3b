from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from calib.errors import RigError, UsageError
from calib.store.conversion import rails, to_base
from calib.store.rig import load_rig

GOOD = """\
[rig]
name = "bench mule"

[link]
port = "/dev/ttyUSB0"

[channels.throttle]
role = "control"
column = "a0"
unit = "count"
full_scale = 1024
reference_V = 5.0
"""


def write(folder: Path, text: str) -> Path:
    """A rig file with ``text`` in it."""
    path = folder / "rig.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_rig_file_says_what_each_column_is(tmp_path: Path) -> None:
    """What is not said has the usual value: 115200 baud, divider 1, a setting step of 10 mV."""
    rig = load_rig(write(tmp_path, GOOD))
    assert rig.channel("throttle").divider == 1.0
    assert rig.link.baud == 115200
    assert rig.rig.setting_step_V == 0.01


def test_counts_become_volts_at_the_middle_of_the_code(tmp_path: Path) -> None:
    """A converter that rounds down gives code 512 for 2.5 V to 2.5049 V: the middle is told."""
    channel = load_rig(write(tmp_path, GOOD)).channel("throttle")
    assert to_base(channel, np.array([512.0]))[0] == pytest.approx(512.5 * 5 / 1024)
    assert rails(channel) == pytest.approx((0.5 * 5 / 1024, 1023.5 * 5 / 1024))


@pytest.mark.parametrize(
    ("old", "new", "line", "says"),
    [
        ("[channels", 'baud = "fast"\n[channels', 7, r"link\.baud"),
        ("full_scale = 1024", "full_scale = -3", 11, r"channels\.throttle\.full_scale"),
        ("full_scale = 1024", "ful_scale = 1024", 11, r"ful_scale"),
        ('unit = "count"', "", 7, r"'unit' is missing"),
        ('role = "control"', 'role = "brake"', 8, r"channels\.throttle\.role"),
        ("reference_V = 5.0", 'supply = "rail"\nreference_V = 5.0', 12, r"no channel named"),
        ("full_scale = 1024", "divider = 1.0", 7, r"needs full_scale"),
        ("reference_V = 5.0", "reference_V = 5.0\npin_max_V = 3.3", 13, r"fit a divider"),
    ],
)
def test_a_broken_rig_file_is_told_by_line_and_key(
    tmp_path: Path, old: str, new: str, line: int, says: str
) -> None:
    """Whatever is wrong, the person is sent to the line and the key."""
    with pytest.raises(RigError, match=rf"line {line},.*{says}"):
        load_rig(write(tmp_path, GOOD.replace(old, new)))


def test_text_that_is_no_toml_is_told_by_line(tmp_path: Path) -> None:
    """A slip of the pen names its line too."""
    with pytest.raises(RigError, match="line 2"):
        load_rig(write(tmp_path, "[rig]\nname = bench\n"))


def test_an_unknown_channel_is_answered_with_the_known_ones(tmp_path: Path) -> None:
    """The hint lists what may be asked for."""
    with pytest.raises(UsageError, match="throttle") as caught:
        load_rig(write(tmp_path, GOOD)).channel("thorttle")
    assert caught.value.exit_code == 2


SCALE = (
    "gain = 1.0\noffset_V = 0.0\nu_gain = 0.001\nu_offset_V = 0.001\n"
    'cov = 0.0\ndate = "2026-11-25"\n'
)


@pytest.mark.parametrize(
    ("keys", "match"),
    [
        ("from_V = 1.0\n", "from_V and to_V go together"),
        ("from_V = 4.0\nto_V = 1.0\n", "from_V must lie below to_V"),
        ("curve = [[1.0, 1.0, 0.001]]\n", "two rows or more"),
        ("curve = [[1.0, 1.0, 0.001], [2.0, 0.9, 0.001]]\n", "all rising"),
    ],
)
def test_a_truing_that_cannot_be_is_refused(tmp_path: Path, keys: str, match: str) -> None:
    """A range of one end, one that falls, or a curve that does not rise, is named with its line."""
    path = tmp_path / "rig.toml"
    channel = '[channels.throttle]\nrole = "control"\ncolumn = "a0"\nunit = "V"\n'
    path.write_text(f"{channel}[channels.throttle.scale]\n{SCALE}{keys}", encoding="utf-8")
    with pytest.raises(RigError, match=match):
        load_rig(path)


def test_only_an_accelerometer_has_a_sign(tmp_path: Path) -> None:
    """A control that counts the other way is reversed, and no key turns it over."""
    path = tmp_path / "rig.toml"
    path.write_text(
        '[channels.throttle]\nrole = "control"\ncolumn = "a0"\nunit = "V"\nsign = -1\n',
        encoding="utf-8",
    )
    with pytest.raises(RigError, match="only an accelerometer's axis has a sign"):
        load_rig(path)


@pytest.mark.parametrize("unit", ["percent", "share"])
def test_a_control_in_shares_needs_the_volts_of_the_whole(tmp_path: Path, unit: str) -> None:
    """Without them its limits would be worded in volts that nobody knows."""
    text = f'[channels.throttle]\nrole = "control"\ncolumn = "a0"\nunit = "{unit}"\n'
    path = tmp_path / "rig.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(RigError, match="needs reference_V, the volts of the whole"):
        load_rig(path)
    path.write_text(text + "reference_V = 5.0\n", encoding="utf-8")
    assert load_rig(path).channel("throttle").reference_V == 5.0
