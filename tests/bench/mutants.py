"""How many small mistakes in the arithmetic the tests notice: `python -m tests.bench.mutants`.

Each mutant is one change in one place: a comparison or a sign turned, a number doubled, `and` for
`or`, `min` for `max`. A seeded sample of them over all rooms is run against the unit and reference
tests that reach the changed line, quickest first, as many as take `LONGEST_S`. A tool of our own,
because the sample has to be seeded over rooms, and because a fork with numpy loaded judges a
mutant in a second. Needs `pip install coverage`. `--first` and `--last` run a part of the sample;
parts add up in `--out`. Exit code 1 when the bar is missed.
"""

from __future__ import annotations

import argparse
import ast
import importlib
import json
import os
import random
import resource
import shutil
import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from tests.bench.ledger import publish, table

ROOT = Path(__file__).parents[2]
ROOMS = ("measure", "controls", "tilt", "checks", "link")
SAMPLE, SEED, BAR = 400, 1, 0.85
LONGEST_S = 8.0
"""Own choice: tests that a mutant is tried against, by how long they take with a sound calib."""
HANGS_S = 60
"""Own choice: processor time after which a mutant hangs, which is noticed too."""
TURNED: dict[type[ast.AST], type[ast.AST]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Div, ast.Mod: ast.Mult, ast.And: ast.Or, ast.Or: ast.And, ast.USub: ast.UAdd,
}  # fmt: skip
SWAPPED = {"min": "max", "max": "min", "any": "all", "all": "any"}
WARM = (
    "numpy", "scipy.stats", "scipy.ndimage", "scipy.optimize", "scipy.signal", "msgspec", "click",
    "rich.console", "tomlkit", "serial",
)  # fmt: skip
OF_NO_ACCOUNT = ("repr", "strict", "stacklevel", "maxsize")


@dataclass(frozen=True)
class Mutant:
    """One change: in which file, at which place of its tree, on which line, and to what."""

    path: str
    place: int
    line: int
    change: str


@dataclass(frozen=True)
class Place:
    """One place of a tree that can be changed: whose field it is, what it becomes, and its line."""

    parent: ast.AST
    field: str
    index: int | None
    other: ast.AST
    line: int
    change: str


def places(tree: ast.AST, line: int = 0) -> Iterator[Place]:
    """Every place that can be changed; annotations are none.

    A node that becomes another one is replaced in its parent: trees share their operators.
    """
    for name, value in ast.iter_fields(tree):
        if name in ("annotation", "returns", "decorator_list"):
            continue
        several = isinstance(value, list)
        for index, node in enumerate(value if several else [value]):
            if not isinstance(node, ast.AST):
                continue
            if isinstance(node, ast.keyword) and node.arg in OF_NO_ACCOUNT:
                continue
            at = getattr(node, "lineno", line)
            other = _other(node)
            if other is not None:
                change = f"{_named(node)} -> {_named(other)}"
                yield Place(tree, name, index if several else None, other, at, change)
            yield from places(node, at)


def _named(node: ast.AST) -> str:
    return ast.unparse(node) if isinstance(node, ast.expr) else type(node).__name__


def _other(node: ast.AST) -> ast.AST | None:
    """What a node becomes; None where it stays."""
    if type(node) in TURNED:
        return TURNED[type(node)]()
    if isinstance(node, ast.Name) and node.id in SWAPPED:
        return ast.Name(SWAPPED[node.id], node.ctx)
    if not isinstance(node, ast.Constant):
        return None
    if isinstance(node.value, bool):
        return ast.Constant(not node.value)
    if isinstance(node.value, int):
        return ast.Constant(node.value + 1)
    return ast.Constant(2.0 * node.value or 1.0) if isinstance(node.value, float) else None


def changed(source: str, number: int) -> str:
    """The source with the change at one place made."""
    tree = ast.parse(source)
    place = next(place for count, place in enumerate(places(tree)) if count == number)
    if place.index is None:
        setattr(place.parent, place.field, place.other)
    else:
        getattr(place.parent, place.field)[place.index] = place.other
    return ast.unparse(tree)


def sample(seed: int, count: int) -> list[Mutant]:
    """Mutants drawn over all rooms, in the order of their files."""
    every = [
        Mutant(str(path.relative_to(ROOT)), number, place.line, place.change)
        for room in ROOMS
        for path in sorted((ROOT / "calib" / room).rglob("*.py"))
        for number, place in enumerate(places(ast.parse(path.read_text())))
    ]
    return sorted(random.Random(seed).sample(every, count), key=lambda m: (m.path, m.place))


def in_child(work: Path, arguments: list[str], *plugins: object) -> int:
    """Exit code of pytest in a fork that imports calib from the copy; below 0 where it hangs."""
    child = os.fork()
    if child:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    if not plugins:
        resource.setrlimit(resource.RLIMIT_CPU, (HANGS_S, HANGS_S))
    os.chdir(work)
    sys.path.insert(0, str(work))
    for name in [name for name in sys.modules if name.partition(".")[0] in ("calib", "tests")]:
        del sys.modules[name]
    silent = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silent, 1)
    os.dup2(silent, 2)
    os._exit(pytest.main(["-q", "-p", "no:xdist", "-p", "no:cacheprovider", *arguments], plugins))


