"""Writes what is known into the rig file, and says what it is now."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from calib.guide.setup.findings import judge_setup
from calib.guide.setup.plan import Asked, Sent, draft_rig, draft_scales
from calib.link.detect.rate import RateFound
from calib.store.documents.finding import worst
from calib.store.documents.setup import ColumnSeen, RateTried, SetupDocument
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

    Raises:
        UsageError: What was asked for cannot be.
        RigError: The file cannot be written, or a value is none that it may hold.
    """
    draft = draft_rig(sent, found, port, asked, rig)
    draft_scales(draft, sent, asked, rig)
    settled = draft.settle(path)
    if settled.is_change:
        edit_rig(path, settled.edit)
    made = load_rig(path)
    findings = judge_setup(sent, found, settled.settings, made)
    return SetupDocument(
        verdict=worst(finding.severity for finding in findings),
        findings=findings,
        cautions=tuple(cautions),
        rig=str(path),
        created=rig is None,
        port=port,
        tried=() if found is None else _tried(found),
        settings=settled.settings,
        columns=_columns(sent, made),
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
