"""A bench check worked by hand, in memory, with no chance in it: every reading is exact."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from calib.checks.bench.judgement import CheckSettings, judge_check
from calib.store.documents.check import CheckDocument
from calib.store.documents.finding import Finding
from calib.store.records import Record
from calib.store.rig import Rig, read_rig
from tests.wheel_files import wheel_capture

Floats = NDArray[np.float64]

RATE_HZ = 100.0
LASTS_S = 20.0
THROTTLE_S = (4.0, 6.0)
REGEN_S = (10.0, 12.0)
"""When each control is pressed, twice; each press is held for 1 s."""

CONTROL = '[channels.{}]\nrole = "control"\ncolumn = "{}"\nunit = "V"\n'
TWO = CONTROL.format("throttle", "a0") + CONTROL.format("regen", "a1")
RAIL = '[channels.rail]\nrole = "supply"\ncolumn = "v"\nunit = "V"\n'
BRAKE = '[channels.brake]\nrole = "switch"\ncolumn = "s"\nunit = "V"\n'


def rig(text: str = TWO) -> Rig:
    """A rig file in memory."""
    return read_rig(Path("rig.toml"), text.encode())


def level(volts: float, lasts_s: float = LASTS_S) -> Floats:
    """What stands all the time."""
    return np.full(round(lasts_s * RATE_HZ), volts)


def flicker(size: float, lasts_s: float = LASTS_S) -> Floats:
    """A little movement that is neither mains nor chance, from 0 to ``size`` in thirds."""
    return size / 2.0 * (np.arange(round(lasts_s * RATE_HZ), dtype=np.float64) % 3.0)


def presses(
    rest_V: float, full_V: float, at_s: tuple[float, ...], lasts_s: float = LASTS_S
) -> Floats:
    """A control that is pressed in 0.3 s, held for 1 s and back in 0.1 s, each time."""
    share = np.zeros(round(lasts_s * RATE_HZ))
    time_s = np.arange(len(share)) / RATE_HZ
    for start_s in at_s:
        corners_s = [start_s, start_s + 0.3, start_s + 1.3, start_s + 1.4]
        share += np.interp(time_s, corners_s, [0.0, 1.0, 1.0, 0.0])
    return rest_V + (full_V - rest_V) * share


def checked(
    about: Rig,
    *,
    earlier: Record | None = None,
    condition: str | None = None,
    quick: bool = False,
    rate_hz: float = RATE_HZ,
    **columns: Floats,
) -> CheckDocument:
    """The document of a check whose columns are given."""
    time_s = np.arange(len(next(iter(columns.values())))) / rate_hz
    capture = replace(wheel_capture(time_s, **columns), path=Path("evening.csv"))
    settings = CheckSettings(quick=quick, condition=condition)
    return judge_check(capture, about, (), earlier=earlier, settings=settings)


def told(document: CheckDocument, code: str, channel: str | None = None) -> Finding | None:
    """The finding of a code, of a channel where one is named; None where there is none."""
    return next(
        (
            each
            for each in document.findings
            if each.code == code and channel in (None, each.channel)
        ),
        None,
    )
