"""What is on file, with a line for each file that does not count."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from calib.cli.options import Shared

if TYPE_CHECKING:
    from calib.checks.file.standing import Evidence
    from calib.store.capture import Capture
    from calib.store.documents.kinds import AnyDocument
    from calib.store.records import OnFile, Record
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


def keep_tilt(
    shared: Shared,
    rig: Rig,
    document: AnyDocument,
    *,
    command: str,
    captures: Sequence[Capture] = (),
    file: OnFile | None = None,
) -> Record:
    """Save a record about the tilt sensor; ``file`` as ``save_record`` has it."""
    from calib.cli.clock import now
    from calib.store.records import Subject, save_record

    subject = Subject(command, tilt=True)
    return save_record(
        shared.folder, rig, document, subject, now=now(), captures=captures, file=file
    )
