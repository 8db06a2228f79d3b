"""Help that ends with an example, and slips of the keys."""

from __future__ import annotations

import re
import shlex
from types import FunctionType

import click
import pytest

from calib.cli import COMMANDS, cli, main

NAMES = [name for part in COMMANDS.values() for name in part]


@pytest.mark.parametrize("name", NAMES)
def test_every_help_ends_with_one_example_that_the_command_takes(name: str) -> None:
    """The last line can be typed: its options exist and its values can be read."""
    context = click.Context(cli, info_name="calib")
    command = cli.get_command(context, name)
    assert command is not None
    text = command.get_help(click.Context(command, info_name=name, parent=context))
    last = text.rstrip().splitlines()[-1].strip()
    assert last.startswith(f"Example: calib {name}")
    words = shlex.split(last.removeprefix("Example: "))[2:]
    assert command.make_context(name, words).params is not None


@pytest.mark.parametrize("name", NAMES)
def test_every_option_has_its_words_and_no_words_are_left_over(name: str) -> None:
    """What a docstring says of options is said of options that the command has, each in a line."""
    command = cli.get_command(click.Context(cli), name)
    assert command is not None
    options = {each.opts[0]: each.help for each in command.params if isinstance(each, click.Option)}
    assert all(options.values())
    assert "Options:" not in (command.help or "")
    assert isinstance(command.callback, FunctionType)
    _, _, listed = (command.callback.__doc__ or "").partition("Options:\n")
    told = re.findall(r"^ {8}(--[\w-]+): ", listed, re.MULTILINE)
    assert set(told) <= set(options)
    assert len(told) == len(set(told))


@pytest.mark.parametrize(
    ("typed", "hint"),
    [
        ("travl", "Did you mean 'calib travel'?"),
        ("lvel", "Did you mean 'calib level'?"),
        ("xyzzy", "See 'calib --help'."),
        ("tr\x1b[2Javel", "There is no command"),
    ],
)
def test_a_slip_of_the_keys_is_told_with_the_nearest_command(
    typed: str, hint: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """One line, exit code 2, and nothing that was typed is obeyed."""
    with pytest.raises(SystemExit, match="2"):
        main([typed])
    err = capsys.readouterr().err
    assert hint in err
    assert "\x1b" not in err
    assert len(err.splitlines()) == 1


@pytest.mark.parametrize("option", ["1,12", "1.12"])
def test_a_decimal_comma_will_do_in_an_option(
    option: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """As at every prompt: what is wrong here is the other value that is missing."""
    with pytest.raises(SystemExit, match="2"):
        main(["travel", "x", "--shown-rest", option, "--rig", "none.toml"])
    assert "none.toml" in capsys.readouterr().err
