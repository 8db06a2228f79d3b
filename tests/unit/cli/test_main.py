from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from calib.cli import COMMANDS, main
from tests.unit.evidence import bench, travel


def run(*arguments: str) -> int:
    """Run the command line in this process and give its exit code."""
    with pytest.raises(SystemExit, match=r"\d+") as ended:
        main(arguments)
    code = ended.value.code
    assert isinstance(code, int)
    return code


def test_help_lists_every_command_in_the_order_of_work(capsys: pytest.CaptureFixture[str]) -> None:
    """The help teaches what comes first."""
    assert run("--help") == 0
    shown = capsys.readouterr().out
    names = [name for part in COMMANDS.values() for name in part]
    places = [shown.index(f"\n  {name} ") for name in names]
    assert places == sorted(places)


@pytest.mark.parametrize(
    "arguments", [["no-such-command"], ["record", "--no-such-option"], ["record", "--rig", "none"]]
)
def test_wrong_use_is_one_line_and_exit_code_2(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """What was wrong, then what to do; no traceback, nothing on stdout."""
    assert run(*arguments) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert err.startswith("calib: ")


def test_an_error_under_json_is_one_document(capsys: pytest.CaptureFixture[str]) -> None:
    """A script reads the same text as a person, and the exit code."""
    assert run("record", "--json", "--rig", "none.toml") == 2
    document = json.loads(capsys.readouterr().out)
    assert document["schema"] == "calib.error/1"
    assert document["exit_code"] == 2
    assert "none.toml" in document["what"]
    assert document["hint"]


def test_calib_alone_takes_the_options_of_status(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """A script may ask how far a rig is without naming a command."""
    assert run("--rig", str(tmp_path / "rig.toml"), "--json") == 1
    assert json.loads(capsys.readouterr().out)["schema"] == "calib.status/1"


def test_the_command_line_loads_nothing_heavy_before_a_command_needs_it() -> None:
    """Help comes at once: no numpy, rich, pyserial, msgspec, server, codes or books are loaded."""
    code = (
        "import sys\n"
        "from calib.cli import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        "heavy = {'numpy', 'rich', 'serial', 'scipy', 'msgspec', 'pyarrow', 'matplotlib', "
        "'asyncio', 'http.server', 'segno', 'calib.book'}\n"
        "sys.exit(len(heavy & set(sys.modules)))\n"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False, timeout=60).returncode == 0


@pytest.mark.parametrize("command", ["status", "sheet", "history", "trust"])
def test_what_only_looks_at_records_makes_no_array(tmp_path: Path, command: str) -> None:
    """A glance at what is on file must not wait for libraries that it has no use for."""
    bench(tmp_path).keep(travel(), "grip")
    code = (
        "import sys\n"
        "from calib.cli import main\n"
        f"try:\n    main(['{command}'])\nexcept SystemExit as ended:\n"
        "    assert ended.code in (0, 1)\n"
        "heavy = {'numpy', 'rich', 'serial', 'scipy', 'tomlkit'}\n"
        "sys.exit(len(heavy & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, check=False, timeout=60)
    assert done.returncode == 0
