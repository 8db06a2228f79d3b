"""How many small mistakes in the arithmetic the tests notice: `python -m tests.bench.mutants`.

Each mutant is one change in one place: a comparison or a sign turned, a number doubled, `and` for
`or`, `min` for `max`. A seeded sample of them over all rooms is run against the unit and reference
tests that reach the changed line, quickest first, as many as take `LONGEST_S`. A tool of our own,
because the sample has to be seeded over rooms, and because a fork of one session of pytest, with
the change made in the live module, judges a mutant in a second.
`--first` and `--last` run a part of the sample, `--rooms` that of some rooms; parts add up in
`--out`. `mutants_accepted.toml` says of survivors why nothing can notice them; they stay survivors,
and the reason stands beside them. Exit code 1 when the bar is missed.
"""

from __future__ import annotations

import argparse
import ast
import importlib
import json
import os
import random
import resource
import sys
import tempfile
import tomllib
import types
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import pytest

from tests.bench.ledger import publish, table

ROOT = Path(__file__).parents[2]
ROOMS = ("measure", "controls", "tilt", "checks", "link")
SAMPLE, SEED, BAR = 400, 1, 0.85
LONGEST_S = 8.0
"""Own choice: tests that a mutant is tried against, by how long they take with a sound calib."""
HANGS_S = 40
"""Own choice: processor time after which a mutant hangs, which is noticed too."""
TURNED: dict[type[ast.AST], type[ast.AST]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Div, ast.Mod: ast.Mult, ast.And: ast.Or, ast.Or: ast.And, ast.USub: ast.UAdd,
}  # fmt: skip
SWAPPED = {"min": "max", "max": "min", "any": "all", "all": "any"}
BESIDES = {"link": ("tests/flows/line",), "checks": ("tests/flows/bench",)}
"""Where the tests of a room lie that need a line in real time or a whole evening on the bench."""
OF_NO_ACCOUNT = ("repr", "strict", "stacklevel", "maxsize")
ACCEPTED = Path(__file__).with_name("mutants_accepted.toml")


@dataclass(frozen=True)
class Mutant:
    """One change: in which file, at which place of its tree, on which line, and to what."""

    path: str
    place: int
    line: int
    change: str

    @property
    def name(self) -> str:
        """The mutant by its file, line, change and place."""
        return f"{self.path}:{self.line} {self.change} ({self.place})"


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
    """Every place that can be changed; annotations and the values that a type may have are none.

    A node that becomes another one is replaced in its parent: trees share their operators.
    """
    if isinstance(tree, ast.Subscript) and _named(tree.value) == "Literal":
        return
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


def transplant(name: str, source: str) -> None:
    """Make a module that is in use behave as another source says.

    Functions get the other code and defaults, in classes too; what else differs is put under its
    name wherever it was imported to.
    """
    old = sys.modules[name]
    new: dict[str, Any] = {"__name__": name, "__file__": old.__file__}
    exec(compile(source, str(old.__file__), "exec"), new)
    for key, value in new.items():
        was = vars(old).get(key)
        if key.startswith("__") or _graft(was, value):
            continue
        for module in [
            each for title, each in sys.modules.items() if title[:5] in ("calib", "tests")
        ]:
            if vars(module).get(key) is was:
                setattr(module, key, value)


def _graft(was: Any, value: Any) -> bool:
    """Whether a function or class could be given what another one of its name has."""
    if isinstance(value, types.FunctionType) and isinstance(was, types.FunctionType):
        if hasattr(value, "__wrapped__") and hasattr(was, "__wrapped__"):
            return _graft(was.__wrapped__, value.__wrapped__)  # a wrapper's code is alike
        was.__code__, was.__defaults__ = value.__code__, value.__defaults__
        was.__kwdefaults__ = value.__kwdefaults__
        return True
    if isinstance(value, type) and isinstance(was, type):
        for key, part in list(vars(value).items()):
            mine = vars(was).get(key)
            if isinstance(part, property) and isinstance(mine, property):
                _graft(mine.fget, part.fget)
            elif isinstance(part, cached_property) and isinstance(mine, cached_property):
                _graft(mine.func, part.func)
            elif isinstance(part, classmethod | staticmethod):
                _graft(getattr(mine, "__func__", None), part.__func__)
            elif not _graft(mine, part) and type(part) in (bool, int, float):
                setattr(was, key, part)
        return True
    if hasattr(value, "__wrapped__") and hasattr(was, "cache_clear"):
        was.cache_clear()
        return _graft(was.__wrapped__, value.__wrapped__)
    return isinstance(value, types.ModuleType)


