"""Reasons why nothing can notice a change stand beside lines that are still there."""

from __future__ import annotations

import ast
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
ACCEPTED = ROOT / "tests/bench/mutants_accepted.toml"
REASONS = tomllib.loads(ACCEPTED.read_text(encoding="utf-8"))["accepted"]


@pytest.mark.parametrize("reason", REASONS, ids=lambda each: f"{each['file']}: {each['line']}")
def test_a_reason_is_about_a_line_of_the_code_of_today(reason: dict[str, str]) -> None:
    """What moved takes its reason along; what went leaves none behind."""
    source = (ROOT / reason["file"]).read_text(encoding="utf-8")
    lines = source.splitlines()
    tree = ast.parse(source)
    functions = [each for each in ast.walk(tree) if isinstance(each, ast.FunctionDef)]
    named = [each for each in functions if each.name == reason["function"]]
    inside = [lines[each.lineno - 1 : each.end_lineno] for each in named]
    assert any(
        reason["line"] in line
        for body in (inside if reason["function"] else [lines])
        for line in body
    )
    assert " -> " in reason["change"]
    assert reason["reason"]
