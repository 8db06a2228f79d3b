"""The elements of a drawing: text stays text, colours are classes, there is no inline style."""

from __future__ import annotations

from calib.show.report.markup import Markup, text


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
