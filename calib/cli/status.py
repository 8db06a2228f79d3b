"""``calib`` alone, or ``calib status``: what is done, missing or stale, and the next command."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calib.cli.flow import Flow, finish, now
from calib.cli.options import DEFAULT_RIG, Shared, shared

if TYPE_CHECKING:
    from calib.store.documents.printed import StatusDocument


@shared("out", "as_json", example="--rig bench.toml")
def command(shared: Shared) -> int:
    """Say what is done, missing or stale for this rig, and the next command."""
    from calib.show.printed import show_status

    return finish(status_document(shared), show_status, as_json=shared.as_json)


def status_document(shared: Shared) -> StatusDocument:
    """How far the work is, by what is on file."""
    if not shared.rig_path.exists():
        return _without_rig(shared)
    import msgspec

    from calib.checks.status import status_of
    from calib.store.leftover import left_over

    filed = Flow(shared, "status").filed()
    broken_off = [
        f"calib {each.command}{' CHANNEL' if each.command in ('travel', 'meter') else ''} "
        f"--from {each.path}"
        for each in left_over(shared.folder, filed.records)
    ]
    document = status_of(filed, broken_off)
    named = _named(shared)
    return msgspec.structs.replace(
        document,
        next=document.next and document.next + named,
        left_over=tuple(command + named for command in document.left_over),
    )


def next_command(shared: Shared) -> str:
    """The first open step's command, as it is typed where the person stands."""
    from calib.checks.file.validity import Filed
    from calib.checks.status import status_of
    from calib.store.records import load_records

    status = status_of(Filed(shared.rig(), load_records(shared.folder), now()))
    return "calib report" if status.next is None else f"{status.next}{_named(shared)}"


def _named(shared: Shared) -> str:
    """The option that names the rig file: what is shown is pasted as it stands."""
    return "" if shared.rig_path == DEFAULT_RIG else f" --rig {shared.rig_path}"


def _without_rig(shared: Shared) -> StatusDocument:
    from calib.store.documents.finding import Severity
    from calib.store.documents.printed import StatusDocument, StatusStep

    first = StatusStep(
        name="rig file",
        state="to do",
        text=f"There is no {shared.rig_path} here. To see the whole job without a machine, run "
        "'calib demo'. Every command: 'calib --help'.",
        command="calib setup",
    )
    return StatusDocument(verdict=Severity.UNKNOWN, steps=(first,), next=first.command)
