"""``calib schema NAME``: the JSON Schema of a document."""

from __future__ import annotations

import click

from calib.cli.completion import document_names


@click.command()
@click.argument("name", required=False, shell_complete=document_names)
def command(name: str | None) -> int:
    """Print the JSON Schema of a document; without NAME, the names that there are."""
    import msgspec

    from calib.store.schemas import NAMES, schema_of

    if name is None:
        click.echo("\n".join(NAMES))
        return 0
    encoded = msgspec.json.encode(schema_of(name))
    click.echo(msgspec.json.format(encoded, indent=2).decode("utf-8"))
    return 0
