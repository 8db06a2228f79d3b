"""Writes what is known into the rig file, and says what it is now."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import msgspec

from calib.checks.order import in_order
from calib.guide.setup.draft import Proposed
from calib.guide.setup.findings import judge_setup
from calib.guide.setup.guided import Told
from calib.guide.setup.plan import Asked, Sent, draft_rig
from calib.link.detect.rate import RateFound
from calib.store.documents import said
from calib.store.documents.finding import Finding, worst
from calib.store.documents.printed import ColumnSeen, Origin, RateTried, SetupDocument
from calib.store.rig import Rig, load_rig
from calib.store.rig_writing import edit_rig
from calib.store.text import counted, neutral


def make_rig(
    path: Path,
    rig: Rig | None,
    told: Told,
    asked: Asked,
    cautions: Sequence[str],
) -> SetupDocument:
    """Write or change the rig file, and say what is known of it.

    Args:
        path: The rig file.
        rig: As it was; None where it was not there.
        told: What the logger sends, and what working the parts, or moving the machine, told.
        asked: What the person said.
        cautions: For the page.

    Raises:
        UsageError: What was asked for cannot be.
        RigError: The file cannot be written, or a value is none that it may hold.
    """
    sent = told.sent
    settings, edit = draft_rig(sent, asked, rig, told.proposals).settle(path)
    if edit.entries:
        edit_rig(path, edit)
    made = load_rig(path)
    findings = (*told.findings, *judge_setup(sent, settings, made))
    return SetupDocument(
        verdict=worst(finding.severity for finding in findings),
        findings=in_order(findings),
        cautions=tuple(cautions),
        rig=str(path),
        created=rig is None,
        port=sent.port,
        tried=() if sent.found is None else _tried(sent.found),
        settings=settings,
        columns=_columns(sent, made),
    )


def carried_on(document: SetupDocument, before: SetupDocument) -> SetupDocument:
    """A later part of one run: what an earlier part had made or changed is of this run too."""
    changed = {(each.table, each.key) for each in before.settings if each.changed}
    settings = tuple(
        msgspec.structs.replace(each, changed=each.changed or (each.table, each.key) in changed)
        for each in document.settings
    )
    return msgspec.structs.replace(
        document, created=document.created or before.created, settings=settings
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


def usb_proposal(identity: str) -> Proposed:
    """By what a logger is known again, whatever its port is called.

    Args:
        identity: Vendor, product and serial number, neutral.
    """
    return Proposed(("link",), "usb", identity, Origin.FOUND, "the logger is known again by it")


def another_logger(identity: str, truings: int) -> Finding:
    """The rig file was made for another logger.

    Args:
        identity: The one that is there now.
        truings: How many channels' truings were taken out of the file: they are the other one's.
    """
    gone = f" {counted(truings, 'truing')} made with that one went out of it." if truings else ""
    return said.caution("another-logger", identity=identity, gone=gone)
