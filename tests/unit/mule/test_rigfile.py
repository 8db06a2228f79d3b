from __future__ import annotations

from pathlib import Path

import pytest

from calib.mule.bench import CHANNELS, KINDS, draw_bench
from calib.mule.rigfile import rig_text
from calib.store.rig import load_rig


@pytest.mark.parametrize("kind", KINDS)
def test_rig_file_is_valid_and_complete(tmp_path: Path, kind: str) -> None:
    """Every bench writes a rig file that the reader takes, with each of its channels."""
    path = tmp_path / "rig.toml"
    path.write_text(rig_text(draw_bench(1, kind), "/dev/pts/99"))
    rig = load_rig(path)
    assert tuple(rig.channels) == CHANNELS
    assert rig.link.port == "/dev/pts/99"
    assert rig.channel("throttle").full_scale == KINDS[kind].codes
