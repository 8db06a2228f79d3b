"""``calib history``: what was measured when, and the drift since."""

from __future__ import annotations

import click

from calib.cli.on_file import evidence_of
from calib.cli.options import Shared, shared


@click.command()
@shared("out", "as_json")
@click.option(
    "--compare",
    "pair",
    nargs=2,
    metavar="A B",
    help="Hold two records side by side, say lights off and on; the start of an id will do.",
)
@click.option("--supersede", metavar="ID", help="Mark a bad record as no longer counting.")
@click.option("--because", metavar="TEXT", help="Why; it is kept with the record.")
def command(
    shared: Shared, pair: tuple[str, str] | None, supersede: str | None, because: str | None
) -> int:
    """List the records of this rig and the drift of every control.

    A drift is a straight line through three records or more, with its uncertainty, and says when
    it will leave its limits. Records made under a condition are left out of it: compare those.
    """
    from calib.checks.file.history import history_of
    from calib.cli.clock import now
    from calib.cli.output import finish
    from calib.errors import UsageError
    from calib.show.history import show_history
    from calib.store.records import find_record
    from calib.store.records import supersede as mark

    rig = shared.rig()
    if (supersede is None) != (because is None):
        raise UsageError(
            "--supersede and --because go together.",
            "A record is never put aside without a reason.",
        )
    if supersede is not None and because is not None:
        mark(shared.folder, supersede, because, now=now())
    found = None
    if pair is not None:
        found = (find_record(shared.folder, pair[0]), find_record(shared.folder, pair[1]))
    document = history_of(evidence_of(shared, rig), found)
    return finish(document, show_history, as_json=shared.as_json)
