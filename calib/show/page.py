"""The parts that every terminal page is made of."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from calib.store.documents.finding import Document, Finding, Severity

_STYLES = {
    Severity.PASS: "bold green",
    Severity.CAUTION: "bold yellow",
    Severity.UNKNOWN: "bold reverse",
    Severity.FAIL: "bold reverse red",
}


def print_verdict(console: Console, document: Document, about: str) -> None:
    """The verdict word, as loud as the screen allows, and what it is about."""
    word = f"  {document.verdict.value.upper()}  "
    console.print()
    console.print(Text.assemble((word, _STYLES[document.verdict]), "  ", about))
    console.print()


def print_findings(console: Console, findings: Iterable[Finding]) -> None:
    """Findings, worst first, each with what to do."""
    for finding in sorted(findings, key=lambda each: -each.severity.rank):
        word = f"{finding.severity.value:>8}"
        console.print(
            Text.assemble((word, _STYLES[finding.severity]), "  ", finding.text), soft_wrap=False
        )
        if finding.action:
            console.print(Padding(Text(f"-> {finding.action}"), (0, 0, 0, 10)))


def print_cautions(console: Console, cautions: Iterable[str]) -> None:
    """The usual cautions, at the foot of the page."""
    console.print()
    for caution in cautions:
        console.print(Padding(Text(f"! {caution}", style="dim"), (0, 0, 0, 2)))


def print_provenance(console: Console, document: Document) -> None:
    """Where the figures came from, in one line."""
    capture = document.capture
    if capture is None:
        return
    rate = "" if capture.rate_hz is None else f" at {capture.rate_hz:.4g} Hz"
    console.print()
    console.print(
        Text(
            f"  from {capture.path}: {capture.samples} samples{rate}, "
            f"{capture.rejected_lines} rejected lines, {capture.gaps} gaps, "
            f"sha256 {capture.sha256[:12]}…",
            style="dim",
        )
    )
