"""The values of the hand controls: dead band and fault window."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from calib.checks.file.standing import Evidence, Standing, State
from calib.checks.sheet.entry import without_value
from calib.checks.sheet.shares import as_share, whole_of
from calib.checks.travel.doubts import Doubt, doubts, unproven
from calib.store.acts import WORDINGS, Wording
from calib.store.documents.check import CheckDocument
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.sheet import SheetEntry
from calib.store.documents.travel import FaultWindow, LevelFigures, TravelDocument
from calib.store.text import counted

BROKEN_BELOW = "broken wire below"
BROKEN_ABOVE = "broken wire above"
PROVEN = "proven by unplugging"
NOT_YET = "not yet proven"


def entries(evidence: Evidence) -> Sequence[SheetEntry]:
    """Four values for each control, in the rig file's order."""
    return [
        entry
        for channel in evidence.rig.worked_controls()
        for entry in _as_typed(evidence, channel, list(_of_control(evidence, channel)))
    ]


def _as_typed(
    evidence: Evidence, channel: str, entries: Sequence[SheetEntry]
) -> Sequence[SheetEntry]:
    """The values as the controller takes them: volts, or shares of full scale."""
    whole = whole_of(evidence.rig, channel)
    if whole is None:
        return entries
    start, end, below, above = entries
    falling = start.value is not None and end.value is not None and start.value > end.value
    return [
        as_share(start, whole, up=not falling),
        as_share(end, whole, up=falling),
        as_share(below, whole, up=False),
        as_share(above, whole, up=True),
    ]


def warnings(evidence: Evidence) -> Iterator[Finding]:
    """What the values of the controls rest on that nobody measured or proved."""
    for channel in evidence.rig.worked_controls():
        standing = evidence.standing(TravelDocument, channel=channel)
        if standing.is_good and standing.document is not None:
            pulled = evidence.standing(CheckDocument, channel=channel)
            window = standing.document.fault_window
            for doubt in (
                *doubts(evidence.rig, channel, standing.document),
                *_unproven(channel, window, pulled),
            ):
                yield doubt.finding


def _of_control(evidence: Evidence, channel: str) -> Iterator[SheetEntry]:
    standing = evidence.standing(TravelDocument, channel=channel)
    document = standing.document
    command = f"calib travel {channel}"
    if standing.is_good and (document is None or document.dead_band is None):
        standing = Standing(State.UNKNOWN, "It holds no dead band.", standing.record, document)
    wording = WORDINGS[evidence.rig.acts(channel)]
    if not standing.is_good or document is None or standing.record is None:
        for name in (wording.start, wording.end, BROKEN_BELOW, BROKEN_ABOVE):
            yield without_value(name, channel, "V", standing, command)
        return
    doubted = tuple(each.words for each in doubts(evidence.rig, channel, document))
    pulled = evidence.standing(CheckDocument, channel=channel)
    unsure = tuple(each.words for each in _unproven(channel, document.fault_window, pulled))
    for name, value, level, origin in _values(wording, document, pulled):
        if value is None:
            gap = Standing(State.UNKNOWN, origin, standing.record, document)
            yield without_value(name, channel, "V", gap, command)
        else:
            yield SheetEntry(
                name=name,
                channel=channel,
                unit="V",
                state="ready",
                origin=origin,
                warnings=(
                    *(unsure if name in (BROKEN_BELOW, BROKEN_ABOVE) else ()),
                    *doubted,
                ),
                value=value,
                u=None if level is None else level.u,
                expanded=None if level is None else level.expanded,
                coverage=None if level is None else level.coverage,
                decimals=decimals_of(document),
                measured_at=standing.record.measured_at,
                record=standing.record.id,
            )


def decimals_of(document: TravelDocument) -> int:
    """Digits after the point of a value that is typed in the controller's own step."""
    step_V = document.dead_band.step if document.dead_band is not None else None
    return 3 if step_V is not None and step_V < 0.01 else 2


def proof_of(window: FaultWindow, pulled: Standing[CheckDocument]) -> str:
    """Whether pulled wires prove a fault window: every one of them read beyond it."""
    document = pulled.document
    if document is None or not document.pulled:
        return NOT_YET
    if not pulled.is_good or document.verdict is not Severity.PASS:
        return "wires were pulled, but that proves nothing now"
    below = [each for each in document.pulled if window.low is not None and each.high <= window.low]
    above = [
        each for each in document.pulled if window.high is not None and each.low >= window.high
    ]
    if len(below) + len(above) == len(document.pulled):
        return PROVEN
    return "wires were pulled, and one read between the two"


def _unproven(
    channel: str, window: FaultWindow | None, pulled: Standing[CheckDocument]
) -> tuple[Doubt, ...]:
    """That pulled wires do not prove the broken-wire values; nothing where they do."""
    proof = PROVEN if window is None else proof_of(window, pulled)
    if proof == PROVEN:
        return ()
    return (unproven(channel) if proof == NOT_YET else unproven(channel, proof),)


def _values(
    wording: Wording, document: TravelDocument, pulled: Standing[CheckDocument]
) -> Iterator[tuple[str, float | None, LevelFigures | None, str]]:
    """Name, volts, the level that it rests on, origin."""
    volts = f"in the {document.basis}'s volts"
    band, window = document.dead_band, document.fault_window
    if band is not None:
        decided = "spread of the rest" if band.start_decided_by == "limit" else "least share"
        presses = counted(document.presses, "press", "presses")
        origin = f"{presses}; the {decided} decided; {volts}"
        yield wording.start, band.start, document.rest, origin
        yield wording.end, band.end, document.full, f"{presses}; {volts}"
    low = None if window is None else window.low
    high = None if window is None else window.high
    proven = "" if window is None else proof_of(window, pulled)
    room = "There is no room for a safe threshold; see its findings."
    yield BROKEN_BELOW, low, None, room if low is None else f"{proven}; {volts}"
    yield BROKEN_ABOVE, high, None, room if high is None else f"{proven}; {volts}"
