"""The values of the wheel: pulses a turn, and how far it rolls in one."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec.structs import replace

from calib.checks.file.validity import Filed, has_wheel, rolled_on_file, turned_on_file
from calib.checks.sheet.entry import without_value
from calib.store.documents.sheet import SheetEntry
from calib.store.text import counted

WHEEL = "wheel"


def entries(filed: Filed) -> Iterator[SheetEntry]:
    """Pulses a turn where there is a sensor, and the circumference."""
    if filed.rig.with_role("wheel"):
        yield _pulses(filed)
    if has_wheel(filed):
        yield _way(filed)


def _pulses(filed: Filed) -> SheetEntry:
    validity = turned_on_file(filed)
    entry = without_value("pulses a turn", WHEEL, "", validity, "calib wheel --turns 10")
    document = validity.believed
    if document is None or document.turned is None:
        return entry
    turned = document.turned
    turns = "" if turned.turns is None else f" over {counted(turned.turns, 'turn')}"
    origin = f"{turned.pulses:.0f} pulses{turns} by hand"
    return replace(entry, state="ready", origin=origin, value=document.pulses_a_turn, decimals=0)


def _way(filed: Filed) -> SheetEntry:
    validity = rolled_on_file(filed)
    entry = without_value("circumference", WHEEL, "mm", validity, "calib wheel --over-turns 10")
    document = validity.believed
    if document is None or document.rolled is None:
        return entry
    rolled = document.rolled
    who = "with the rider on" if rolled.seated else "without the rider, allowed for"
    return replace(
        entry,
        state="ready",
        origin=f"rolled {counted(round(rolled.turns), 'turn')} along a tape, {who}",
        value=document.circumference_mm,
        u=document.u_mm,
        expanded=document.expanded_mm,
        coverage=document.coverage,
        decimals=0,
    )
