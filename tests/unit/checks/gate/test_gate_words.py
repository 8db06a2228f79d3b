"""The words of the gate's evidence: each is said by somebody, with every figure that it names."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

from calib.book import entries
from calib.checks import gate
from calib.checks.gate import BOOK, piece
from calib.store.documents.finding import Severity


def _said() -> Iterator[tuple[str, set[str]]]:
    """Every entry that the gate names, and the figures given with it."""
    for node in ast.walk(ast.parse(Path(gate.__file__).read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "piece":
            entry = node.args[1]
            assert isinstance(entry, ast.Constant)
            yield str(entry.value), {str(word.arg) for word in node.keywords}


def _named(words: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(words) if name is not None}


def test_every_wording_is_said_and_every_figure_of_it_given() -> None:
    """A sentence that nobody says is vain; one with a figure missing is none."""
    words = {entry: fields for entry, fields in entries(BOOK).items() if entry}
    said = dict(_said())
    assert said.keys() == words.keys()
    for entry, fields in words.items():
        assert _named(fields["text"]) | _named(fields.get("action", "")) == said[entry], entry


def test_a_piece_that_passes_leaves_nothing_to_do() -> None:
    """What to do is for whoever is not trusted."""
    good, bad = (piece(each, "rider's tilt", tilt=2.4) for each in (Severity.PASS, Severity.FAIL))
    assert (good.name, good.text) == ("rider's tilt", "Seated, the nose goes +2.4 degrees.")
    assert (good.action, bad.action) == ("", "Run 'calib level --seated'.")