class Judge:
    """A plugin of pytest that judges mutants in place of running the tests."""

    def __init__(self, mutants: dict[str, Mutant], notes: Path) -> None:
        """Judge these by the notes of which test reaches what, made where there are none."""
        self.mutants, self.notes = mutants, notes
        self.last = notes.with_suffix(".test")
        self.fates: dict[str, str] = {}
        self.fit: set[str] = set()
        self.unfit: set[str] = set()
        self.seconds: dict[str, float] = defaultdict(float)

    def pytest_runtest_logreport(self, report: Any) -> None:
        """A part of a test ended."""
        self.seconds[report.nodeid] += report.duration

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Fork for each mutant, from the session with everything imported and collected."""
        items = {item.nodeid: item for item in session.items}
        if not self.notes.exists():
            _forked(lambda: self._noted(items))
        notes = json.loads(self.notes.read_text())
        for name, mutant in self.mutants.items():
            tests = [items[test] for test in tests_of(mutant, notes) if test in items]
            self.fates[name] = self._fate(session, mutant, tests)
            sys.__stdout__.write(f"{self.fates[name]:9} {name}\n")  # type: ignore[union-attr]
            sys.__stdout__.flush()  # type: ignore[union-attr]
        return True

    def _fate(self, session: pytest.Session, mutant: Mutant, items: list[pytest.Item]) -> str:
        """What becomes of a mutant; a test that fails without it as well is no witness."""
        source = (ROOT / mutant.path).read_text()
        other = changed(source, mutant.place)
        while items := [item for item in items if item.nodeid not in self.unfit]:
            self.last.write_text("")
            if _forked(lambda: self._tried(session, mutant.path, other, items)) == 0:
                return "lived"
            witness = [item for item in items if item.nodeid == self.last.read_text()]
            if not witness or witness[0].nodeid in self.fit:
                return "killed"
            if _forked(lambda: self._tried(session, mutant.path, source, witness)) == 0:  # noqa: B023
                self.fit.add(witness[0].nodeid)
                return "killed"
            self.unfit.add(witness[0].nodeid)
        return "unreached"

    def _tried(
        self, session: pytest.Session, path: str, source: str, items: list[pytest.Item]
    ) -> int:
        resource.setrlimit(resource.RLIMIT_CPU, (HANGS_S, HANGS_S))
        transplant(_module(path), source)
        for item in items:
            self.last.write_text(item.nodeid)
            item.ihook.pytest_runtest_protocol(item=item, nextitem=None)
            if session.testsfailed:
                return 1
        return 0

    def _noted(self, items: dict[str, pytest.Item]) -> int:
        """Run every test once and note which lines it reaches."""
        import coverage

        room = self.notes.stem.removeprefix("reached-")
        watch = coverage.Coverage(data_file=None, include=[str(ROOT / "calib" / room / "*")])
        watch.start()
        for name, item in items.items():
            watch.switch_context(name)
            item.ihook.pytest_runtest_protocol(item=item, nextitem=None)
        watch.stop()
        data = watch.get_data()
        lines = {
            str(Path(name).relative_to(ROOT)): data.contexts_by_lineno(name)
            for name in data.measured_files()
        }
        self.notes.write_text(json.dumps({"seconds": self.seconds, "lines": lines}))
        return 0


def _module(path: str) -> str:
    name = path.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
    importlib.import_module(name)
    return name


def _forked(what: Any) -> int:
    """What a function returns in a silent fork of its own; not 0 where it fails or hangs."""
    child = os.fork()
    if child:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    code = 1
    try:
        silent = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silent, 1)
        os.dup2(silent, 2)
        code = min(1, what())
    finally:
        os._exit(code)


def tests_of(mutant: Mutant, notes: dict[str, Any]) -> list[str]:
    """The tests that reach a mutant's line, quickest first; of a module's own lines, its file."""
    lines: dict[str, list[str]] = notes["lines"].get(mutant.path, {})
    near = {test for test in lines.get(str(mutant.line), ()) if test}
    near = near or {test for tests in lines.values() for test in tests if test}
    picked: list[str] = []
    whole_s = 0.0
    for test in sorted(near, key=lambda name: (notes["seconds"].get(name, 0.0), name)):
        whole_s += notes["seconds"].get(test, 0.0)
        if picked and whole_s > LONGEST_S:
            break
        picked.append(test)
    return picked


def main() -> int:
    """Run a part of the sample, or say what all parts came to."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=SAMPLE)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--rooms", nargs="*", default=list(ROOMS))
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--last", type=int, default=SAMPLE)
    parser.add_argument("--out", type=Path, default=Path(tempfile.gettempdir()) / "mutants.json")
    options = parser.parse_args()
    os.chdir(ROOT)
    named = {
        mutant.name: mutant
        for mutant in sample(options.seed, options.count)[options.first : options.last]
    }
    known: dict[str, str] = json.loads(options.out.read_text()) if options.out.exists() else {}
    for room in options.rooms:
        own = {
            name: mutant
            for name, mutant in named.items()
            if mutant.path.startswith(f"calib/{room}/") and known.get(name) != "killed"
        }
        judge = Judge(own, options.out.with_name(f"reached-{room}.json"))
        suite = [
            f"tests/unit/{room}",
            *BESIDES.get(room, ()),
            "tests/reference",
            "-p",
            "no:cacheprovider",
            "-p",
            "no:xdist",
        ]
        if own:
            pytest.main(["-q", *suite], [judge])
        known |= judge.fates
        options.out.write_text(json.dumps(known, indent=1))
    reasons = {name: reason_of(mutant) for name, mutant in named.items()}
    return report(known, reasons, options.count, f"--seed {options.seed} --count {options.count}")


