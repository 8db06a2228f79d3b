"""``calib report``: one self-contained HTML file of everything on file."""

from __future__ import annotations

from pathlib import Path

import click

from calib.cli.on_file import evidence_of
from calib.cli.options import Shared, shared


@click.command()
@shared("out", "as_json")
@click.option(
    "--file",
    "file",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Where to write it; else report.html beside the records.",
)
def command(shared: Shared, file: Path | None) -> int:
    """Write one HTML file with values, plots, findings and where it all comes from.

    It needs no network, holds no script, prints on A4 and can be kept for years.
    """
    from calib.checks.sheet import make_sheet
    from calib.cli.output import finish
    from calib.show.report import show_report, write_report
    from calib.store.documents.report import ReportDocument

    evidence = evidence_of(shared, shared.rig())
    click.echo(f"Drawing everything on file in {shared.folder} ...", err=True)
    path = write_report(shared.folder, evidence, file or shared.folder / "report.html")
    sheet = make_sheet(evidence)
    document = ReportDocument(verdict=sheet.verdict, path=str(path), records=len(evidence.records))
    return finish(document, show_report, as_json=shared.as_json)
