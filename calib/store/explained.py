"""The pages of ``calib explain``: Markdown that comes with the package."""

from __future__ import annotations

from importlib import resources

MEASURED = "measured"
_PAGES = resources.files("calib.data").joinpath("explain")


def topics() -> dict[str, str]:
    """The title of each page by its topic, in the order of the alphabet, measurements last."""
    pages = sorted(each.name for each in _PAGES.iterdir() if each.name.endswith(".md"))
    titles = {name.removesuffix(".md"): _title(_text(name)) for name in pages}
    return titles | {MEASURED: "What was measured of calib itself, with the commands"}


def page(topic: str) -> str:
    """One page as Markdown.

    Args:
        topic: One of ``topics()``.
    """
    if topic != MEASURED:
        return _text(f"{topic}.md")
    parts = sorted(each.name for each in _PAGES.joinpath(MEASURED).iterdir())
    return "\n".join([f"# {topics()[MEASURED]}\n", *(_text(MEASURED, name) for name in parts)])


def _text(*path: str) -> str:
    return _PAGES.joinpath(*path).read_text(encoding="utf-8")


def _title(text: str) -> str:
    return text.partition("\n")[0].removeprefix("# ")
