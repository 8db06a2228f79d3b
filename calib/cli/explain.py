"""``calib explain TOPIC``: the pages that a person needs at the machine, without a network."""

from __future__ import annotations

import sys
from typing import Annotated

import click

from calib.cli.options import argument, as_command
from calib.errors import UsageError


def topic_names(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[str]:  # noqa: ARG001 (click's signature)
    """What Tab offers."""
    from calib.store.explained import topics

    return [name for name in topics() if name.startswith(incomplete)]


@as_command("wiring")
def command(
    topic: Annotated[str | None, argument(required=False, shell_complete=topic_names)],
) -> int:
    """Show one page: wiring, ports, level, statistics, what a finding may mean.

    Without TOPIC the pages that there are. Nothing is fetched from anywhere.
    """
    from calib.store.explained import page, topics

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
