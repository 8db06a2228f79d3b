"""What leaves a command: one JSON document, or a page; and the exit code of its verdict."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

import click
import msgspec

from calib.cli.audience import audience
from calib.store.documents.finding import Document, ErrorDocument

if TYPE_CHECKING:
    from calib.cli.options import Shared
    from calib.show.console import Screen

D = TypeVar("D", bound=Document)


def print_document(document: Document | ErrorDocument) -> None:
    """Print a document as JSON on stdout."""
    encoded = msgspec.json.format(msgspec.json.encode(document), indent=2)
    click.echo(encoded.decode("utf-8"))


def finish(
    document: D,
    page: Callable[[D, Screen], None],
    *,
    as_json: bool,
    onward: Shared | None = None,
) -> int:
    """Show a document and give the exit code of its verdict: 0 for pass and caution, else 1.

    Args:
        document: What was found.
        page: Shows it on a console.
        as_json: Print JSON on stdout instead of the page.
        onward: The options of a step of the evening: below its page stands the next command.
    """
    listening = audience()
    if listening is not None:
        listening.judged(document)
    if as_json:
        print_document(document)
    else:
        from calib.show.console import stdout_console

        page(document, stdout_console())
        if onward is not None:
            from calib.cli.status import next_command

            click.echo(f"\n NEXT  {next_command(onward)}")
    return 0 if document.verdict.is_good else 1
