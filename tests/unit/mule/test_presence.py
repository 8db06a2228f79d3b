from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

import pytest

from calib.mule import presence
from calib.mule.presence import announced, is_simulated


@pytest.fixture(autouse=True)
def _own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))


def test_a_port_is_simulated_only_while_its_bench_runs() -> None:
    """A real port is never taken for the bench, nor a bench that has ended."""
    assert not is_simulated("/dev/ttyUSB0")
    with announced("/dev/pts/77"):
        assert is_simulated("/dev/pts/77")
        assert not is_simulated("/dev/pts/7")
    assert not is_simulated("/dev/pts/77")


def test_a_note_of_a_bench_that_was_killed_does_not_count(tmp_path: Path) -> None:
    """The process that wrote it must be alive."""
    with announced("/dev/pts/77"):
        note = next((tmp_path / f"calib-benches-{os.getuid()}").iterdir())
        note.write_text("999999999", encoding="ascii")
        assert not is_simulated("/dev/pts/77")


def test_a_folder_that_others_can_write_to_does_not_count(tmp_path: Path) -> None:
    """Nobody else can take the question about the isolation away."""
    with announced("/dev/pts/77"):
        (tmp_path / f"calib-benches-{os.getuid()}").chmod(0o777)
        assert not is_simulated("/dev/pts/77")


def test_the_address_of_a_socket_is_no_path() -> None:
    """A bench on the loopback address is known from whatever folder one looks."""
    with announced("socket://127.0.0.1:50123"), contextlib.chdir("/"):
        assert is_simulated("socket://127.0.0.1:50123")
        assert not is_simulated("socket://127.0.0.1:5012")


def test_on_windows_a_note_counts_while_its_bench_has_it_open(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Signal 0 would be Ctrl-C there; but nobody can remove a file that a program has open.

    Source: Microsoft, CreateFile, FILE_SHARE_DELETE.
    """
    port = "socket://127.0.0.1:50123"

    def refuse(path: Path) -> None:
        raise PermissionError(13, "The process cannot access the file", str(path), 32)

    with monkeypatch.context() as windows:
        windows.setattr(presence, "POSIX", False)
        with announced(port), monkeypatch.context() as held:
            held.setattr(Path, "unlink", refuse)
            assert is_simulated(port)
        assert not is_simulated(port)
