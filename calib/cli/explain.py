"""``calib explain TOPIC``: the pages that a person needs at the machine, without a network."""

from __future__ import annotations

import sys
from typing import Annotated

import click

from calib.book import DATA, packaged
from calib.cli.options import argument, as_command
from calib.errors import UsageError

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


def topic_names(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[str]:  # noqa: ARG001 (click's signature)
    """What Tab offers."""
    return [name for name in topics() if name.startswith(incomplete)]


@as_command("wiring")
def command(
    topic: Annotated[str | None, argument(required=False, shell_complete=topic_names)],
) -> int:
    """Show one page: wiring, ports, level, statistics, what a finding may mean.

    Without TOPIC the pages that there are. Nothing is fetched from anywhere.
    """
    titles = topics()
    if topic is None:
        wide = max(map(len, titles))
        for name, title in titles.items():
            click.echo(f"  calib explain {name:<{wide}}  {title}")
        return 0
    if topic not in titles:
        raise UsageError(f"There is no page {topic!r}.", f"There are: {', '.join(titles)}.")
    _show(page(topic))
    return 0


def _show(markdown: str) -> None:
    """Show one page; as Markdown where the output goes elsewhere than to a terminal."""
    if not sys.stdout.isatty():
        click.echo(markdown, nl=False)
        return
    from rich.console import Console
    from rich.markdown import Markdown

    from calib.show.console import WIDTH_CHARS

    console = Console()
    console.print(Markdown(markdown), width=min(console.width, WIDTH_CHARS))
