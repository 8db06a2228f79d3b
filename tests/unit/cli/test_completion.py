from __future__ import annotations

from pathlib import Path

import click
import pytest
from click.shell_completion import ShellComplete

from calib.cli import COMMANDS, cli
from tests.unit.evidence import RIG


def offered(*words: str) -> list[str]:
    """What is offered after ``words``, the last of which is not finished."""
    complete = ShellComplete(cli, {}, "calib", "_CALIB_COMPLETE")
    return [item.value for item in complete.get_completions(list(words[:-1]), words[-1])]


def test_every_command_is_offered() -> None:
    """Tab after ``calib`` lists what there is."""
    names = {name for part in COMMANDS.values() for name in part}
    assert set(offered("")) >= names


def test_channels_of_the_rig_file_are_offered(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Those of the rig file here, or of the one that --rig names."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("CALIB_RIG", raising=False)
    (tmp_path / "rig.toml").write_text(RIG, encoding="utf-8")
    assert offered("travel", "") == ["grip", "lever"]
    assert offered("travel", "g") == ["grip"]
    other = tmp_path / "other.toml"
    other.write_text(RIG.replace("grip", "thumb"), encoding="utf-8")
    assert offered("travel", "--rig", str(other), "") == ["thumb", "lever"]


@pytest.mark.parametrize("content", [None, b"\xff", b"= bad", b"channels = 3"])
def test_a_rig_file_that_cannot_be_read_offers_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, content: bytes | None
) -> None:
    """Tab never fails."""
    monkeypatch.chdir(tmp_path)
    if content is not None:
        (tmp_path / "rig.toml").write_bytes(content)
    assert offered("travel", "") == []


def test_documents_are_offered() -> None:
    """Names of schemas."""
    assert "travel" in offered("schema", "tr")


def test_every_channel_argument_offers_channels(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever command asks for a channel: Tab knows the rig file."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "rig.toml").write_text(RIG, encoding="utf-8")
    asking = []
    for name in cli.list_commands(click.Context(cli)):
        command = cli.get_command(click.Context(cli), name)
        assert command is not None
        if any(each.name == "channel" and each.required for each in command.params):
            asking.append(name)
            assert offered(name, "") == ["grip", "lever"], name
    assert "travel" in asking
