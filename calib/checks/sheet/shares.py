"""Values of a control that is typed in per cent of full scale."""

from __future__ import annotations

import math
from dataclasses import dataclass

import msgspec

from calib.controls.deadband import STEP_TOLERANCE
from calib.store.documents.sheet import SheetEntry
from calib.store.rig import Rig

SHARE_UNITS = ("percent", "share")


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
        return msgspec.structs.replace(entry, unit="%")
    per_V = 100.0 / whole.volts
    steps = entry.value * per_V / whole.step_pct
    stepped = math.ceil(steps - STEP_TOLERANCE) if up else math.floor(steps + STEP_TOLERANCE)
    return msgspec.structs.replace(
        entry,
        value=round(stepped * whole.step_pct, 6),
        unit="%",
        u=None if entry.u is None else entry.u * per_V,
        expanded=None if entry.expanded is None else entry.expanded * per_V,
        decimals=max(0, math.ceil(-math.log10(whole.step_pct) - STEP_TOLERANCE)),
        origin=f"{entry.origin}; per cent of full scale, as it is sent: 100 % are "
        f"{whole.volts:g} V in all that calib says in volts",
    )
