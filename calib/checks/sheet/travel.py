"""The values of the hand controls: dead band and fault window, in volts or per cent."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from msgspec.structs import replace

from calib.checks.file.validity import Filed
from calib.checks.sheet.entry import without_value
from calib.checks.travel.doubts import Doubt, doubts
from calib.controls.values import STEP_TOLERANCE, whole_steps
from calib.store.acts import WORDINGS
from calib.store.documents import said
from calib.store.documents.check import CheckDocument
from calib.store.documents.finding import Severity
from calib.store.documents.sheet import SheetEntry
from calib.store.documents.travel import DeadBand, FaultWindow, LevelFigures, TravelDocument
from calib.store.rig import Rig
from calib.store.text import counted

BROKEN_BELOW = "broken wire below"
BROKEN_ABOVE = "broken wire above"
PROVEN = "proven by unplugging"
NOT_YET = "not yet proven"
SHARE_UNITS = ("percent", "share")


def entries(filed: Filed) -> Iterator[SheetEntry]:
    """Four values for each control, in the rig file's order."""
    for channel in filed.rig.worked_controls():
        yield from _as_typed(filed, channel, list(_of_control(filed, channel)))


def warnings(filed: Filed) -> said.Findings:
    """What the values of the controls rest on that nobody measured or proved."""
    for channel in filed.rig.worked_controls():
        document = filed.validity(TravelDocument, channel=channel).believed
        if document is not None:
            yield from (doubt.finding for doubt in _doubts(filed, channel, document))


def _of_control(filed: Filed, channel: str) -> Iterator[SheetEntry]:
    validity = filed.validity(TravelDocument, channel=channel)
    document, wording = validity.believed, WORDINGS[filed.rig.acts(channel)]
    names = (wording.start, wording.end, BROKEN_BELOW, BROKEN_ABOVE)
    command = f"calib travel {channel}"
    if document is None or document.dead_band is None:
        gap = validity.doubted("It holds no dead band.") if validity.is_good else validity
        for name in names:
            yield without_value(name, channel, "V", gap, command)
        return
    band, proof = document.dead_band, _proof(filed, channel, document.fault_window)
    doubted = list(_doubts(filed, channel, document))
    for name, (value, level, origin) in zip(names, _values(document, band, proof), strict=True):
        if value is None:
            yield without_value(name, channel, "V", validity.doubted(origin), command)
            continue
        is_of_wires = name in (BROKEN_BELOW, BROKEN_ABOVE)
        yield replace(
            without_value(name, channel, "V", validity, command),
            state="ready",
            origin=origin,
            warnings=tuple(each.words for each in doubted if is_of_wires or not each.of_wires),
            value=value,
            u=None if level is None else level.u,
            expanded=None if level is None else level.expanded,
            coverage=None if level is None else level.coverage,
            decimals=3 if band.step is not None and band.step < 0.01 else 2,
        )


def _values(
    document: TravelDocument, band: DeadBand, proof: str
) -> Iterator[tuple[float | None, LevelFigures | None, str]]:
    """Volts of start, end and both broken-wire values, the level that each rests on, origin."""
    volts = f"in the {document.basis}'s volts"
    decided = "spread of the rest" if band.start_decided_by == "limit" else "least share"
    presses = counted(document.presses, "press", "presses")
    yield band.start, document.rest, f"{presses}; the {decided} decided; {volts}"
    yield band.end, document.full, f"{presses}; {volts}"
    window = document.fault_window
    for broken_V in (None, None) if window is None else (window.low, window.high):
        room = "There is no room for a safe threshold; see its findings."
        yield broken_V, None, room if broken_V is None else f"{proof}; {volts}"


def _doubts(filed: Filed, channel: str, document: TravelDocument) -> Iterator[Doubt]:
    """What the values take for granted; first what only the broken-wire values do."""
    proof = _proof(filed, channel, document.fault_window)
    if proof != PROVEN:
        words = "not proven by pulling wires" if proof == NOT_YET else proof
        found = said.caution("wires-unproven", channel=channel, words=words)
        yield Doubt(words, found, of_wires=True)
    yield from doubts(filed.rig, channel, document)


def _proof(filed: Filed, channel: str, window: FaultWindow | None) -> str:
    """Whether pulled wires prove a fault window: every one of them read beyond it."""
    pulled = filed.validity(CheckDocument, channel=channel)
    document = pulled.document
    if window is None:
        return PROVEN  # there is nothing to prove
    if document is None or not document.pulled:
        return NOT_YET
    if not pulled.is_good or document.verdict is not Severity.PASS:
        return "wires were pulled, but that proves nothing now"
    low_V = -math.inf if window.low is None else window.low
    high_V = math.inf if window.high is None else window.high
    if all(each.high <= low_V or each.low >= high_V for each in document.pulled):
        return PROVEN
    return "wires were pulled, and one read between the two"


@dataclass(frozen=True, slots=True)
class Whole:
    """What a share is of, and how finely it is typed.

    Attributes:
        volts: That make 100 per cent, V at the wire.
        step_pct: The controller's step, per cent.
    """

    volts: float
    step_pct: float


def whole_of(rig: Rig, channel: str) -> Whole | None:
    """Of a control that comes as a share, where the controller takes shares; else None.

    A scale that was trued is one of volts: what the logger calls a share is then none of it.
    """
    about, step_pct = rig.channel(channel), rig.rig.setting_step_pct
    if step_pct is None or about.unit not in SHARE_UNITS or about.scale is not None:
        return None
    if about.reference_V is None:
        return None
    return Whole(about.reference_V * about.divider, step_pct)


def as_share(entry: SheetEntry, whole: Whole, *, up: bool) -> SheetEntry:
    """An entry in volts as one in per cent, rounded to the controller's step.

    Args:
        entry: With a value in volts.
        whole: What a share is of.
        up: Whether it is rounded up: into the travel, and out of it for a broken wire.
    """
    if entry.value is None:
        return replace(entry, unit="%")
    per_V = 100.0 / whole.volts
    stepped = whole_steps(entry.value * per_V, whole.step_pct, up=up)
    return replace(
        entry,
        value=round(stepped * whole.step_pct, 6),
        unit="%",
        u=None if entry.u is None else entry.u * per_V,
        expanded=None if entry.expanded is None else entry.expanded * per_V,
        decimals=max(0, math.ceil(-math.log10(whole.step_pct) - STEP_TOLERANCE)),
        origin=f"{entry.origin}; per cent of full scale, as it is sent: 100 % are "
        f"{whole.volts:g} V in all that calib says in volts",
    )


def _as_typed(filed: Filed, channel: str, entries: Sequence[SheetEntry]) -> Sequence[SheetEntry]:
    """The values as the controller takes them: volts, or shares of full scale."""
    whole = whole_of(filed.rig, channel)
    if whole is None:
        return entries
    start, end, *_ = entries
    falling = start.value is not None and end.value is not None and start.value > end.value
    ways = zip(entries, (not falling, falling, False, True), strict=True)
    return [as_share(entry, whole, up=up) for entry, up in ways]
