"""A throttle with two sensors on the simulated bench, and what can be wrong with the second one."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Final

from calib.mule import rigfile
from calib.mule.bench import Bench, Control
from calib.mule.circuit import OPEN
from calib.mule.faults import KINDS, Fault, Planted, planted

SECOND_TRACK: Final = "throttle_b"
"""Name of its channel: it takes the lever's input at the logger."""


def with_second_track(bench: Bench) -> Bench:
    """The same bench with a throttle of two sensors, the second one at half scale, and no lever.

    The logger's columns, its noise and every other figure stay as they are.
    """
    first, second = bench.throttle, bench.regen
    hall = replace(
        second.hall,
        rest_share=0.5 * first.hall.rest_share,
        full_share=0.5 * first.hall.full_share,
        bow=0.5 * second.hall.bow,
    )
    return replace(bench, regen=replace(second, grip=first.grip, hall=hall, follows="throttle"))


def rig_text(bench: Bench, port: str) -> str:
    """The rig file of a bench, with or without a second track."""
    text = rigfile.rig_text(bench, port)
    if not bench.regen.follows:
        return text
    text = text.replace('acts = "drive"\n', f'acts = "drive"\nsecond_track = "{SECOND_TRACK}"\n')
    text = text.replace('acts = "brake"\n', "")
    return re.sub(r"^\[channels\.regen\]", f"[channels.{SECOND_TRACK}]", text, flags=re.MULTILINE)


@dataclass(frozen=True, slots=True)
class TrackFault(Fault):
    """A fault of the second track.

    Attributes:
        spoil: What it makes of the sensor at a severity.
    """

    spoil: Callable[[Control, int], Control]

    def change(self, bench: Bench, target: str, severity: int) -> Bench:
        """The bench with this fault."""
        del target
        return replace(bench, regen=self.spoil(bench.regen, severity))


def _sensed(control: Control, **figures: Any) -> Control:
    return replace(control, hall=replace(control.hall, **figures))


def _wired(control: Control, **figures: Any) -> Control:
    return replace(control, wiring=replace(control.wiring, **figures))


def _off_its_middle(control: Control, severity: int) -> Control:
    bow = (0.30, 0.22, 0.15, 0.10, 0.06)[severity - 1]
    return _sensed(control, bow=control.hall.bow + bow)


def _open(control: Control, severity: int) -> Control:
    joint_ohm = (OPEN, 1.0e7, 2.0e5, 3.0e4, 8.0e3)[severity - 1]
    return _wired(control, signal_ohm=joint_ohm, leak_ohm=1.0e5, leak_to_v=0.0)


def _flat(control: Control, severity: int) -> Control:
    return _sensed(control, flat_at=0.45, flat_width=(0.3, 0.2, 0.12, 0.08, 0.05)[severity - 1])


def _worn(control: Control, severity: int) -> Control:
    depth = (0.4, 0.25, 0.12, 0.07, 0.04)[severity - 1]
    return _sensed(control, worn_at=0.55, worn_width=0.12, worn_depth=depth)


def _noisy(control: Control, severity: int) -> Control:
    sd_v = (0.15, 0.1, 0.06, 0.04, 0.025)[severity - 1]
    return _wired(control, burst_a=sd_v / control.hall.out_ohm)


def _fault(about: str, spoil: Callable[[Control, int], Control]) -> Fault:
    return TrackFault(about, (SECOND_TRACK,), graded=True, figures={}, by={}, spoil=spoil)


TRACK_KINDS: Final = {
    "second-track-slipped": _fault(
        "the magnet of the second track sits off its middle", _off_its_middle
    ),
    "second-track-open": _fault(
        "signal wire of the second track open, input pulled to ground", _open
    ),
    "second-track-flat": _fault("the second track stands still over part of the travel", _flat),
    "second-track-worn": _fault("the second track falls back at one place of the travel", _worn),
    "second-track-noisy": _fault("wide-band noise on the second track's wire", _noisy),
}
"""Kinds of a bench with a second track, which no command makes."""


@dataclass(frozen=True, slots=True)
class PlantedTrack(Planted):
    """A fault of the second track as asked for."""

    def on(self, bench: Bench) -> Bench:
        """The bench with this fault."""
        return TRACK_KINDS[self.kind].change(bench, self.target, self.severity)


def targets_of(kind: str) -> tuple[str, ...]:
    """Channels that a kind can strike, of a lever or of a second track."""
    return {**KINDS, **TRACK_KINDS}[kind].targets


def planted_on_any(kind: str, severity: int, target: str | None = None) -> Planted:
    """A fault of a bench with a lever, or of one with a second track."""
    if kind in TRACK_KINDS:
        return PlantedTrack(kind, severity, target or SECOND_TRACK)
    return planted(kind, severity, target)
