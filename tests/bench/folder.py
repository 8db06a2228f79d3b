"""Every single fault of a file of an evening's folder: `python -m tests.bench.folder [EVERY]`.

The demo's folder is spoiled in one file at a time, each record and each capture with what lies
beside it: cut at twenty places, a bit turned, a pipe, a link to an endless device, a link to
nothing, a folder, somebody else's JSON. Then `status`, `sheet`, `trust` and `history` are run, and
`report` where it may wait for something. No traceback, no wait beyond two seconds over what the
sound folder takes, and all other evidence as before. With EVERY only each EVERY-th fault is tried.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import Any, Final

from calib.cli import main as calib
from tests.bench import ledger

CUTS: Final = 20
LONGEST_S: Final = 2.0
COMMANDS: Final = ("status", "sheet", "trust", "history")
WAITING: Final = ("pipe", "endless", "folder", "link to nothing", "another's JSON")


def _replace(path: Path, content: bytes) -> None:
    path.unlink()
    path.write_bytes(content)


def _cut(share: float) -> Callable[[Path], None]:
    def spoil(path: Path) -> None:
        content = path.read_bytes()
        _replace(path, content[: int(share * len(content))])

    return spoil


def _flip(path: Path) -> None:
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 0x10
    _replace(path, bytes(content))


def _pipe(path: Path) -> None:
    path.unlink()
    os.mkfifo(path)


def _link(to: str) -> Callable[[Path], None]:
    def spoil(path: Path) -> None:
        path.unlink()
        path.symlink_to(to)

    return spoil


def _folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


FAULTS: Final[dict[str, Callable[[Path], None]]] = {
    **{f"cut at {step} of {CUTS}": _cut(step / CUTS) for step in range(CUTS)},
    "bit turned": _flip,
    "pipe": _pipe,
    "endless": _link("/dev/zero"),
    "link to nothing": _link("nowhere"),
    "folder": _folder,
    "another's JSON": lambda path: _replace(path, b'{"schema": "somebody.else/1", "id": 7}'),
}

TILT: Final = {
    "level": ("zero", "rider", "angle", "level zero", "tilt"),
    "signs": ("sign", "axis", "scale", "surge", "angle", "tilt"),
    "surge": ("surge", "angle", "push"),
    "still": ("noise", "angle"),
}


@dataclass(frozen=True)
class Told:
    """What one command said.

    Attributes:
        code: Its exit code.
        parts: Each piece of evidence, entry or step, by name.
        odd: What it must never do; empty where it did not.
        took_s: How long it took, s.
    """

    code: int | str | None
    parts: dict[str, str]
    odd: str
    took_s: float


class _TooLongError(Exception):
    """The command waits for something."""


def ask(command: str, folder: Path, most_s: float) -> Told:
    """Run one command in a folder, in this process."""

    def ring(number: int, frame: FrameType | None) -> None:
        del number, frame
        raise _TooLongError

    out, err = io.StringIO(), io.StringIO()
    code: int | str | None = None
    odd = ""
    signal.signal(signal.SIGALRM, ring)
    signal.setitimer(signal.ITIMER_REAL, most_s)
    began_s = time.perf_counter()
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            calib([command, "--rig", str(folder / "rig.toml"), "--json"])
    except SystemExit as ended:
        code = ended.code
    except _TooLongError:
        odd = "waits"
    except BaseException:  # a traceback is what is looked for
        odd = traceback.format_exc().splitlines()[-1]
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
    took_s = time.perf_counter() - began_s
    if not odd and code not in (0, 1):
        odd = f"ends with {code}: {err.getvalue()[:80]}"
    return Told(code, {} if odd else _parts(json.loads(out.getvalue())), odd, took_s)


def _parts(document: dict[str, Any]) -> dict[str, str]:
    """Each named part of a document with how it stands."""
    found: dict[str, str] = {}
    for key, word in (("evidence", "verdict"), ("steps", "state")):
        for each in document.get(key, ()):
            found[each["name"]] = each[word]
    for each in document.get("entries", ()):
        found[f"{each['channel']} {each['name']}"] = f"{each['state']} {each['value']}"
    for each in document.get("records", ()) if isinstance(document.get("records"), list) else ():
        found[each["id"]] = each["verdict"]
    return found


def may_change(part: str, spoiled: Path) -> bool:
    """Whether a part is of the record that was spoiled, or rests on it."""
    if spoiled.parent.name != "records":
        return False
    _, command, *channel = spoiled.stem.split("-")
    if part == spoiled.stem or part.startswith("trust in"):
        return True
    words = TILT.get(command, ())
    if command == "check":
        words = ("bench check", "wires", "broken wire")
    if command in ("travel", "check", "meter") and channel:
        words = (*words, *channel)
    return any(word in part for word in words)


def copied(source: Path, to: Path) -> Path:
    """A folder with the same files; each is replaced, never written into."""
    shutil.copytree(source, to, copy_function=os.link)
    return to


def tried(source: Path, every: int) -> Iterator[tuple[str, Path, str]]:
    """Each kind of file, the file, and a fault."""
    files = sorted(path for part in ("records", "captures") for path in (source / part).iterdir())
    count = 0
    for path in files:
        for fault in FAULTS:
            count += 1
            if count % every == 0:
                kind = "record" if path.parent.name == "records" else "capture"
                yield kind, path.relative_to(source), fault


def main(every: int = 1) -> int:
    """Write the table; 1 if a bar is missed."""
    tries: Counter[tuple[str, str]] = Counter()
    bad: Counter[tuple[str, str]] = Counter()
    said: list[str] = []
    longest_s = 0.0
    with tempfile.TemporaryDirectory() as name:
        source = Path(name) / "sound"
        command = [sys.executable, "-m", "calib", "demo", "--out", str(source)]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        sound = {each: ask(each, copied(source, Path(name) / each), 60.0)
                 for each in (*COMMANDS, "report")}  # fmt: skip
        for number, (kind, path, fault) in enumerate(tried(source, every)):
            asked = (*COMMANDS, "report") if fault in WAITING else COMMANDS
            folder = copied(source, Path(name) / f"{number}")
            FAULTS[fault](folder / path)
            for each in asked:
                told = ask(each, folder, sound[each].took_s + LONGEST_S)
                changed = [
                    part
                    for part, state in sound[each].parts.items()
                    if told.parts.get(part) != state and not may_change(part, path)
                ]
                longest_s = max(longest_s, told.took_s - sound[each].took_s)
                wrong = told.odd or ", ".join(changed)
                tries[kind, each] += 1
                if wrong:
                    bad[kind, each] += 1
                    said.append(f"{each}, {path} {fault}: {wrong}")
            shutil.rmtree(folder)
    rows = [(kind, each, count, bad[kind, each]) for (kind, each), count in tries.items()]
    body = "\n".join(
        [
            ledger.table(("file", "command", "faults", "wrong"), rows),
            "",
            f"longest wait over the sound folder's: {longest_s:.2f} s",
            f"bars missed: {bad.total() or 'none'}",
        ]
    )
    print(body)
    print("\n".join(said[:40]))
    if every == 1:
        ledger.write("folder", "Every single fault of a file of an evening's folder", body)
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main(*(int(argument) for argument in sys.argv[1:])))