class Reached:
    """Notes which test reaches which line of a room, and how long each test takes."""

    def __init__(self, work: Path, room: str) -> None:
        """Take notes beside the copy."""
        import coverage

        self.kept = work / f"reached-{room}.json"
        self.work = work
        self.seconds: dict[str, float] = defaultdict(float)
        self.watch = coverage.Coverage(data_file=None, source=[str(work / "calib" / room)])
        self.watch.start()

    def pytest_runtest_logstart(self, nodeid: str) -> None:
        """A test begins."""
        self.watch.switch_context(nodeid)

    def pytest_runtest_logreport(self, report: Any) -> None:
        """A part of a test ended."""
        self.seconds[report.nodeid] += report.duration

    def pytest_unconfigure(self) -> None:
        """All tests ended: keep the notes."""
        self.watch.stop()
        data = self.watch.get_data()
        lines = {
            str(Path(name).relative_to(self.work)): data.contexts_by_lineno(name)
            for name in data.measured_files()
        }
        self.kept.write_text(json.dumps({"seconds": self.seconds, "lines": lines}))


def tests_of(mutant: Mutant, notes: dict[str, Any]) -> list[str]:
    """The tests that reach a mutant's line, quickest first; of a module's own lines, its file."""
    lines: dict[str, list[str]] = notes["lines"].get(mutant.path, {})
    near = {test for test in lines.get(str(mutant.line), ()) if test}
    if not near and "" in lines.get(str(mutant.line), ("",)):
        near = {test for tests in lines.values() for test in tests if test}
    picked: list[str] = []
    whole_s = 0.0
    for test in sorted(near, key=lambda name: (notes["seconds"][name], name)):
        whole_s += notes["seconds"][test]
        if picked and whole_s > LONGEST_S:
            break
        picked.append(test)
    return picked


def judged(mutant: Mutant, work: Path, notes: dict[str, Any]) -> str:
    """What became of a mutant: killed, lived, or reached by no test."""
    tests = tests_of(mutant, notes)
    if not tests:
        return "unreached"
    path = work / mutant.path
    source, stamp = path.read_text(), path.stat()
    path.write_text(changed(source, mutant.place))
    try:
        code = in_child(work, ["-x", *tests])
        return "lived" if code == 0 else "killed"
    finally:
        path.write_text(source)
        os.utime(path, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))


def main() -> int:
    """Run a part of the sample, or say what all parts came to."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=SAMPLE)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--rooms", nargs="*", default=list(ROOMS))
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--last", type=int, default=SAMPLE)
    parser.add_argument("--out", type=Path, default=Path(tempfile.gettempdir()) / "mutants.json")
    parser.add_argument("--work", type=Path, default=Path(tempfile.gettempdir()) / "mutants")
    options = parser.parse_args()
    sys.dont_write_bytecode = True
    for name in WARM:
        importlib.import_module(name)
    work: Path = options.work
    for part in ("calib", "tests", "fixtures"):
        shutil.copytree(ROOT / part, work / part, dirs_exist_ok=True)
    shutil.copy(ROOT / "pyproject.toml", work)
    drawn = sample(options.seed, options.count)
    known = json.loads(options.out.read_text()) if options.out.exists() else {}
    for number, mutant in enumerate(drawn[options.first : options.last], options.first):
        room = mutant.path.split("/")[1]
        name = f"{mutant.path}:{mutant.line} {mutant.change} ({mutant.place})"
        if room not in options.rooms or known.get(name) == "killed":
            continue
        notes = work / f"reached-{room}.json"
        if not notes.exists():
            suite = [f"tests/unit/{room}", "tests/reference"]
            if in_child(work, suite, Reached(work, room)) != 0:
                raise SystemExit(f"{room}: a test fails on calib as it is")
        known[name] = judged(mutant, work, json.loads(notes.read_text()))
        sys.stdout.write(f"{number} {known[name]:9} {name}\n")
        sys.stdout.flush()
        options.out.write_text(json.dumps(known, indent=1))
    return report(known, options.count, f"--seed {options.seed} --count {options.count}")


def report(known: dict[str, str], count: int, arguments: str) -> int:
    """The table by room and the survivors, kept where the whole sample was run."""
    rows = []
    for room in (*ROOMS, ""):
        own = [fate for name, fate in known.items() if name.startswith(f"calib/{room}")]
        killed = own.count("killed")
        share = f"{killed / len(own):.3f}" if own else ""
        rows.append((room or "all", len(own), killed, own.count("unreached"), share))
    lived = "\n".join(f"- `{name}`: {fate}" for name, fate in known.items() if fate != "killed")
    body = f"{table(('room', 'mutants', 'killed', 'unreached', 'share'), rows)}\n\n{lived}"
    met = list(known.values()).count("killed") >= BAR * count
    if len(known) < count:
        sys.stdout.write(f"{body}\n")
        return 1
    return publish("mutants", "Mutants that the tests notice", body, arguments, met=met)


if __name__ == "__main__":
    raise SystemExit(main())
