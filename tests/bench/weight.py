"""What an installation of calib weighs: bytes to download and bytes on disk, package by package.

Run it with ``python -m tests.bench.weight``; ``--extra NAME`` adds one of our extras. The wheel is
built from this clone and downloaded and installed, with what it requires, into a new environment
in a folder that is removed afterwards. pip itself does not count: every Python brings one.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
import tempfile
import venv
from importlib.metadata import Distribution, distributions
from pathlib import Path

MOST_INSTALLED_MB, MOST_DOWNLOAD_MB = 300.0, 80.0
"""Goals; own choice: what an old laptop's disk and a telephone's hot spot bear without thought."""
MB = 1e6
NOT_OURS = {"pip", "setuptools"}
CLONE = Path(__file__).parents[2]


def installed_bytes(package: Distribution) -> int:
    """Bytes of the files that a package has put down, compiled modules among them."""
    files = (Path(str(package.locate_file(each))) for each in package.files or ())
    return sum(each.stat().st_size for each in files if each.is_file())


def downloaded(extra: str | None, folder: Path) -> dict[str, int]:
    """Wheels that pip fetches for calib, with their bytes; our own is built here."""
    wanted = f"{CLONE}[{extra}]" if extra else str(CLONE)
    pip = [sys.executable, "-m", "pip", "--quiet", "--disable-pip-version-check"]
    subprocess.run([*pip, "wheel", "--wheel-dir", str(folder), wanted], check=True)
    return {
        plain(each.name.partition("-")[0]): each.stat().st_size for each in folder.glob("*.whl")
    }


def plain(name: str) -> str:
    """A package's name as all its spellings have it. Source: Python packaging, PEP 503."""
    return re.sub(r"[-_.]+", "-", name).lower()


def installed(wheels: Path, folder: Path) -> dict[str, int]:
    """Install these wheels into a new environment and weigh every package in it."""
    venv.create(folder, with_pip=True)
    (python,) = [*folder.glob("bin/python"), *folder.glob("Scripts/python.exe")]
    files = [str(each) for each in wheels.glob("*.whl")]
    quiet = ["-m", "pip", "--quiet", "--disable-pip-version-check"]
    subprocess.run([str(python), *quiet, "install", "--no-index", *files], check=True)
    where = subprocess.run(
        [str(python), "-c", "import sysconfig; print(sysconfig.get_path('purelib'))"],
        check=True,
        capture_output=True,
        text=True,
    ).stdout.strip()
    found = {plain(each.name): installed_bytes(each) for each in distributions(path=[where])}
    return {name: size for name, size in found.items() if name not in NOT_OURS}


def main() -> None:
    """Print one line a package, heaviest first, and the sums against their goals."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--extra", help="one of our extras, to weigh with it")
    extra = parser.parse_args().extra
    with tempfile.TemporaryDirectory() as scratch:
        wheels = Path(scratch) / "wheels"
        download = downloaded(extra, wheels)
        disk = installed(wheels, Path(scratch) / "environment")
    print(f"{'package':<20} {'on disk':>9} {'download':>9}")
    for name in sorted(disk, key=lambda each: disk[each], reverse=True):
        print(f"{name:<20} {disk[name] / MB:6.1f} MB {download[name] / MB:6.1f} MB")
    on_disk, to_fetch = sum(disk.values()) / MB, sum(download.values()) / MB
    print(
        f"{'all':<20} {on_disk:6.1f} MB {to_fetch:6.1f} MB "
        f"(goals: {MOST_INSTALLED_MB:g} and {MOST_DOWNLOAD_MB:g} MB)"
    )
    raise SystemExit(on_disk > MOST_INSTALLED_MB or to_fetch > MOST_DOWNLOAD_MB)


if __name__ == "__main__":
    main()
