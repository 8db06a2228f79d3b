"""What several tests of the command line start from."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.fake_clock import FakeClock
from tests.tilt_evening import EIGHT, evening
from tests.tilt_files import ACCEL, HEAD, PITCH, TILT


@pytest.fixture(scope="session")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a sound evening; to be copied and never changed."""
    folder = tmp_path_factory.mktemp("sound")
    (folder / "rig.toml").write_text(HEAD + ACCEL + PITCH + TILT, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        patch.setattr("tests.tilt_files.STARTED", EIGHT)
        FakeClock(patch, EIGHT)
        evening(folder)
    return folder
