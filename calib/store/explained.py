"""The pages of ``calib explain``: Markdown that comes with the package."""

from __future__ import annotations

from calib.book import DATA, packaged

MEASURED = "measured"
_PAGES = "explain"


def topics() -> dict[str, str]:
    """The title of each page by its topic, in the order of the alphabet, measurements last."""
    pages = sorted(each.name for each in (DATA / _PAGES).iterdir() if each.name.endswith(".md"))
    titles = {name.removesuffix(".md"): _title(packaged(_PAGES, name)) for name in pages}
    return titles | {MEASURED: "What was measured of calib itself, with the commands"}


def page(topic: str) -> str:
    """One page as Markdown.

    Args:
        topic: One of ``topics()``.
    """
    if topic != MEASURED:
        return packaged(_PAGES, f"{topic}.md")
    names = sorted(each.name for each in (DATA / _PAGES / MEASURED).iterdir())
    parts = [packaged(_PAGES, MEASURED, name) for name in names]
    return "\n".join([f"# {topics()[MEASURED]}\n", *parts])


def _title(text: str) -> str:
    return text.partition("\n")[0].removeprefix("# ")
