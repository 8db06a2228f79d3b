"""The values of the tilt sensor: its level zero, and which way it counts."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec.structs import replace

from calib.checks.file.validity import Filed
from calib.checks.sheet.entry import without_value
from calib.measure.coverage import COVERAGE
from calib.store.documents.sheet import SheetEntry
from calib.store.documents.tilt import AxisZeroFigures, LevelDocument, Method, SignsDocument
from calib.store.text import counted

SENSOR = "tilt sensor"
ZERO_PITCH = "level zero, pitch"
ZERO_ROLL = "level zero, roll"
SIGN = "nose-up reads as"

_METHODS = {"turned": "turned end for end", "typed-slope": "the floor's slope was typed"}


def entries(filed: Filed) -> Iterator[SheetEntry]:
    """Zero and sign, for a rig that has a tilt sensor."""
    if filed.rig.has_tilt:
        yield from _zeros(filed)
        yield _sign(filed)


def _zeros(filed: Filed) -> Iterator[SheetEntry]:
    validity = filed.validity(LevelDocument, about=lambda document: document.claims_zero)
    command = "calib level --turned"
    if filed.rig.tilt.sensor != "logger":
        command += " --shown-level A --shown-turned A"
    document = validity.believed
    if document is None:
        yield without_value(ZERO_PITCH, SENSOR, "deg", validity, command)
        return
    pitch, method, basis = _as_the_controller_sees_it(filed, document)
    axes = [(ZERO_PITCH, pitch)]
    if document.roll is not None and document.stand:
        # Without a rigid stand the hand that holds the machine set the roll, not the floor.
        axes.append((ZERO_ROLL, document.roll))
    for name, axis in axes:
        if axis is None or method == "single":
            why = "It is from a single standing, so the floor's slope is in it."
            if axis is None:
                why = "What the controller shows on the level was not typed."
            yield without_value(name, SENSOR, "deg", validity.doubted(why), command)
            continue
        yield replace(
            without_value(name, SENSOR, "deg", validity, command),
            state="ready",
            origin=f"{_METHODS[method]}, {counted(document.standings, 'standing')}; in the "
            f"{basis}'s degrees",
            value=axis.zero,
            u=axis.u,
            expanded=axis.u95,
            coverage=COVERAGE,
        )


def _as_the_controller_sees_it(
    filed: Filed, document: LevelDocument
) -> tuple[AxisZeroFigures | None, Method, str]:
    """The zero on the scale of whoever acts on it, how the floor was told apart, and whose it is.

    A controller with a sensor or a zero of its own acts on its own reading, so the logger's zero
    is none for it.
    """
    if filed.rig.tilt.sensor == "logger" or document.basis == "controller":
        return document.pitch, document.method, document.basis
    return document.shown, document.shown_method or "single", "controller"


def _sign(filed: Filed) -> SheetEntry:
    validity = filed.validity(SignsDocument)
    document = validity.believed
    if document is not None and document.convention is None:
        validity, document = validity.doubted("No sign was proven."), None
    entry = without_value(SIGN, SENSOR, "", validity, "calib signs")
    if document is None:
        return entry
    expects = filed.rig.tilt.expects or document.expects
    if expects is None:
        expected = "what the controller expects is not noted under [tilt]"
    else:
        expected = f"the controller expects {expects}"
    origin = f"proven by a raised nose; {expected}"
    return replace(entry, state="ready", origin=origin, word=document.convention)
