"""``calib schema NAME``: the JSON Schema of a document."""

from __future__ import annotations

from typing import Annotated

import click

from calib.cli.flow import print_document
from calib.cli.options import AsJson, argument, as_command


def document_names(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[str]:  # noqa: ARG001 (click's signature)
    """What Tab offers: documents that have a schema, and the lists."""
    from calib.store.schemas import LISTS, NAMES

    return [name for name in (*NAMES, *LISTS) if name.startswith(incomplete)]


@as_command("travel")
def command(
    name: Annotated[str | None, argument(required=False, shell_complete=document_names)],
    as_json: AsJson,
) -> int:
    """Print the JSON Schema of a document; without NAME, the names that there are.

    NAME may also be findings: all codes that a finding can have, causes first; or limits: all
    that figures are held against, each with its source, by the names that the rig file gives them.

    Options:
        --json: The names as JSON too; a schema always is.
    """
    import msgspec

    from calib.checks.limits import published as limits
    from calib.store.documents.codes import published as findings
    from calib.store.schemas import LISTS, NAMES, schema_of

    if name is None:
        names = (*NAMES, *LISTS)
        click.echo(msgspec.json.encode(names).decode() if as_json else "\n".join(names))
        return 0
    lists = {"findings": findings, "limits": limits}
    print_document(lists[name]() if name in lists else schema_of(name))
    return 0
