"""The book of errors: complete, without strays, every word filled in, nothing filled in twice."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from string import Formatter

import pytest

import calib
from calib.book import Fields, entries
from calib.errors import BOOK, CalibError, NoDataError, StoppedError, UsageError

SOURCES = Path(calib.__file__).parent
WORDED = {entry: fields for entry, fields in entries(BOOK).items() if entry}


@cache
def _made() -> tuple[tuple[str, set[str]], ...]:
    """Every entry that is named where an error is made, and what is given with it."""
    return tuple(_entries_made())


def _entries_made() -> Iterator[tuple[str, set[str]]]:
    for path in SOURCES.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and ast.unparse(node.func).endswith("Error.of"):
                (entry,) = node.args
                given = {word.arg or "**" for word in node.keywords}
                yield ast.literal_eval(entry), given - {"capture"}


def _named(fields: Fields) -> set[str]:
    """What the words of an entry name, as they name it."""
    words = fields["what"] + fields["hint"]
    return {name for _, name, _, _ in Formatter().parse(words) if name is not None}


def test_every_error_that_is_made_has_its_words_and_none_is_worded_in_vain() -> None:
    """A name without words would fail in the garage; words that nobody says are kept in vain."""
    assert {entry for entry, _ in _made()} ^ set(WORDED) == set()


def test_all_that_the_words_name_is_given_and_none_in_vain() -> None:
    """By a plain name: an attribute in a book is nothing that the types are checked of."""
    for entry, given in _made():
        assert _named(WORDED[entry]) == given, entry


@pytest.mark.parametrize("entry", WORDED)
def test_an_entry_says_what_was_wrong_and_what_to_do(entry: str) -> None:
    """Both, as sentences that end; a second one of what was seen says what there is."""
    fields = WORDED[entry]
    assert list(fields) == ["what", "hint"]
    what, hint = fields["what"], fields["hint"]
    assert what.endswith((".", "{question}"))
    assert what[0].isupper() or what.startswith(("{", "--"))
    assert what.count(". ") <= 1
    assert "?" not in what
    assert hint.endswith(".")
    assert hint not in what


def test_an_error_is_made_in_its_words() -> None:
    """The class stays the raiser's, for it decides the exit code; a capture goes with it."""
    kept = Path("kept.csv")
    error = StoppedError.of("stopped-with-capture", path=kept, capture=kept)
    assert (type(error), error.exit_code, error.capture) == (StoppedError, 130, kept)
    assert error.what == "Stopped. What was captured is kept: kept.csv."
    assert error.hint == "Judge it with --from, or start again."
    assert type(NoDataError.of("line-ended-unheard")) is NoDataError


def test_figures_are_said_as_their_words_have_them() -> None:
    """Rounded, and quoted, as the entry writes it."""
    error = UsageError.of("trip-is-no-way", start_m=12.5, end_m=12.0)
    assert error.what == "The trip went from 12.5 to 12 m, which is no way."
    assert UsageError.of("role-unknown", name="it's").what.startswith('What the channel "it\'s" is')


def test_braces_of_a_stranger_stay_as_they_are() -> None:
    """Text of a device is filled in and never read as words of ours."""
    error = UsageError.of("not-table-and-key", text="{text} {0} {{")
    assert error.what.startswith("--set '{text} {0} {{': ")


def test_an_entry_that_is_not_there_is_a_slip_of_ours() -> None:
    """It is noticed where it is made, not shown."""
    with pytest.raises(KeyError, match="no-such-words"):
        CalibError.of("no-such-words")


def test_the_book_is_not_read_before_an_error_is_made() -> None:
    """Every command starts with the tree of errors, and few of them end in one."""
    script = "import calib.cli, calib.book as book; print(book.entries.cache_info().currsize)"
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout == "0\n"
