"""Faults of the second track of a throttle with two sensors."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

from calib.mule.bench import SECOND_TRACK, Bench, Control
from calib.mule.circuit import OPEN
from calib.mule.faults.kind import Fault, sensed, wired


def _on_second(change: Callable[[Control, int], Control]) -> Callable[[Bench, str, int], Bench]:
    """Lift a change of the second track, which sits on the lever's input, to the bench."""

    def lifted(bench: Bench, target: str, severity: int) -> Bench:
        del target
        return replace(bench, regen=change(bench.regen, severity))

    return lifted


def _off_its_middle(control: Control, severity: int) -> Control:
    bow = (0.30, 0.22, 0.15, 0.10, 0.06)[severity - 1]
    return sensed(control, bow=control.hall.bow + bow)


def _open(control: Control, severity: int) -> Control:
    joint_ohm = (OPEN, 1.0e7, 2.0e5, 3.0e4, 8.0e3)[severity - 1]
    return wired(control, signal_ohm=joint_ohm, leak_ohm=1.0e5, leak_to_v=0.0)


def _flat(control: Control, severity: int) -> Control:
    return sensed(control, flat_at=0.45, flat_width=(0.3, 0.2, 0.12, 0.08, 0.05)[severity - 1])


def _worn(control: Control, severity: int) -> Control:
    depth = (0.4, 0.25, 0.12, 0.07, 0.04)[severity - 1]
    return sensed(control, worn_at=0.55, worn_width=0.12, worn_depth=depth)


def _noisy(control: Control, severity: int) -> Control:
    sd_v = (0.15, 0.1, 0.06, 0.04, 0.025)[severity - 1]
    return wired(control, burst_a=sd_v / control.hall.out_ohm)


FAULTS: Final[dict[str, Fault]] = {
    "second-track-slipped": Fault(
        "the magnet of the second track sits off its middle",
        _on_second(_off_its_middle),
        (SECOND_TRACK,),
    ),
    "second-track-open": Fault(
        "signal wire of the second track open, input pulled to ground",
        _on_second(_open),
        (SECOND_TRACK,),
    ),
    "second-track-flat": Fault(
        "the second track stands still over part of the travel", _on_second(_flat), (SECOND_TRACK,)
    ),
    "second-track-worn": Fault(
        "the second track falls back at one place of the travel",
        _on_second(_worn),
        (SECOND_TRACK,),
    ),
    "second-track-noisy": Fault(
        "wide-band noise on the second track's wire", _on_second(_noisy), (SECOND_TRACK,)
    ),
}
