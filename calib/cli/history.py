"""``calib history``: what was measured when, and the drift since."""

from __future__ import annotations

from typing import Annotated

from calib.cli.flow import Flow, now
from calib.cli.options import Shared, go_together, option, shared


@shared("out", "as_json")
def command(
    shared: Shared,
    pair: Annotated[tuple[str, str] | None, option("--compare A B", nargs=2)],
    supersede: Annotated[str | None, option("ID")],
    because: Annotated[str | None, option("TEXT")],
) -> int:
    """List the records of this rig and the drift of every control.

    A drift is a straight line through three records or more, with its uncertainty, and says when
    it will leave its limits. Records made under a condition are left out of it: compare those.

    Options:
        --compare: Hold two records side by side, say lights off and on; the start of an id will do.
        --supersede: Mark a bad record as no longer counting.
        --because: Why; it is kept with the record.
    """
    from calib.checks.file.history import history_of
    from calib.show.history import show_history
    from calib.store import records

    flow = Flow(shared, "history")
    go_together(
        "A record is never put aside without a reason.", supersede=supersede, because=because
    )
    if supersede is not None and because is not None:
        records.supersede(shared.folder, supersede, because, now=now())
    found = None
    if pair is not None:
        one, other = (records.find_record(shared.folder, each) for each in pair)
        found = (one, other)
    return flow.show(history_of(flow.filed(), found), show_history)
