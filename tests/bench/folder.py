"""Every single fault of a file of an evening's folder: `python -m tests.bench.folder`.

The demo's folder is spoiled in one file at a time, each record and each capture with what lies
beside it: cut at twenty places, a bit turned, a pipe, a link to an endless device, a link to
nothing, a folder, somebody else's JSON. Then `status`, `sheet`, `trust`, `history` and `report` are
run. No traceback, no wait beyond two seconds over what the sound folder takes, and all other
evidence as before. What a command waited for its turn on a busy processor is taken off.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import multiprocessing
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import Any, Final

from calib.cli import main as calib
from tests.bench import ledger

CUTS: Final = 20
LONGEST_S: Final = 2.0
HANGS_S: Final = 30.0
DEMOS: Final = 5
COMMANDS: Final = ("status", "sheet", "history", "report", "trust")  # the last one keeps a record


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
        took_s: How long it took, less what it waited for its turn on the processor, s.
    """

    code: int | str | None
    parts: dict[str, str]
    odd: str
    took_s: float


class _TooLongError(Exception):
    """The command waits for something."""


def ask(command: str, folder: Path) -> Told:
    """Run one command in a folder, in this process."""

    def ring(number: int, frame: FrameType | None) -> None:
        del number, frame
        raise _TooLongError

    out, err = io.StringIO(), io.StringIO()
    code: int | str | None = None
    odd = ""
    signal.signal(signal.SIGALRM, ring)
    signal.setitimer(signal.ITIMER_REAL, HANGS_S)
    began_s = _served_s()
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            calib([command, "--rig", str(folder / "rig.toml"), "--json"])
    except SystemExit as ended:
        code = ended.code
    except _TooLongError:
        odd = "hangs"
    except BaseException:  # a traceback is what is looked for
        odd = traceback.format_exc().splitlines()[-1]
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
    took_s = _served_s() - began_s
    if not odd and code not in (0, 1):
        odd = f"ends with {code}: {err.getvalue()[:80]}"
    return Told(code, {} if odd else _parts(json.loads(out.getvalue())), odd, took_s)


def _served_s() -> float:
    """A clock that stands while the main thread waits for its turn on the processor, s.

    Source: second field of ``/proc/PID/schedstat``, time on the run queue in ns (Linux kernel,
    Documentation/scheduler/sched-stats).
    """
    queued_ns = int(Path("/proc/self/schedstat").read_text("ascii").split()[1])
    return time.perf_counter() - queued_ns / 1e9


def _parts(document: dict[str, Any]) -> dict[str, str]:
    """Each named part of a document with how it stands; of a report, each record that is shown."""
    found: dict[str, str] = {}
    if document["schema"] == "calib.report/1":
        shown = re.findall(r'<section id="([^"]+)"', Path(document["path"]).read_text("utf-8"))
        return dict.fromkeys(shown, "shown")
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


@dataclass(frozen=True)
class Tried:
    """What one command made of one fault.

    Attributes:
        kind: Kind of file that was spoiled.
        command: The command.
        wrong: What it did that it must not; empty where it did nothing such.
        over_s: How much longer it took than over the sound folder, s.
    """

    kind: str
    command: str
    wrong: str
    over_s: float


Job = tuple[Path, Path, str, dict[str, Told]]


def files_of(folder: Path) -> list[Path]:
    """Every record and every capture of a folder, with what lies beside it."""
    return sorted(path for part in ("records", "captures") for path in (folder / part).iterdir())


def spoiled(job: Job) -> list[Tried]:
    """One fault in one file under every command."""
    source, path, fault, sound = job
    kind = "record" if path.parent.name == "records" else "capture"
    found = []
    with tempfile.TemporaryDirectory(dir=source.parent) as name:
        folder = copied(source, Path(name) / "folder")
        FAULTS[fault](folder / path.relative_to(source))
        for command in COMMANDS:
            told = ask(command, folder)
            over_s = told.took_s - sound[command].took_s
            changed = [
                part
                for part, state in sound[command].parts.items()
                if told.parts.get(part) != state and not may_change(part, path)
            ]
            wrong = told.odd or ", ".join(changed) or ("waits" if over_s > LONGEST_S else "")
            said = f"{command}, {path.relative_to(source)} {fault}: {wrong}" if wrong else ""
            found.append(Tried(kind, command, said, over_s))
    return found


def spend_evening(folder: Path) -> None:
    """Have the demo make a folder; again where a busy machine was too slow for its hands."""
    demo = [sys.executable, "-m", "calib", "demo", "--out", str(folder)]
    for _ in range(DEMOS):
        shutil.rmtree(folder, ignore_errors=True)
        done = subprocess.run(demo, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        if done.returncode == 0:
            return
    raise SystemExit(f"calib demo did not end well, {DEMOS} times.")


def main() -> int:
    """Run the campaign, print its table and keep it if it is whole; 1 if a bar is missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--every", type=int, default=1, help="try each EVERY-th fault alone")
    parser.add_argument("--processes", type=int, default=1)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        source = Path(name) / "evening"
        spend_evening(source)
        for command in COMMANDS:  # so that nothing is left to import
            ask(command, copied(source, Path(name) / "first" / command))
        sound = {each: ask(each, copied(source, Path(name) / "sound" / each)) for each in COMMANDS}
        jobs = [(source, path, fault, sound) for path in files_of(source) for fault in FAULTS]
        with multiprocessing.Pool(given.processes) as pool:
            tried = pool.map(spoiled, jobs[given.every - 1 :: given.every], chunksize=4)
            pool.close()  # a command turns the signal that ends a pool into Ctrl-C
            pool.join()
    outcomes = [each for found in tried for each in found]
    cells = {(each.kind, each.command): [0, 0] for each in outcomes}
    for each in outcomes:
        cells[each.kind, each.command][0] += 1
        cells[each.kind, each.command][1] += bool(each.wrong)
    said = [each.wrong for each in outcomes if each.wrong]
    rows = [(*cell, *counts) for cell, counts in cells.items()]
    body = (
        f"{ledger.table(('file', 'command', 'faults', 'wrong'), rows)}\n\n"
        f"longest wait over the sound folder's: {max(each.over_s for each in outcomes):.2f} s "
        f"(bar {LONGEST_S:g} s); bars missed: {len(said) or 'none'}"
    )
    print(body)
    print("\n".join(said[:40]))
    if given.every == 1:
        ledger.write("folder", "Every single fault of a file of an evening's folder", body)
    return 1 if said else 0


if __name__ == "__main__":
    raise SystemExit(main())
