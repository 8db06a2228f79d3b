from __future__ import annotations

import os
import tempfile
from pathlib import Path

import pytest

from calib.errors import UsageError
from calib.mule.presence import announced, is_simulated, require_pseudo_terminals


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


def test_system_without_pseudo_terminals_is_told_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """Elsewhere the bench is refused with a word, before anything that is missing is imported."""
    monkeypatch.setattr(os, "name", "nt")
    with pytest.raises(UsageError, match="pseudo-terminal"):
        require_pseudo_terminals()
