"""What a fault is: a sound bench made into a bad one, in five degrees."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from calib.mule.bench import Bench, Control

SEVERITIES = range(1, 6)  # 1 is plain, 5 is subtle


@dataclass(frozen=True, slots=True)
class Fault:
    """One kind of fault.

    Attributes:
        about: What has gone wrong, in a few words.
        change: Makes a bench bad: the bench, the channel, the severity from 1 (plain) to 5.
        targets: Channels that it can strike; the first one where none is named.
        graded: Whether its severities differ; a swapped plug has no degrees.
    """

    about: str
    change: Callable[[Bench, str, int], Bench]
    targets: tuple[str, ...]
    graded: bool = True


def on_bench(change: Callable[[Bench, int], Bench]) -> Callable[[Bench, str, int], Bench]:
    """Lift a change that has no choice of channel."""

    def lifted(bench: Bench, target: str, severity: int) -> Bench:
        del target
        return change(bench, severity)

    return lifted


def on_control(change: Callable[[Control, int], Control]) -> Callable[[Bench, str, int], Bench]:
    """Lift a change of one control to the bench."""

    def lifted(bench: Bench, target: str, severity: int) -> Bench:
        return bench.with_control(target, change(bench.control(target), severity))

    return lifted


def wired(control: Control, **figures: Any) -> Control:
    """The control with other figures in its harness."""
    return replace(control, wiring=replace(control.wiring, **figures))


def gripped(control: Control, **figures: Any) -> Control:
    """The control with other mechanics."""
    return replace(control, grip=replace(control.grip, **figures))


def sensed(control: Control, **figures: Any) -> Control:
    """The control with another sensor or magnet."""
    return replace(control, hall=replace(control.hall, **figures))
