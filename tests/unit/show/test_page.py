from __future__ import annotations

import io

import pytest

from calib.show.console import Screen, Text
from calib.show.page import (
    figure_lines,
    finding_lines,
    headline,
    list_lines,
    print_page,
    verdict_lines,
)
from calib.show.view import Figure
from calib.store.documents.finding import Finding, Severity


def finding(severity: Severity, text: str, action: str = "") -> Finding:
    """A finding."""
    return Finding(code="x", severity=severity, text=text, action=action)


@pytest.mark.parametrize("verdict", list(Severity))
def test_every_verdict_is_as_loud_as_every_other(verdict: Severity) -> None:
    """UNKNOWN takes five rows of large letters, as FAIL does, and its shape is its own."""
    rows = [line.plain for line in verdict_lines(verdict)]
    assert len(rows) == 5
    others = [[line.plain for line in verdict_lines(other)] for other in Severity]
    assert others.count(rows) == 1


def test_findings_stand_in_the_order_of_their_document_each_with_its_action() -> None:
    """Which comes first was judged once: a page that sorted again would put causes last."""
    lines = finding_lines(
        [
            finding(Severity.CAUTION, "It sticks.", "Free the cable."),
            finding(Severity.FAIL, "Its rest has moved."),
        ]
    )
    assert lines[0].plain.split() == ["CAUTION", "It", "sticks."]
    assert lines[1].plain.strip() == "-> Free the cable."


def test_no_line_is_wider_than_80_columns() -> None:
    """Long statements are wrapped under their beginning."""
    lines = [
        *finding_lines([finding(Severity.CAUTION, "word " * 60, "deed " * 60)]),
        *list_lines("BEFORE", ["word " * 60]),
        headline("x" * 200, "y" * 200),
        *figure_lines([Figure("drive takes up at", "0.97", "V"), Figure("x" * 99, "-3.55", "V")]),
    ]
    assert max(len(line.plain.rstrip()) for line in lines) <= 80


def test_text_from_a_device_cannot_steer_the_terminal() -> None:
    """Escape sequences in a statement are shown, not obeyed."""
    lines = finding_lines([finding(Severity.CAUTION, "lever \x1b[2J gone", "")])
    assert "\x1b" not in "".join(line.plain for line in lines)


def test_without_cautions_there_is_no_heading() -> None:
    """An empty list of cautions leaves no bare heading."""
    assert list_lines("BEFORE", []) == []


def printed(height: int | None) -> str:
    """A page of a short glance part and twenty details, on a screen or in a file."""
    file = io.StringIO()
    console = Screen(file, is_terminal=height is not None, height=height)
    print_page(console, [Text("GLANCE")], [Text(f"detail {number}") for number in range(20)])
    return file.getvalue()


def test_on_a_low_screen_the_glance_part_stands_at_the_end() -> None:
    """What scrolls away is the detail; the verdict is what the person turns round to."""
    assert printed(height=12).rstrip().endswith("GLANCE")


@pytest.mark.parametrize("height", [None, 40])
def test_where_it_all_fits_the_glance_part_comes_first(height: int | None) -> None:
    """In a file, to a screen reader and on a high screen the verdict leads."""
    assert printed(height).startswith("GLANCE")
