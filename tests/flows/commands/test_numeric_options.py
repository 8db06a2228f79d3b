"""Every option that takes a number, as click's own tree lists them: what is none is refused."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from calib.cli import COMMANDS, cli, main
from calib.cli.options import Quantity

NO_NUMBERS = ("nan", "inf", "-inf", "1e300", "", "1e", "0x10")


def numeric() -> Iterator[tuple[str, click.Option]]:
    """Every option of every command whose values are numbers."""
    context = click.Context(cli)
    for part in COMMANDS.values():
        for name in part:
            command = cli.get_command(context, name)
            assert command is not None
            for option in command.params:
                kinds = (click.types.FloatParamType, click.types.IntParamType)
                if isinstance(option, click.Option) and isinstance(option.type, kinds):
                    yield name, option


OPTIONS = [pytest.param(name, option, id=f"{name} {option.opts[0]}") for name, option in numeric()]


def test_there_are_options_to_test() -> None:
    """A tree that was read wrongly would prove nothing."""
    assert len(OPTIONS) > 40


@pytest.mark.parametrize(("command", "option"), OPTIONS)
def test_a_numeric_option_has_a_range(command: str, option: click.Option) -> None:
    """A number without a range is no quantity: one option type for all that are measured."""
    kind = option.type
    assert isinstance(kind, Quantity | click.IntRange), f"{command} {option.opts[0]}"
    assert kind.min is not None
    assert kind.max is not None


@pytest.mark.parametrize(("command", "option"), OPTIONS)
def test_what_is_no_number_in_range_ends_with_two(
    command: str, option: click.Option, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    """Before anything is opened: exit code 2, one line, no traceback, nothing kept."""
    for typed in NO_NUMBERS:
        with pytest.raises(click.BadParameter):
            option.type.convert(typed, option, click.Context(cli))
    monkeypatch.chdir(tmp_path)
    with pytest.raises(SystemExit, match="2"):
        main([command, f"{option.opts[0]}=nan", *["nan"] * (option.nargs - 1)])
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    assert err.startswith("calib: ")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("command", "option"), OPTIONS)
def test_an_odd_way_to_write_a_number_is_read_rightly_or_not_at_all(
    command: str, option: click.Option
) -> None:
    """-0 is 0 and 0,5 is a half, or they are refused."""
    del command
    for typed, meant in (("-0", ("0", "0.0")), ("0,5", ("0.5",))):
        try:
            value = option.type.convert(typed, option, click.Context(cli))
        except click.BadParameter:
            continue
        assert str(value) in meant
