"""How the logger is wired: the drawings that come with the package."""

from __future__ import annotations

import re
from importlib import resources

from calib.show.report.markup import Markup, element
from calib.show.report.parts import drawing

DRAWINGS = {
    "isolation": "The drive is dead and the driven wheel free before a control is worked.",
    "pins": "Every pin is metered first.",
    "tap": "The tap stands beside the wire.",
    "divider": "A divider for a pin that does not stand 5 V.",
    "ground": "One ground, at the sensor.",
}
"""In the order of work; files in calib/data/drawings."""

_OWN_STYLE = re.compile(r"<style>.*?</style>\n?", re.DOTALL)


def wiring() -> Markup:
    """The drawings with their captions; the page's style takes the place of their own."""
    return element(
        "section",
        element("h2", "How the logger is wired"),
        [drawing(_inline(name), caption) for name, caption in DRAWINGS.items()],
        class_="chapter wiring",
    )


def _inline(name: str) -> Markup:
    source = resources.files("calib.data").joinpath("drawings", f"{name}.svg")
    return Markup(_OWN_STYLE.sub("", source.read_text(encoding="utf-8")))
