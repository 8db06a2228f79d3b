"""The consoles: pages on stdout, prompts and progress on stderr."""

from __future__ import annotations

from rich.console import Console

WIDTH_CHARS = 80  # a plain terminal; pages never need more


def stdout_console() -> Console:
    """The console for pages; honours NO_COLOR, and is never wider than 80 columns."""
    return _bounded(Console(highlight=False, markup=False, emoji=False))


def stderr_console() -> Console:
    """The console for prompts, progress and live pages."""
    return _bounded(Console(stderr=True, highlight=False, markup=False, emoji=False))


def _bounded(console: Console) -> Console:
    console.width = min(console.width, WIDTH_CHARS)
    return console
