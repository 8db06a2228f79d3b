"""HTML that is escaped by default: text becomes markup in one place only."""

from __future__ import annotations

import html
import re
from collections.abc import Iterable

from calib.store.text import neutral

LONGEST_TEXT = 2000  # own choice: longer than any sentence of ours, shorter than a flood


class Markup(str):
    """A piece of HTML that is safe as it is; anything else is escaped where it is put in."""

    __slots__ = ()


Piece = Markup | str | Iterable["Piece"] | None
"""What may stand inside an element: markup, text, several of both, or nothing."""

_WHOLE = re.compile(r"\d{4}-\d\d-\d\d(?: \d\d:\d\d)?|\([\d.]+ %\)")
"""A date and a share, which are not broken at the end of a row."""


def text(raw: str) -> Markup:
    """Text, made harmless: control characters shown as escapes, markup characters escaped."""
    return Markup(html.escape(neutral(raw, LONGEST_TEXT), quote=True))


def element(name: str, /, *inside: Piece, **attributes: str | None) -> Markup:
    """One element.

    Args:
        name: Its tag.
        inside: What stands in it; plain text is escaped.
        attributes: Their names with ``_`` for ``-``, ``class_`` for ``class``; None is left out.
    """
    given = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{text(value)}"'
        for key, value in attributes.items()
        if value is not None
    )
    return Markup(f"<{name}{given}>{join(inside)}</{name}>")


def join(pieces: Iterable[Piece]) -> Markup:
    """Several pieces, one after the other."""
    return Markup("".join(_flat(piece) for piece in pieces))


def _flat(piece: Piece) -> Markup:
    if piece is None:
        return Markup()
    if isinstance(piece, Markup):
        return piece
    if isinstance(piece, str):
        return Markup(_WHOLE.sub(r'<span class="whole">\g<0></span>', text(piece)))
    return join(piece)


def table(head: Iterable[str], rows: Iterable[Iterable[Piece]], caption: str = "") -> Markup:
    """A table whose first column heads its rows, as a screen reader wants it.

    Each cell names its column, for a page too narrow for columns.
    """
    heads = list(head)
    return element(
        "table",
        element("caption", caption) if caption else None,
        element("thead", element("tr", [element("th", cell, scope="col") for cell in heads])),
        element("tbody", [_row(heads, list(row)) for row in rows]),
    )


def _row(heads: list[str], cells: list[Piece]) -> Markup:
    first, *rest = cells
    return element(
        "tr",
        element("th", first, scope="row"),
        [element("td", cell, data_head=head) for head, cell in zip(heads[1:], rest, strict=True)],
    )
