"""Pages of ``calib explain`` in a terminal; as Markdown where the output goes elsewhere."""

from __future__ import annotations

import sys
from collections.abc import Mapping

from calib.show.console import WIDTH_CHARS


def show_topics(titles: Mapping[str, str]) -> None:
    """List the topics.

    Args:
        titles: Title by topic.
    """
    wide = max(map(len, titles))
    for topic, title in titles.items():
        sys.stdout.write(f"  calib explain {topic:<{wide}}  {title}\n")


def show_page(markdown: str) -> None:
    """Show one page.

    Args:
        markdown: A page of ours.
    """
    if not sys.stdout.isatty():
        sys.stdout.write(markdown)
        return
    from rich.console import Console
    from rich.markdown import Markdown

    console = Console()
    console.print(Markdown(markdown), width=min(console.width, WIDTH_CHARS))
