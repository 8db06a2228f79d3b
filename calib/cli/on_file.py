"""What is on file, with a line for each file that does not count."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from calib.cli.options import Shared

if TYPE_CHECKING:
    from calib.checks.file.standing import Evidence
    from calib.store.records import OnFile
    from calib.store.rig import Rig


def evidence_of(shared: Shared, rig: Rig) -> Evidence:
    """Everything on file for a rig, as it stands now."""
    from calib.checks.file.standing import Evidence
    from calib.cli.clock import now

    return Evidence(rig, records_of(shared), now())


def records_of(shared: Shared) -> OnFile:
    """The records; what cannot be believed is named on stderr and costs itself."""
    from calib.store.records import load_records

    file = load_records(shared.folder)
    for line in file.odd:
        click.echo(f"calib: {line}", err=True)
    return file
