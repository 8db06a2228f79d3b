"""The page of ``calib record``."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from calib.show.page import print_cautions, print_findings, print_provenance, print_verdict
from calib.store.documents.record import RecordDocument
from calib.store.text import neutral


def show_record(document: RecordDocument, console: Console) -> None:
    """What was captured: range of each channel, findings, where it lies."""
    print_verdict(console, document, "captured")
    for name, seen in document.channels.items():
        console.print(
            Text(
                f"  {neutral(name, 16):<16} {seen.low:9.3f} to {seen.high:9.3f}   "
                f"median {seen.median:9.3f} {seen.unit}"
            )
        )
    console.print()
    print_findings(console, document.findings)
    print_provenance(console, document)
    print_cautions(console, document.cautions)
