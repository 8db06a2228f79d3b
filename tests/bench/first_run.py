"""From nothing to the demo's report: how many commands, how many seconds.

Run it with ``python -m tests.bench.first_run``. It takes the README's first command as it stands,
in a fresh clone with a fresh environment. The package index and its cache decide part of the time,
so the parts are told apart.
"""

from __future__ import annotations

import subprocess
import tempfile
import time
from pathlib import Path

from tests.tools import REPOSITORY


def main() -> None:
    """Clone, run, print."""
    readme = (REPOSITORY / "README.md").read_text(encoding="utf-8")
    command = next(
        line.strip() for line in readme.splitlines() if line.startswith("    python3 -m venv")
    )
    with tempfile.TemporaryDirectory() as name:
        clone = Path(name) / "calib"
        subprocess.run(["git", "clone", "-q", str(REPOSITORY), str(clone)], check=True)
        print(f"commands: 1\n  {command}")
        whole_s = 0.0
        for part in command.split(" && "):
            start_s = time.perf_counter()
            subprocess.run(["bash", "-c", part], cwd=clone, check=True, stdout=subprocess.DEVNULL)
            took_s = time.perf_counter() - start_s
            whole_s += took_s
            print(f"{took_s:7.1f} s  {part}")
        report = next(clone.glob("calib-demo/report.html"))
        print(f"{whole_s:7.1f} s  in all, to {report.name} of {report.stat().st_size} bytes")


if __name__ == "__main__":
    main()
