"""HTML that is escaped by default: text becomes markup in one place only. Drawings are SVG in it.

In a drawing text stays text, colours are classes, and there is no inline style.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterable, Sequence

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


def table(head: Sequence[str], rows: Iterable[Iterable[Piece]], caption: str = "") -> Markup:
    """A table whose first column heads its rows, as a screen reader wants it.

    Each cell names its column, for a page too narrow for columns.
    """
    return element(
        "table",
        element("caption", caption) if caption else None,
        element("thead", element("tr", [element("th", cell, scope="col") for cell in head])),
        element("tbody", [_row(head[1:], row) for row in rows]),
    )


def _row(heads: Sequence[str], cells: Iterable[Piece]) -> Markup:
    first, *rest = cells
    return element(
        "tr",
        element("th", first, scope="row"),
        [element("td", cell, data_head=head) for head, cell in zip(heads, rest, strict=True)],
    )


def tag(name: str, classes: str, inside: str | None = None, /, **attributes: float | str) -> str:
    """One element; lengths are written to a tenth.

    Args:
        name: Its tag.
        classes: Its classes.
        inside: What stands in it, markup already; None for nothing.
        attributes: Their names with ``_`` for ``-``.
    """
    given = "".join(
        f' {key.replace("_", "-")}="{value if isinstance(value, str) else f"{value:.1f}"}"'
        for key, value in attributes.items()
    )
    end = "/>" if inside is None else f">{inside}</{name}>"
    return f'<{name} class="{classes}"{given}{end}'


def words(x: float, y: float, said: str, size: float, anchor: str) -> str:
    """Words whose foot stands at a place, in letters of a size."""
    return tag("text", "f-ink", text(said), font_size=f"{size:g}", x=x, y=y, text_anchor=anchor)


def framed(
    inside: str, name: str, title: str, description: str, width: float, height: float
) -> Markup:
    """An SVG element with title and description around ``inside``, which is markup already.

    Args:
        inside: The drawing.
        name: A short word, different for each drawing of a page; its ids begin with it.
        title: What the drawing shows, for a screen reader.
        description: What it says, in a sentence.
        width: In the drawing's own units.
        height: Likewise.
    """
    name = text(name)
    return Markup(
        f'<svg role="img" aria-labelledby="{name}-t {name}-d" '
        f'viewBox="0 0 {width:.1f} {height:.1f}">'
        f'<title id="{name}-t">{text(title)}</title>'
        f'<desc id="{name}-d">{text(description)}</desc>{inside}</svg>'
    )
