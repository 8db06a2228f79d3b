"""Where a system has no pseudo-terminals, no groups and no /proc, as Windows has not."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from tests.tools import REPOSITORY

HIDDEN = "import tests.hidden; from calib.cli import main; main()"


def test_the_demo_runs_over_a_socket_on_a_code_page(tmp_path: Path) -> None:
    """The same evening with the same end, its port on the loopback address, in cp1252's letters."""
    done = subprocess.run(
        [sys.executable, "-c", HIDDEN, "demo"],
        cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(REPOSITORY), "PYTHONIOENCODING": "cp1252"},
        capture_output=True,
        timeout=180,
        check=False,
    )
    assert done.returncode == 0, done.stderr.decode("utf-8", "replace")[-2000:]
    rig = (tmp_path / "calib-demo/rig.toml").read_text(encoding="utf-8")
    assert 'port = "socket://127.0.0.1:' in rig
    assert (tmp_path / "calib-demo/report.html").stat().st_size > 100_000
    assert b"Traceback" not in done.stderr
