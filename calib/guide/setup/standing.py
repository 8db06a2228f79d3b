"""Two standings of the machine, and what they say of its tilt sensor."""

from __future__ import annotations

from collections.abc import Iterator

from calib.guide.setup.draft import Proposed
from calib.guide.setup.plan import Sent
from calib.guide.standing import Asked
from calib.link.detect.numbers import guess_unit
from calib.store.documents import said
from calib.store.documents.finding import Finding
from calib.store.documents.setup import Origin
from calib.store.text import neutral
from calib.tilt.which import TiltColumns, Triple

POSES = (
    Asked(
        "upright",
        "bounce",
        "Upright on both wheels, nobody on it. Bounce the suspension three times, let it settle, "
        "hands still.",
    ),
    Asked(
        "front raised",
        "front up",
        "Roll the front wheel onto a plank of some 50 mm or more, front brake held, rear chocked; "
        "upright, hands still.",
    ),
)
"""The two standings, in their order."""

MOST_DEG = 90.0
"""Numbers with decimals within this are taken for degrees: own choice."""

_WHY = "it moved when the front was raised"


def proposals_of(tilt: TiltColumns, sent: Sent) -> list[Proposed]:
    """What the rig file should say of the tilt sensor."""
    proposals: list[Proposed] = []
    if tilt.triple is not None:
        proposals.extend(_accelerometer(tilt.triple, sent))
    if len(tilt.angles) == 1:
        table, index = ("channels", "pitch"), tilt.angles[0]
        proposals.append(Proposed(table, "role", "pitch", Origin.FOUND, ""))
        proposals.append(Proposed(table, "column", sent.reference(index), Origin.FOUND, _WHY))
        if _looks_like_degrees(sent, index):
            why = "numbers with decimals that are no volts"
            proposals.append(Proposed(table, "unit", "deg", Origin.ASSUMED, why))
    return proposals


_SIGN_WHY = {
    "x": "it moved so when the front was raised",
    "y": "the sensor's axes are taken to be right-handed",
    "z": "it reads so upright",
}


def _accelerometer(triple: Triple, sent: Sent) -> Iterator[Proposed]:
    columns = (triple.x, triple.y, triple.z)
    for axis, index, sign in zip("xyz", columns, triple.signs, strict=True):
        table = ("channels", f"accel_{axis}")
        yield Proposed(table, "role", f"accel-{axis}", Origin.FOUND, "")
        why = {"x": "it changed most when the front was raised", "z": "it carries most of 1 g"}
        yield Proposed(
            table, "column", sent.reference(index), Origin.FOUND, why.get(axis, "the third axis")
        )
        origin = Origin.ASSUMED if axis == "y" else Origin.FOUND
        yield Proposed(table, "sign", sign, origin, _SIGN_WHY[axis])
        length = "the three together are 1 g long in both standings"
        yield Proposed(table, "unit", triple.unit, Origin.FOUND, length)
        if triple.counts_per_g is not None and triple.zero_count is not None:
            yield Proposed(table, "counts_per_g", triple.counts_per_g, Origin.FOUND, length)
            yield Proposed(table, "zero_count", triple.zero_count, Origin.FOUND, length)


def _looks_like_degrees(sent: Sent, index: int) -> bool:
    column = sent.columns[index]
    within = max(abs(column.low), abs(column.high)) <= MOST_DEG
    return guess_unit(column).unit is None and not column.whole and within


def findings_on(tilt: TiltColumns, sent: Sent) -> Iterator[Finding]:
    """What was told of the tilt sensor, and what was not."""
    if tilt.triple is not None:
        columns = ", ".join(_column(sent, getattr(tilt.triple, axis)) for axis in "xyz")
        yield said.passes("accelerometer-told", columns=columns)
    if len(tilt.angles) == 1:
        yield said.passes("pitch-told", channel="pitch", column=_column(sent, tilt.angles[0]))
    elif len(tilt.angles) > 1:
        names = ", ".join(_column(sent, index) for index in tilt.angles)
        yield said.unknown("pitch-not-told", names=names)
    elif tilt.triple is None:
        yield said.unknown("tilt-not-told")


def _column(sent: Sent, index: int) -> str:
    return neutral(str(sent.reference(index)), 40)
