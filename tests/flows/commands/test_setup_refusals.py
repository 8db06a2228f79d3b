"""What setup, and a rig file without its one wheel, refuse: whose words hang on what is there."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from calib.cli import main
from calib.errors import UsageError
from calib.store.rig import load_rig


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Works in a folder of its own."""
    monkeypatch.chdir(tmp_path)


def refused(capsys: pytest.CaptureFixture[str], log: str, *options: str) -> tuple[str, str]:
    """What was seen and what to do, of a setup from a log that is refused."""
    Path("log.csv").write_text(log, encoding="utf-8")
    with pytest.raises(SystemExit) as ended:
        main(["setup", "--from", "log.csv", "--yes", "--json", *options])
    assert ended.value.code == UsageError.exit_code
    told = json.loads(capsys.readouterr().out)
    return told["what"], told["hint"]


def rows(highest: int) -> str:
    """A clock and counts, without a header line."""
    return "".join(f"{10 * index},{highest - index % 7}\n" for index in range(200))


def test_a_column_that_is_not_sent_is_answered_with_those_that_are(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """By number, and by name where the logger names them."""
    assert refused(capsys, rows(500), "--column", "throttle=9") == (
        "The logger sends no column '9'; it sends 0, 1.",
        "Name one of them by number.",
    )
    assert refused(capsys, f"t_ms,a0\n{rows(500)}", "--column", "throttle=a9") == (
        "The logger sends no column 'a9'; it sends 0 (t_ms), 1 (a0).",
        "Name one of them by number or name.",
    )


def test_counts_of_no_common_converter_name_what_is_missing(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Only what nobody stated."""
    counts = ("--column", "throttle=1", "--unit", "throttle=count")
    what, hint = refused(capsys, rows(50_000_000), *counts)
    assert what == (
        "Counts up to 50000000 are of no common converter of a bare board, so full_scale and "
        "reference_V of 'throttle' cannot be guessed."
    )
    assert hint == "State --full-scale and --reference-V."
    what, _ = refused(capsys, rows(50_000_000), *counts, "--full-scale", "1e9")
    assert what.endswith("so reference_V of 'throttle' cannot be guessed.")


@pytest.mark.parametrize(("typed", "example"), [("--role", "control"), ("--column", "a0")])
def test_a_channel_alone_is_answered_with_an_example(
    capsys: pytest.CaptureFixture[str], typed: str, example: str
) -> None:
    """Of the option that was typed."""
    assert refused(capsys, rows(500), typed, "throttle") == (
        f"{typed} 'throttle': a channel, '=' and a value were expected.",
        f"For instance {typed} throttle={example}.",
    )


def test_no_wheel_and_several_are_told_apart() -> None:
    """One is found by setup, of several one is named."""
    path = Path("rig.toml")
    wheel = "[channels.{}]\nrole = 'wheel'\ncolumn = {}\nunit = 'pulses'\n"
    path.write_text("", encoding="utf-8")
    with pytest.raises(UsageError) as none:
        load_rig(path).wheel(None)
    assert none.value.what == "rig.toml names no channels with the role 'wheel'."
    assert none.value.hint == (
        "'calib setup --work wheel' finds its column; a tape alone needs none: --rolled-m M "
        "--over-turns N."
    )
    path.write_text(wheel.format("front", 0) + wheel.format("rear", 1), encoding="utf-8")
    with pytest.raises(UsageError) as several:
        load_rig(path).wheel(None)
    assert several.value.what == "rig.toml names 2 channels with the role 'wheel'."
    assert several.value.hint == "Name one of: front, rear."
    assert load_rig(path).wheel("rear")[0] == "rear"
