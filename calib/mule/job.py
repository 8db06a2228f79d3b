"""The whole job of an evening, as commands and what the simulated hands do while each runs."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import Final

import numpy as np

from calib.mule.bench import CONTROLS
from calib.mule.faults import KINDS, Planted
from calib.mule.person import PLANK_MM, Answer
from calib.mule.stage import WIRES, Stage

GOOD: Final = frozenset({0})
ANY_VERDICT: Final = frozenset({0, 1})

METER_STEP_V: Final = 0.01
METER_PCT: Final = 0.5
SAME_V: Final = 0.1  # a voltage within this of the last one is that one, set again


@dataclass(frozen=True, slots=True)
class Task:
    """One command of the job, and what the simulated person knows beforehand.

    Attributes:
        arguments: The command and its options, without the rig file.
        ready: What they do at each prompt to make something ready, by a word in it.
        answers: What the person answers to each question, by a word in it.
        before: What is done at the bench before it.
        ends: Exit codes with which it may end.
        page: File into which what it prints goes; the terminal where None.
        speed: Seconds of bench time in one second while it runs.
    """

    arguments: tuple[str, ...]
    ready: Mapping[str, Callable[[Stage], None]] = field(default_factory=dict)
    answers: Mapping[str, Answer] = field(default_factory=dict)
    before: Callable[[Stage], None] | None = None
    ends: frozenset[int] = GOOD
    page: str | None = None
    speed: float = 25.0

    @property
    def text(self) -> str:
        """The command as it is typed."""
        return " ".join(self.arguments)


def tasks(fault: Planted | None = None) -> list[Task]:
    """The job in its order; with a fault, the rewire that brings it and where it shows."""
    record, check = Task(("record", "--for", "5")), Task(("check",))
    pages = [
        Task(("sheet",), ends=ANY_VERDICT),
        Task(("sheet", "--markdown"), ends=ANY_VERDICT, page="sheet.md"),
        Task(("report",), ends=ANY_VERDICT),
    ]
    if fault is not None:
        return [record, check, *_with_fault(fault), *pages]
    return [
        record,
        *(_meter(name, seed) for seed, name in enumerate(CONTROLS)),
        check,
        *_travels(GOOD),
        *(_unplug(name) for name in CONTROLS),
        Task(("wheel",)),
        Task(("wheel", "--over-turns", "10", "--seated")),
        *_tilts(GOOD),
        *pages,
    ]


def _with_fault(fault: Planted) -> Iterator[Task]:
    """A rewire that brings a fault, the check after it, and what else shows the fault."""

    def rewire(stage: Stage) -> None:
        stage.rewire(fault.on(stage.bench))

    yield Task(("check", "--rewired"), before=rewire, ends=ANY_VERDICT)
    is_tilt = KINDS[fault.kind].targets in (("pitch",), ("accel_x",))
    yield from (_tilts if is_tilt else _travels)(ANY_VERDICT)


def _travels(ends: frozenset[int]) -> list[Task]:
    """The travel of both controls."""
    return [Task(("travel", name), ends=ends) for name in CONTROLS]


def _unplug(name: str) -> Task:
    """A control's wires pulled on purpose, one by one."""
    ready = {
        f"pull the {wire} wire": partial(Stage.pull_wire, name=name, wire=wire) for wire in WIRES
    }
    ready["put every wire"] = partial(Stage.plug_in, name=name)
    return Task(("check", "--unplug", name), ready=ready, answers={"display": "0.00"}, speed=10.0)


def _tilts(ends: frozenset[int]) -> list[Task]:
    """True the accelerometer, zero, prove the sign, shake, rest, and ask the gate."""
    return [
        Task(("poses",), ends=ends),
        Task(("level", "--turned", "--seated"), before=Stage.mount, ends=ends),
        Task(("signs", "--block-mm", f"{PLANK_MM:.0f}"), ends=ends),
        Task(("surge",), ends=ends),
        Task(("still", "--for", "270"), speed=90.0, ends=ends),
        Task(("trust", "--on-signal-loss", "power off"), ends=ends),
    ]


class Meter:
    """A hand-held multimeter on one control's signal wire, and what was written down of it."""

    def __init__(self, name: str, seed: int) -> None:
        """Draw how far off this meter is, within its stated accuracy."""
        self._name = name
        self._gain = 1.0 + 0.01 * METER_PCT * float(np.random.default_rng(seed).uniform(-0.6, 0.6))
        self._shown: list[str] = []

    def note(self, stage: Stage) -> None:
        """Write down what the meter shows of the voltage that was just set; once, if set again."""
        shown_V = METER_STEP_V * round(self._gain * stage.wire_v(self._name) / METER_STEP_V)
        if self._shown and abs(shown_V - float(self._shown[-1])) < SAME_V:
            return
        self._shown.append(f"{shown_V:.2f}")

    def read_out(self) -> str:
        """The next of the readings that were written down; the last again where none is left."""
        return self._shown.pop(0) if len(self._shown) > 1 else self._shown[0]


def _meter(name: str, seed: int) -> Task:
    """True one control's volts at rest, half way and at full travel."""
    meter = Meter(name, seed)
    accuracy = ("--meter-pct", f"{METER_PCT:g}", "--meter-digits", "1")
    arguments = ("meter", name, *accuracy, "--meter-step-V", f"{METER_STEP_V:g}")
    answers = {"what did the meter show": meter.read_out}
    return Task(arguments, ready={"voltage set": meter.note}, answers=answers)
