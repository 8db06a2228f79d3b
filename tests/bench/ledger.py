"""What a benchmark measured, written where `calib explain measured` shows it."""

from __future__ import annotations

import os
import platform
import sys
from collections.abc import Iterable
from datetime import date
from pathlib import Path

MEASURED = Path(__file__).parents[2] / "calib" / "data" / "explain" / "measured"


def table(header: Iterable[str], rows: Iterable[Iterable[object]]) -> str:
    """A Markdown table.

    Args:
        header: Column names.
        rows: Cells, shown as ``str`` makes them.
    """
    head = list(header)
    lines = [head, ["---"] * len(head), *([str(cell) for cell in row] for row in rows)]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def write(name: str, title: str, body: str, arguments: str = "") -> Path:
    """Keep the outcome of one benchmark, with its command, the date and the machine.

    Args:
        name: The benchmark's module, as in ``python -m tests.bench.NAME``.
        title: What was measured, as a heading.
        body: Markdown: what was run, the figures, the bars and whether they were met.
        arguments: What the command was given, for whoever repeats it.

    Returns:
        The file, replaced as a whole.
    """
    command = f"python -m tests.bench.{name} {arguments}".rstrip()
    machine = f"{os.cpu_count()} cores, {platform.machine()}, Python {platform.python_version()}"
    page = f"## {title}\n\n`{command}`, {date.today().isoformat()}, {machine}.\n\n{body.strip()}\n"  # noqa: DTZ011 (the day where it was run)
    path = MEASURED / f"{name}.md"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(page, encoding="utf-8")
    return path


def publish(name: str, title: str, body: str, arguments: str = "", *, met: bool) -> int:
    """Keep and print what was measured; the exit code, 1 where a bar was missed."""
    write(name, title, body, arguments)
    sys.stdout.write(f"{body}\n")
    return 0 if met else 1
