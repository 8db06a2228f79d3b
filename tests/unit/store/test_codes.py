"""The published list of finding codes: complete, without strays, causes first."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

from click.testing import CliRunner

import calib
from calib.checks.file.moved import Cause
from calib.cli.schema import command
from calib.store.documents.codes import CODES, PLACE

SOURCES = Path(calib.__file__).parent


def _constants(node: ast.expr) -> Iterator[str]:
    """The codes that an expression can give; ``?`` before one that cannot be read off."""
    if isinstance(node, ast.Constant):
        yield str(node.value)
    elif isinstance(node, ast.IfExp):
        yield from _constants(node.body)
        yield from _constants(node.orelse)
    elif ast.unparse(node) == "explanation.cause.value":
        yield from (cause.value for cause in Cause)
    else:
        yield f"?{ast.unparse(node)}"


def _codes_made() -> set[str]:
    calls = (
        node
        for path in SOURCES.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "Finding"
    )
    return {
        code
        for call in calls
        for word in call.keywords
        if word.arg == "code"
        for code in _constants(word.value)
    }


def test_every_code_that_is_made_is_published_and_none_is_published_in_vain() -> None:
    """One list: a code that is not in it cannot be looked up, one that nobody makes misleads."""
    assert _codes_made() ^ set(CODES) == set()


def test_a_cause_stands_before_what_follows_from_it() -> None:
    """So nothing can explain what explains it, and the order is one for all pages."""
    for code, entry in CODES.items():
        for follows in (*entry.here, *entry.elsewhere):
            assert PLACE[follows] > PLACE[code], f"{code} explains {follows}, which comes first"


def test_the_list_is_printed() -> None:
    """``calib schema findings`` prints every code with what it means."""
    result = CliRunner().invoke(command, ["findings"], standalone_mode=False)
    for code, entry in CODES.items():
        assert f'"{code}"' in result.stdout
        assert entry.about in result.stdout
