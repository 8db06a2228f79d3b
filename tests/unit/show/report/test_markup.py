from __future__ import annotations

import html

from hypothesis import given
from hypothesis import strategies as st

from calib.show.report.markup import Markup, element, join, table, text


@given(st.text(max_size=200))
def test_text_never_becomes_markup(raw: str) -> None:
    """Whatever a device or rig file says: none of it can open a tag or end an attribute."""
    shown = element("p", raw, title=raw)
    inside = shown.removeprefix('<p title="').removesuffix("</p>")
    attribute, _, body = inside.partition('">')
    assert not set("<>\"'") & set(attribute)
    assert not set("<>\"'") & set(body)


def test_text_says_what_it_said() -> None:
    """Escaping changes how it is written, not what is read."""
    assert html.unescape(text('5 V < "rail" & more')) == '5 V < "rail" & more'


def test_control_characters_are_shown_not_sent() -> None:
    """Escape sequences and direction marks are visible."""
    assert "\x1b" not in text("\x1b[2J")
    assert "\u202e" not in text("\u202e")


def test_markup_is_put_in_as_it_is() -> None:
    """What is markup already is not escaped twice; nothing is skipped."""
    assert join([element("b", "x"), None, ["<", Markup("<br>")]]) == "<b>x</b>&lt;<br>"


def test_tables_head_their_rows_and_columns() -> None:
    """A screen reader can say which row and column a cell belongs to."""
    shown = table(("a", "b"), [("x", "y")])
    assert '<th scope="col">a</th>' in shown
    assert '<th scope="row">x</th><td data-head="b">y</td>' in shown
