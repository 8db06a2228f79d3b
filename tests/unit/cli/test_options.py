"""What options give, and options that say nothing alone, in whatever command they stand."""

from __future__ import annotations

from pathlib import Path
from types import NoneType
from typing import Any, get_args, get_type_hints

import click
import pytest

from calib.cli import COMMANDS, cli, main
from calib.cli.options import Quantity
from tests.hands import make_rig

READ_BY: dict[type, type[click.ParamType[Any]]] = {
    float: Quantity,
    int: click.IntRange,
    Path: click.Path,
}
"""What reads a value of a parameter's type; text is read by anything else."""


@pytest.mark.parametrize("name", [name for part in COMMANDS.values() for name in part])
def test_an_option_gives_what_its_parameter_says(name: str) -> None:
    """A flag for a bool, several for a tuple, a number for a number, and nothing where it may."""
    command = cli.get_command(click.Context(cli), name)
    assert command is not None
    assert command.callback is not None
    hints = get_type_hints(command.callback)
    words = ["x" for each in command.params if each.required]
    untyped = command.make_context(name, words).params
    for param in command.params:
        if param.name not in hints:
            continue  # one of the shared, or handed on whole
        said = hints[param.name]
        kinds = [each for each in get_args(said) or (said,) if each not in (NoneType, ...)]
        value = untyped[param.name]
        assert (value is None) == (NoneType in get_args(said)), param.name
        assert (isinstance(param, click.Option) and param.is_flag) == (said is bool), param.name
        assert ("tuple[" in str(said)) == (param.multiple or param.nargs > 1), param.name
        read = (get_args(kinds[0]) or kinds)[0]
        by = [each for each in READ_BY.values() if isinstance(param.type, each)]
        assert by == ([READ_BY[read]] if read in READ_BY else []), param.name


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
