"""Writes what is known into the rig file, and says what it is now."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import msgspec

from calib.checks.order import in_order
from calib.guide.setup.draft import Proposed, Settled
from calib.guide.setup.findings import judge_setup
from calib.guide.setup.plan import Asked, Sent, draft_rig, draft_scales
from calib.link.detect.rate import RateFound
from calib.store.documents.finding import Finding, worst
from calib.store.documents.setup import ColumnSeen, RateTried, Setting, SetupDocument
from calib.store.rig import Rig, load_rig
from calib.store.rig_writing import edit_rig
from calib.store.text import neutral


def make_rig(
    path: Path,
    rig: Rig | None,
    sent: Sent,
    asked: Asked,
    *,
    found: RateFound | None,
    port: str | None,
    cautions: Sequence[str],
    told: Sequence[Proposed] = (),
    findings: Sequence[Finding] = (),
    before: SetupDocument | None = None,
) -> SetupDocument:
    """Write or change the rig file, and say what is known of it.

    Args:
        path: The rig file.
        rig: As it was; None where it was not there.
        sent: What the logger sends.
        asked: What the person said.
        found: The logger's rate; None for a file.
        port: The port that was listened to; None for a file.
        cautions: For the page.
        told: What working the parts, or moving the machine, told.
        findings: On that.
        before: What this run had written already.

    Raises:
        UsageError: What was asked for cannot be.
        RigError: The file cannot be written, or a value is none that it may hold.
    """
    settled = settle_rig(path, rig, sent, asked, found=found, port=port, told=told)
    if settled.is_change:
        edit_rig(path, settled.edit)
    made = load_rig(path)
    all_findings = (*findings, *judge_setup(sent, found, settled.settings, made))
    return SetupDocument(
        verdict=worst(finding.severity for finding in all_findings),
        findings=in_order(all_findings),
        cautions=tuple(cautions),
        rig=str(path),
        created=rig is None or (before is not None and before.created),
        port=port,
        tried=() if found is None else _tried(found),
        settings=_with_changes(settled.settings, before),
        columns=_columns(sent, made),
    )


def settle_rig(
    path: Path,
    rig: Rig | None,
    sent: Sent,
    asked: Asked,
    *,
    found: RateFound | None,
    port: str | None,
    told: Sequence[Proposed] = (),
) -> Settled:
    """What the rig file will say, and what must be written for that; nothing is written yet.

    Arguments are those of ``make_rig``.

    Raises:
        UsageError: What was asked for cannot be.
    """
    draft = draft_rig(sent, found, port, asked, rig, told)
    draft_scales(draft, sent, asked, rig)
    return draft.settle(path)


def _with_changes(settings: Sequence[Setting], before: SetupDocument | None) -> tuple[Setting, ...]:
    """The settings, with what this run had changed already said to be changed."""
    changed = {
        (each.table, each.key) for each in (before.settings if before else ()) if each.changed
    }
    return tuple(
        msgspec.structs.replace(each, changed=each.changed or (each.table, each.key) in changed)
        for each in settings
    )


def _tried(found: RateFound) -> tuple[RateTried, ...]:
    return tuple(
        RateTried(baud=each.baud, received_bytes=each.received, understood_pct=100 * each.merit)
        for each in found.tried
    )


def _columns(sent: Sent, rig: Rig) -> tuple[ColumnSeen, ...]:
    """Each column with what the rig file makes of it."""
    uses = {sent.place(channel.column): name for name, channel in rig.channels.items()}
    if rig.time.column is not None:
        uses[sent.place(rig.time.column)] = "time"
    return tuple(
        ColumnSeen(
            number=column.index,
            name=neutral(column.name, 40) if sent.named else None,
            low=column.low,
            high=column.high,
            use=uses.get(column.index),
        )
        for column in sent.columns
    )
