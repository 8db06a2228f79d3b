"""The report of the whole demo as people read it: eight sheets of paper, and a telephone."""

from __future__ import annotations

import html
import json
import re
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.e2e.browser import browse
from tests.e2e.conftest import Ran
from tests.tools import require_library

MOST_PAGES = 8
"""What a person hangs up; a demanded limit."""

FEWEST_LINES = 12
"""A page with less on it is one that a row or two slipped onto: own choice."""

PAPER_DOTS = round((210 - 2 * 12) / 25.4 * 96)
"""A4 less its margins, in the dots of which CSS has 96 to the inch."""

TELEPHONE_DOTS = 390

LOOK = """
<script>
const words = [];
const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (walker.nextNode()) {
  const node = walker.currentNode, parent = node.parentElement, head = parent.closest("thead");
  const hidden = head && getComputedStyle(head).position === "absolute";
  if (hidden || parent.closest("title, desc, style, script")) continue;
  for (const found of node.data.matchAll(/[^\\s-]+-?/g)) {
    const range = document.createRange();
    range.setStart(node, found.index);
    range.setEnd(node, found.index + found[0].length);
    const boxes = [...range.getClientRects()].filter(box => box.width > 0.5);
    if (boxes.length) words.push({
      text: found[0], lines: new Set(boxes.map(box => Math.round(box.top))).size,
      code: !!parent.closest("code"),
      boxes: boxes.map(box => [box.left, box.top, box.right, box.bottom]),
    });
  }
}
const out = document.createElement("pre");
out.id = "words";
out.textContent = JSON.stringify({words, width: document.documentElement.scrollWidth});
document.body.append(out);
</script>
"""

FRAME = """<!doctype html><body style="margin:0">
<iframe id="f" style="width:{width}px;height:30000px;border:0" srcdoc="{page}"></iframe>
<script>f.onload = () => {{
  document.body.append(f.contentDocument.getElementById("words").cloneNode(true));
}};</script>"""


class Word(NamedTuple):
    """A word as it was laid out."""

    text: str
    lines: int
    is_code: bool
    boxes: list[tuple[float, float, float, float]]


class Laid(NamedTuple):
    """A page as it was laid out: its words, and how wide it became."""

    words: list[Word]
    width: float


def laid_out(report: Path, home: Path, width: int, *, printed: bool = False) -> Laid:
    """The report's words as the browser lays them out.

    Args:
        report: The page.
        home: Where the browser may write.
        width: Dots across.
        printed: Whether the rules for paper hold, which on paper are as wide as its margins leave.
    """
    page = report.read_text(encoding="utf-8")
    page = re.sub(r"<meta http-equiv=[^>]*>", "", page)  # what measures it is itself a script
    if printed:
        page = page.replace("@media print", "@media all").replace("(max-width: 40rem)", "not all")
    page = page.replace("</body>", LOOK + "</body>")
    frame = home / f"frame-{width}.html"
    frame.write_text(FRAME.format(width=width, page=html.escape(page)), encoding="utf-8")
    dom = browse(frame, home, "--window-size=1200,900")
    found = re.search(r'<pre id="words">(.*?)</pre>', dom, re.DOTALL)
    assert found is not None
    seen = json.loads(html.unescape(found.group(1)))
    words = [
        Word(each["text"], each["lines"], each["code"], each["boxes"]) for each in seen["words"]
    ]
    return Laid(words, seen["width"])


def overprinted(words: list[Word]) -> list[tuple[str, str]]:
    """Pairs of words whose boxes share more than a dot in both directions.

    Boxes are as high as a line, letters are not: a quarter of the height above and below is air.
    """
    boxes = sorted(
        (top + 0.25 * (bottom - top), bottom - 0.25 * (bottom - top), left, right, number)
        for number, word in enumerate(words)
        for left, top, right, bottom in word.boxes
    )
    found = []
    for place, (top, bottom, left, right, number) in enumerate(boxes):
        for other in boxes[place + 1 :]:
            if other[0] > bottom - 1:
                break
            apart = other[4] == number or other[2] > right - 1 or other[3] < left + 1
            if not apart and other[1] > top:
                found.append((words[number].text, words[other[4]].text))
    return found


@pytest.fixture(params=["print", "telephone"])
def laid(request: pytest.FixtureRequest, plain: Ran, tmp_path: Path) -> Laid:
    """The demo's report, laid out for paper and for a telephone."""
    report = plain.out / "report.html"
    if request.param == "print":
        return laid_out(report, tmp_path, PAPER_DOTS, printed=True)
    return laid_out(report, tmp_path, TELEPHONE_DOTS)


def test_nothing_is_printed_over_anything(laid: Laid) -> None:
    """No word, in text or drawing, stands on another one, and none runs out at the side."""
    assert len(laid.words) > 1000
    assert overprinted(laid.words) == []
    assert laid.width in (PAPER_DOTS, TELEPHONE_DOTS)


def test_no_word_is_broken_in_the_middle(laid: Laid) -> None:
    """A line ends between words or at a hyphen; only a hash, which nobody reads, may be cut."""
    assert [word.text for word in laid.words if word.lines > 1 and not word.is_code] == []


def test_overprinting_and_a_broken_word_would_be_seen(plain: Ran, tmp_path: Path) -> None:
    """The same page, lines pushed together and words cut: the two tests can fail."""
    text = (plain.out / "report.html").read_text(encoding="utf-8")
    bad = tmp_path / "bad.html"
    rule = ".findings li { line-height: 0.3; width: 3rem; word-break: break-all; }"
    bad.write_text(text.replace("</style>", f"{rule}</style>"), encoding="utf-8")
    seen = laid_out(bad, tmp_path, PAPER_DOTS, printed=True)
    assert overprinted(seen.words)
    assert [word for word in seen.words if word.lines > 1]


def test_the_demo_fits_eight_sheets_and_none_holds_a_lone_row(plain: Ran, tmp_path: Path) -> None:
    """The sheet, the first turn and the cautions are all on page one."""
    pdfium = require_library("pypdfium2")
    target = tmp_path / "report.pdf"
    browse(
        plain.out / "report.html", tmp_path, "--no-pdf-header-footer", f"--print-to-pdf={target}"
    )
    document = pdfium.PdfDocument(target)
    pages = [page.get_textpage().get_text_range() for page in document]
    assert len(pages) <= MOST_PAGES
    assert min(len(page.splitlines()) for page in pages) >= FEWEST_LINES
    first = " ".join(pages[0].split())
    for words in (
        "What to type in",
        "throttle: drive takes up",
        "regen: braking starts",
        "tilt sensor: nose-up reads",
        "first turn of the wheel",
        "walking pace on the flat",
        "Before anyone touches the machine",
        "licensed practice come before this page",
    ):
        assert words in first
