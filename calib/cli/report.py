"""``calib report``: one self-contained HTML file of everything on file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import click

from calib.cli.flow import Flow
from calib.cli.options import NEW_FILE, Shared, option, shared


@shared("out", "as_json", example="--file wall.html")
def command(shared: Shared, file: Annotated[Path | None, option("FILE", kind=NEW_FILE)]) -> int:
    """Write one HTML file with values, plots, findings and where it all comes from.

    It needs no network, holds no script, prints on A4 and can be kept for years.

    Options:
        --file: Where to write it; else report.html beside the records.
    """
    from calib.checks.sheet import make_sheet
    from calib.show.report import show_report, write_report
    from calib.store.documents.printed import ReportDocument

    flow = Flow(shared, "report")
    evidence = flow.filed()
    click.echo(f"Drawing everything on file in {shared.folder} ...", err=True)
    path = write_report(shared.folder, evidence, file or shared.folder / "report.html")
    sheet = make_sheet(evidence)
    document = ReportDocument(verdict=sheet.verdict, path=str(path), records=len(evidence.records))
    return flow.show(document, show_report)
