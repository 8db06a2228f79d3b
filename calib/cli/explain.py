"""``calib explain TOPIC``: the pages that a person needs at the machine, without a network."""

from __future__ import annotations

import click

from calib.cli.options import as_command
from calib.errors import UsageError


def topic_names(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[str]:  # noqa: ARG001 (click's signature)
    """What Tab offers."""
    from calib.store.explained import topics

    return [name for name in topics() if name.startswith(incomplete)]


@as_command("wiring")
@click.argument("topic", required=False, shell_complete=topic_names)
def command(topic: str | None) -> int:
    """Show one page: wiring, ports, level, statistics, what a finding may mean.

    Without TOPIC the pages that there are. Nothing is fetched from anywhere.
    """
    from calib.show.explained import show_page, show_topics
    from calib.store.explained import page, topics

    titles = topics()
    if topic is None:
        show_topics(titles)
        return 0
    if topic not in titles:
        raise UsageError(f"There is no page {topic!r}.", f"There are: {', '.join(titles)}.")
    show_page(page(topic))
    return 0
