"""Options that say nothing alone, in whatever command they stand."""

from __future__ import annotations

from pathlib import Path

import pytest

from calib.cli import main
from tests.hands import make_rig


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["history", "--supersede", "x"], "--supersede and --because go together."),
        (["history", "--because", "slip"], "--supersede and --because go together."),
        (["display", "--pack-V-shown", "58"], "--pack-V-shown and --pack-V-meter go together."),
        (["wheel", "--true-kmh", "30"], "--shown-kmh and --true-kmh go together."),
        (["wheel", "--set-mm", "1984"], "--set-pulses and --set-mm go together."),
    ],
)
def test_one_of_two_that_go_together_is_refused(
    arguments: list[str], told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Both are named as they are typed, with what to do; nothing is kept."""
    make_rig(tmp_path)
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(SystemExit, match="2"):
        main([*arguments, "--rig", str(tmp_path / "rig.toml")])
    assert f"calib: {told} " in capsys.readouterr().err
    assert sorted(tmp_path.rglob("*")) == before
