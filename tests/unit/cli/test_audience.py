from __future__ import annotations

import errno
import io
import os
import re
import urllib.error
import urllib.request
from contextlib import suppress
from pathlib import Path

import pytest
import segno

from calib.cli import main
from calib.cli.audience import audience, gathered
from calib.cli.flow import finish
from calib.cli.options import Shared
from calib.errors import PortError, StoppedError
from calib.guide.events import Kind, LiveEvent
from calib.guide.protocols import Step
from tests.hands import make_rig
from tests.tools import needs_posix
from tests.unit.evidence import travel

HERE = "127.0.0.1"


def asked_for(phone: str | None = None, *, yes: bool = False, speak: bool = False) -> Shared:
    """The options of a live command."""
    return Shared(Path("rig.toml"), phone=phone, yes=yes, speak=speak)


def address(told: str) -> str:
    """The address of the page, as it was printed."""
    found = re.search(r"Live page: (http://\S+)", told)
    assert found is not None
    return found.group(1)


def fetched(url: str) -> str:
    """The page."""
    with urllib.request.urlopen(url, timeout=10) as answer:
        text: str = answer.read().decode()
    return text


@pytest.fixture(autouse=True)
def network(monkeypatch: pytest.MonkeyPatch) -> None:
    """The network of these tests is this machine."""
    monkeypatch.setattr("calib.cli.audience._own_address", lambda: HERE)


@pytest.mark.parametrize("words", [("--phone", "throttle"), ("throttle", "--phone", "lan")])
def test_what_follows_may_be_a_channel(
    words: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The place is optional, so a control's name is not taken for one."""
    make_rig(tmp_path)
    rig = str(tmp_path / "rig.toml")
    with pytest.raises(SystemExit) as ended:
        main(["travel", *words, "--yes", "--rig", rig, "--from", "missing.csv"])
    assert ended.value.code == 3
    assert "missing.csv" in capsys.readouterr().err


@pytest.mark.parametrize("error", [None, KeyboardInterrupt(), PortError("Gone.", "Plug it in.")])
def test_the_server_lives_as_long_as_the_command(
    error: BaseException | None, capsys: pytest.CaptureFixture[str]
) -> None:
    """However it ends: then nothing answers any more."""
    url = ""
    with suppress(KeyboardInterrupt, PortError), gathered(asked_for("here")):
        url = address(capsys.readouterr().err)
        assert "<h1" in fetched(url)
        if error is not None:
            raise error
    with pytest.raises(urllib.error.URLError):
        fetched(url)


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENETUNREACH, "Network is unreachable"),
        (errno.EADDRNOTAVAIL, "Cannot assign requested address"),
        (errno.EADDRINUSE, "Address already in use"),
    ],
)
def test_without_a_network_or_a_port_the_flow_goes_on(
    number: int,
    words: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """One line, and nobody looks on."""

    def refuse() -> str:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr("calib.cli.audience._own_address", refuse)
    with gathered(asked_for("lan")):
        there = audience()
    assert there is not None
    assert there.listeners == ()
    told = capsys.readouterr().err.splitlines()
    assert told == [f"No page for a phone: {words}. The flow goes on without the phone."]


@pytest.mark.parametrize(("typed", "listeners"), [("y\n", 1), ("Yes\n", 1), ("n\n", 0)])
def test_the_network_is_served_after_one_question(
    typed: str,
    listeners: int,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """The address stands there first, so that the phone is ready; a no is borne."""
    monkeypatch.setattr("sys.stdin", io.StringIO(typed))
    with gathered(asked_for("lan")):
        there = audience()
        told = capsys.readouterr().err
        if listeners:
            assert "<h1" in fetched(address(told))
    assert there is not None
    assert len(there.listeners) == listeners
    assert told.count("(y or n)") == 1
    assert told.index("Live page:") < told.index("(y or n)")


def test_enter_alone_does_not_open_the_page_to_the_network(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """An elbow serves nobody, and the port is given back."""
    monkeypatch.setattr("sys.stdin", io.StringIO("\n\n\n"))
    with pytest.raises(StoppedError, match="does not answer"), gathered(asked_for("lan")):
        pass
    with pytest.raises(urllib.error.URLError):
        fetched(address(capsys.readouterr().err))


def test_a_script_says_yes_beforehand(capsys: pytest.CaptureFixture[str]) -> None:
    """``--yes`` asks nothing."""
    with gathered(asked_for("lan", yes=True)):
        assert "(y or n)" not in capsys.readouterr().err


class Screen(io.StringIO):
    """A terminal, kept as text."""

    def isatty(self) -> bool:
        """It is one."""
        return True


@pytest.mark.parametrize("plain", [False, True])
def test_the_address_stands_there_for_a_camera_too(
    plain: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Light on dark in any terminal, within 80 columns; in plain mode nobody reads it out."""
    screen = Screen()
    monkeypatch.setattr("sys.stderr", screen)
    with gathered(Shared(Path("rig.toml"), phone="lan", yes=True, plain=plain)):
        shown = screen.getvalue()
    code = [row for row in shown.splitlines() if "█" in row]
    assert len(code) == (0 if plain else len(drawn(address(shown))))
    assert all(row.startswith("\x1b[97m\x1b[40m") and len(row) < 80 for row in code)


def drawn(url: str) -> list[str]:
    """The rows of the code of an address."""
    rows = io.StringIO()
    segno.make_qr(url, error="l").terminal(rows, compact=True)
    return [row for row in rows.getvalue().splitlines() if "█" in row]


def test_this_machine_alone_is_served_without_a_question(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Nobody else can reach it."""
    with gathered(asked_for("here")):
        told = capsys.readouterr().err
    assert told.splitlines() == [f"Live page: {address(told)}"]
    assert address(told).startswith(f"http://{HERE}:")


def test_a_laptop_without_a_voice_says_so(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A clear word, and bells."""
    monkeypatch.setattr("shutil.which", lambda _: None)
    with gathered(asked_for(speak=True)):
        there = audience()
    assert there is not None
    assert there.listeners == ()
    assert "bells only" in capsys.readouterr().err


@needs_posix
def test_the_laptop_speaks_through_the_program_that_is_there(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """It is given the words as one argument, and the verdict is said before calib goes."""
    program, heard = tmp_path / "espeak-ng", tmp_path / "heard"
    program.write_text(f'#!/bin/sh\necho "$1" >> {heard}\n', encoding="utf-8")
    program.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:{os.environ['PATH']}")
    with gathered(asked_for(speak=True)):
        there = audience()
        assert there is not None
        there.listeners[0](LiveEvent(Kind.ASKED, "x", Step("press", control="throttle")))
        finish(travel(), lambda *_: None, as_json=True)
    assert heard.read_text(encoding="utf-8").splitlines() == ["throttle, press", "pass"]


def test_a_command_that_serves_nobody_has_no_audience() -> None:
    """And after one that did, nobody looks on any more."""
    assert audience() is None
    with gathered(asked_for("here")):
        assert audience() is not None
    assert audience() is None
