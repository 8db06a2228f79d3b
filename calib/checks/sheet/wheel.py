"""The values of the wheel: pulses a turn, and how far it rolls in one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from calib.checks.file.standing import Evidence
from calib.checks.file.wheel import has_wheel, rolled_on_file, turned_on_file
from calib.checks.sheet.entry import without_value
from calib.store.documents.sheet import SheetEntry
from calib.store.text import counted

WHEEL = "wheel"
PULSES = "pulses a turn"
WAY = "circumference"


def entries(evidence: Evidence) -> Sequence[SheetEntry]:
    """Pulses a turn where there is a sensor, and the circumference."""
    if not has_wheel(evidence):
        return []
    return [*(_pulses(evidence) if evidence.rig.with_role("wheel") else ()), _way(evidence)]


def _pulses(evidence: Evidence) -> Iterator[SheetEntry]:
    standing = turned_on_file(evidence)
    document, record = standing.document, standing.record
    if not standing.is_good or document is None or document.turned is None or record is None:
        yield without_value(PULSES, WHEEL, "", standing, "calib wheel --turns 10")
        return
    turned = document.turned
    turns = "" if turned.turns is None else f" over {counted(turned.turns, 'turn')}"
    yield SheetEntry(
        name=PULSES,
        channel=WHEEL,
        unit="",
        state="ready",
        origin=f"{turned.pulses:.0f} pulses{turns} by hand",
        value=document.pulses_a_turn,
        decimals=0,
        measured_at=record.measured_at,
        record=record.id,
    )


def _way(evidence: Evidence) -> SheetEntry:
    standing = rolled_on_file(evidence)
    document, record = standing.document, standing.record
    if not standing.is_good or document is None or document.rolled is None or record is None:
        command = "calib wheel --over-turns 10"
        return without_value(WAY, WHEEL, "mm", standing, command)
    rolled = document.rolled
    who = "with the rider on" if rolled.seated else "without the rider, allowed for"
    return SheetEntry(
        name=WAY,
        channel=WHEEL,
        unit="mm",
        state="ready",
        origin=f"rolled {counted(round(rolled.turns), 'turn')} along a tape, {who}",
        value=document.circumference_mm,
        u=document.u_mm,
        expanded=document.expanded_mm,
        coverage=document.coverage,
        decimals=0,
        measured_at=record.measured_at,
        record=record.id,
    )
