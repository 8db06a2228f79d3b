"""The published list of findings: complete, without strays, causes first, every word filled in."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from string import Formatter
from types import SimpleNamespace

import pytest
from click.testing import CliRunner

import calib
from calib.book import entries
from calib.checks.file.moved import Cause
from calib.cli.schema import command
from calib.store.documents import said
from calib.store.documents.codes import BOOK, CODES, PLACE
from calib.store.documents.finding import Severity

SOURCES = Path(calib.__file__).parent
MAKERS = {
    "said.passes": (0,), "said.caution": (0,), "said.unknown": (0,), "said.fail": (0,),
    "said.finding": (1,), "said.above": (0,), "said.below": (0,), "said.within": (0, 1),
}  # fmt: skip
"""Where among its arguments each of them has its entries."""

ALWAYS = {"value", "limit", "channel", "unit"}


def _constants(node: ast.expr) -> Iterator[str]:
    """The entries that an expression can name; ``?`` before one that cannot be read off."""
    if isinstance(node, ast.Constant):
        yield str(node.value)
    elif isinstance(node, ast.IfExp):
        yield from _constants(node.body)
        yield from _constants(node.orelse)
    elif ast.unparse(node) == "cause.value":
        yield from (cause.value for cause in Cause)
    else:
        yield f"?{ast.unparse(node)}"


@cache
def _made() -> tuple[tuple[str, set[str]], ...]:
    """Every entry that is named where a finding is made, and the figures given with it."""
    return tuple(_entries_made())


def _entries_made() -> Iterator[tuple[str, set[str]]]:
    for path in SOURCES.rglob("*.py"):
        if path.name == "said.py":
            continue
        text = path.read_text(encoding="utf-8")
        if not any(maker in text for maker in MAKERS):
            continue
        for node in ast.walk(ast.parse(text)):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)):
                continue
            maker = ast.unparse(node.func)
            given = {word.arg or "**" for word in node.keywords}
            for place in MAKERS.get(maker, ()):
                for entry in _constants(node.args[place]):
                    yield entry, given


def _named(words: str) -> set[str]:
    """The figures that words name, by themselves or a part of them."""
    names = (name for _, name, _, _ in Formatter().parse(words) if name is not None)
    return {name.partition(".")[0] for name in names}


def test_every_code_that_is_made_is_published_and_none_is_published_in_vain() -> None:
    """One list: a code that is not in it cannot be looked up, one that nobody makes misleads."""
    assert {entry.partition("/")[0] for entry, _ in _made()} ^ set(CODES) == set()


def test_every_wording_is_said_by_somebody() -> None:
    """What nobody says would be kept true in vain."""
    worded = {entry for entry, fields in entries(BOOK).items() if "text" in fields}
    assert worded - {entry for entry, _ in _made()} == set()


def test_every_figure_that_the_words_name_is_given() -> None:
    """A sentence with a figure missing would be found out by the person in the garage."""
    for entry, given in _made():
        if "**" in given:
            continue  # given by a mapping: the tests of that finding say its words
        fields = entries(BOOK).get(entry, {})
        named = _named(fields.get("text", "")) | _named(fields.get("action", ""))
        assert named - ALWAYS <= given, entry
        assert not given - {"channel", "unit"} - named, f"{entry} is given what it does not name"


def test_words_say_counts_with_their_nouns() -> None:
    """One press, two presses: a count and its noun agree."""
    one, two = (
        said.caution("half-pressed/travel", float(count)) for count in (1, 2)
    )  # the figure of it is the count
    assert one.text.startswith("1 press turned")
    assert two.text.startswith("2 presses turned")


def test_words_say_a_part_of_a_figure_and_thousandths() -> None:
    """What judges gives volts and whole figures; millivolts are the words' own."""
    drift = said.caution("rest-drifts/travel", 0.0123, 0.01)
    assert "by +12 mV" in drift.text
    assert drift.value == pytest.approx(0.0123)
    pulled = SimpleNamespace(wire="ground", low=4.956, high=4.98)
    told = said.passes("broken-wire-safe", 0.2, 2.0, pulled=pulled, whose="it showed", side="above")
    assert "the ground wire" in told.text
    assert "4.96 to 4.98 V" in told.text


def test_a_figure_is_held_against_its_limit() -> None:
    """Beyond it there is a finding, on it and where nobody knows the figure there is none."""
    beyond, on_it, unknown = (list(said.above("coarse", each, 1.0)) for each in (1.5, 1.0, None))
    assert [(each.severity, each.value, each.limit) for each in beyond] == [
        (Severity.CAUTION, 1.5, 1.0)
    ]
    assert on_it == unknown == []
    short = [
        list(said.below("too-short", each, 1.0, Severity.UNKNOWN)) for each in (0.5, 1.0, None)
    ]
    assert [[each.severity for each in found] for found in short] == [[Severity.UNKNOWN], [], []]


def test_a_figure_within_its_limit_passes_either_way() -> None:
    """On the limit too, above and below nought; beyond it the other words are said."""
    found = [
        said.within("launch", "launch/large", each, 8.0, launch_m_s2=2.5)
        for each in (8.0, -8.0, 8.5, -8.5)
    ]
    assert [each.severity for each in found] == [Severity.PASS] * 2 + [Severity.CAUTION] * 2
    assert found[0].text != found[2].text


def test_a_finding_is_of_its_entry_s_code() -> None:
    """Wordings of one fact share its code."""
    finding = said.fail("no-answer/travel")
    assert (finding.code, finding.severity) == ("no-answer", Severity.FAIL)


def test_a_wording_that_is_not_there_is_a_slip_of_ours() -> None:
    """It is noticed where it is made, not shown."""
    with pytest.raises(KeyError, match="no-such-words"):
        said.fail("no-such-words")


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
