from __future__ import annotations

from pathlib import Path

import pytest

from calib.errors import RigError
from calib.store.acts import Acts, acts_by_name
from calib.store.rig import load_rig

CONTROL = '[channels.{name}]\nrole = "{role}"\ncolumn = "a0"\nunit = "V"\n{more}'


@pytest.mark.parametrize(
    ("name", "acts"),
    [
        ("throttle", "drive"),
        ("Throttle_B", "drive"),
        ("regen", "brake"),
        ("brake_lever", "brake"),
        ("lever", None),
        ("grip", None),
        ("throttle_regen", None),  # both at once says nothing
        ("driveway", None),
    ],
)
def test_only_a_plain_name_says_what_a_control_does(name: str, acts: Acts | None) -> None:
    """A name that could be either is left open: a wrong word would be worse than none."""
    assert acts_by_name(name) == acts


def test_the_rig_file_has_the_last_word(tmp_path: Path) -> None:
    """What is stated stands, whatever the name."""
    path = tmp_path / "rig.toml"
    path.write_text(CONTROL.format(name="regen", role="control", more='acts = "drive"\n'))
    assert load_rig(path).acts("regen") == "drive"


def test_only_a_control_acts(tmp_path: Path) -> None:
    """A switch that brakes is refused, with its line."""
    path = tmp_path / "rig.toml"
    path.write_text(CONTROL.format(name="x", role="switch", more='acts = "brake"\n'))
    with pytest.raises(RigError, match=r"line 5, channels\.x\.acts: only a control"):
        load_rig(path)


def test_what_the_file_calls_assumed_is_known(tmp_path: Path) -> None:
    """A value whose line says assumed of that very value; one that was typed over it is not."""
    path = tmp_path / "rig.toml"
    path.write_text(
        "[rig]\nsetting_step_V = 0.01  # assumed 0.01: nobody said\n"
        + CONTROL.format(name="throttle", role="control", more="")
        + "divider = 2.0  # assumed 1.0: no divider\n"
    )
    assert load_rig(path).assumed == {"rig.setting_step_V"}
