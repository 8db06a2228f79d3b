"""Plots as inline SVG: text stays text, colours become classes, nothing needs inline style.

The plotting library is imported here, and only when a report is made.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

from calib.show.report.markup import Markup, text
from calib.show.report.palette import CLASSES, INK, PAPER, SOFT, stand_in

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_SVG = "{http://www.w3.org/2000/svg}"
_LINK = "{http://www.w3.org/1999/xlink}href"
_KEPT_STYLE = ("fill", "stroke")
MARGIN_LEFT_MM, MARGIN_BOTTOM_MM = 16.0, 10.0
_REFERENCE = re.compile(r"url\(#([^)]+)\)")

_LOOK: Any = {  # only some releases of the library type its keys
    "svg.fonttype": "none",
    "svg.hashsalt": "calib",
    "font.family": "sans-serif",
    "font.size": 8,
    "axes.edgecolor": stand_in(SOFT),
    "axes.facecolor": "none",
    "axes.labelcolor": stand_in(INK),
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.linewidth": 0.8,
    "figure.facecolor": "none",
    "grid.color": stand_in(SOFT),
    "grid.linewidth": 0.3,
    "legend.frameon": False,
    "legend.edgecolor": stand_in(SOFT),
    "legend.facecolor": stand_in(PAPER),
    "legend.labelcolor": stand_in(INK),
    "lines.linewidth": 1.1,
    "path.simplify": True,
    "text.parse_math": False,  # a channel name may hold a dollar sign
    "text.color": stand_in(INK),
    "xtick.color": stand_in(SOFT),
    "ytick.color": stand_in(SOFT),
    "xtick.labelcolor": stand_in(INK),
    "ytick.labelcolor": stand_in(INK),
}


@dataclass(frozen=True, slots=True)
class Paper:
    """How large a drawing is on paper, in millimetres, and what stands beside its axes.

    Attributes:
        width_mm: From edge to edge.
        height_mm: From edge to edge.
        right_mm: Room at the right of the axes, for words that no trace may cross.
        top_mm: Room above them.
    """

    width_mm: float
    height_mm: float
    right_mm: float = 2.0
    top_mm: float = 2.0


@contextmanager
def drawing(paper: Paper) -> Iterator[Figure]:
    """A figure to draw upon; pass it to ``inline_svg`` when done."""
    import matplotlib as mpl
    from matplotlib.figure import Figure

    with mpl.rc_context(_LOOK):
        figure = Figure(figsize=(paper.width_mm / 25.4, paper.height_mm / 25.4))
        # Fixed margins, because a layout that fits itself draws everything twice.
        figure.subplots_adjust(
            left=MARGIN_LEFT_MM / paper.width_mm,
            right=1 - paper.right_mm / paper.width_mm,
            bottom=MARGIN_BOTTOM_MM / paper.height_mm,
            top=1 - paper.top_mm / paper.height_mm,
        )
        yield figure


def inline_svg(figure: Figure, name: str, title: str, description: str) -> Markup:
    """The figure as SVG markup that holds no style of its own.

    Args:
        figure: What was drawn.
        name: A short word, different for each drawing of a page; its ids begin with it.
        title: What the drawing shows, for a screen reader.
        description: What it says, in a sentence.
    """
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    buffer = io.BytesIO()
    canvas = FigureCanvasSVG(figure)
    canvas.print_svg(buffer, metadata={"Date": None, "Creator": None})  # type: ignore[no-untyped-call]
    root = ET.fromstring(buffer.getvalue())
    _clean(root, name)
    width_pt, height_pt = figure.get_figwidth() * 72, figure.get_figheight() * 72
    inside = "".join(ET.tostring(child, encoding="unicode") for child in root)
    return framed(inside, name, title, description, width_pt, height_pt)


def framed(
    inside: str, name: str, title: str, description: str, width: float, height: float
) -> Markup:
    """An SVG element with title and description around ``inside``, which is markup already."""
    return Markup(
        f'<svg role="img" '
        f'aria-labelledby="{text(name)}-t {text(name)}-d" '
        f'viewBox="0 0 {width:.1f} {height:.1f}">'
        f'<title id="{text(name)}-t">{text(title)}</title>'
        f'<desc id="{text(name)}-d">{text(description)}</desc>{inside}</svg>'
    )


def plain_axes(axes: Axes) -> None:
    """A grid and ticks that do not shout."""
    axes.grid(visible=True, axis="both")
    axes.tick_params(length=3, width=0.6)


def _clean(root: ET.Element, name: str) -> None:
    """Take out metadata, style and unused ids; give the used ones the drawing's name."""
    used = _used_ids(root)
    for parent in root.iter():
        for child in list(parent):
            if child.tag in (f"{_SVG}metadata", f"{_SVG}style"):
                parent.remove(child)
    for node in root.iter():
        node.tag = node.tag.removeprefix(_SVG)
        _classes_for_style(node)
        own = node.attrib.pop("id", None)
        if own in used:
            node.set("id", f"{name}-{own}")
        link = node.attrib.pop(_LINK, None)
        if link is not None:
            node.set("href", f"#{name}-{link.lstrip('#')}")
        for key, value in node.attrib.items():
            if "url(#" in value:
                node.set(key, _REFERENCE.sub(rf"url(#{name}-\1)", value))


def _used_ids(root: ET.Element) -> set[str]:
    used = set()
    for node in root.iter():
        if _LINK in node.attrib:
            used.add(node.attrib[_LINK].lstrip("#"))
        for value in node.attrib.values():
            used.update(_REFERENCE.findall(value))
    return used


def _classes_for_style(node: ET.Element) -> None:
    """Turn ``style="..."`` into attributes, and stand-in colours into classes."""
    style = node.attrib.pop("style", "")
    for declaration in style.split(";"):
        key, _, value = declaration.partition(":")
        if value.strip():
            node.set(key.strip(), value.strip())
    if node.tag == "text":
        node.attrib.pop("font-family", None)
        font = node.attrib.pop("font", None)
        if font is not None:
            node.set("font-size", font.partition("px")[0].split()[-1])
        node.attrib.setdefault("fill", stand_in(INK))
    classes = []
    for key in _KEPT_STYLE:
        name = CLASSES.get(node.attrib.get(key, ""))
        if name is not None:
            del node.attrib[key]
            classes.append(f"{key[0]}-{name}")
    if classes:
        node.set("class", " ".join(classes))