def reason_of(mutant: Mutant) -> str:
    """Why nothing can notice a mutant, by its file, function, change and words of its line."""
    source = (ROOT / mutant.path).read_text()
    text, function = source.splitlines()[mutant.line - 1], _function_at(source, mutant.line)
    return next(
        (
            each["reason"]
            for each in tomllib.loads(ACCEPTED.read_text())["accepted"]
            if (each["file"], each["function"], each["change"])
            == (mutant.path, function, mutant.change)
            and each["line"] in text
        ),
        "",
    )


def _function_at(source: str, line: int) -> str:
    """The innermost function that a line is in; empty outside of all."""
    around = [
        node
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.FunctionDef) and node.lineno <= line <= (node.end_lineno or 0)
    ]
    return max(around, key=lambda node: node.lineno).name if around else ""


def report(known: dict[str, str], reasons: dict[str, str], count: int, arguments: str) -> int:
    """The table by room and the survivors, kept where the whole sample was run."""
    rows = []
    for room in (*ROOMS, ""):
        own = [fate for name, fate in known.items() if name.startswith(f"calib/{room}")]
        killed = own.count("killed")
        share = f"{killed / len(own):.3f}" if own else ""
        rows.append((room or "all", len(own), killed, own.count("unreached"), share))
    lived = "\n".join(
        f"- `{name}`: {fate}{', ' * bool(reasons.get(name))}{reasons.get(name, '')}"
        for name, fate in known.items()
        if fate != "killed"
    )
    body = f"{table(('room', 'mutants', 'killed', 'unreached', 'share'), rows)}\n\n{lived}"
    met = list(known.values()).count("killed") >= BAR * count
    if len(known) < count:
        sys.stdout.write(f"{body}\n")
        return 1
    return publish("mutants", "Mutants that the tests notice", body, arguments, met=met)


if __name__ == "__main__":
    raise SystemExit(main())
