"""What the shell offers when Tab is pressed: channels, documents, topics."""

from __future__ import annotations

import tomllib
from pathlib import Path

import click


def channel_names(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[str]:  # noqa: ARG001
    """Channels of the rig file that is named, or of the one here; none where it cannot be read."""
    path = ctx.params.get("rig_path") or Path("rig.toml")
    try:
        tree = tomllib.loads(Path(path).read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError):
        return []
    channels = tree.get("channels", {})
    names = channels if isinstance(channels, dict) else {}
    return [name for name in names if name.startswith(incomplete)]


def document_names(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[str]:  # noqa: ARG001
    """Names of documents that have a schema."""
    from calib.store.schemas import LISTS, NAMES

    return [name for name in (*NAMES, *LISTS) if name.startswith(incomplete)]


def topic_names(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[str]:  # noqa: ARG001
    """Topics of ``calib explain``."""
    from calib.store.explained import topics

    return [name for name in topics() if name.startswith(incomplete)]
