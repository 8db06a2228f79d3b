"""Every kind of fault that the simulated bench can be given, by name."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from calib.errors import UsageError
from calib.mule.bench import Bench
from calib.mule.faults import logger, parts, tilt, tracks, wheel, wires
from calib.mule.faults.kind import SEVERITIES, Fault

KINDS: Final[dict[str, Fault]] = {**wires.FAULTS, **parts.FAULTS, **logger.FAULTS, **tilt.FAULTS}
"""Kinds that strike any bench."""

ALL_KINDS: Final[dict[str, Fault]] = {**KINDS, **wheel.FAULTS}
"""The same, and those of a wheel, which a bench may not have."""

TRACK_KINDS: Final[dict[str, Fault]] = tracks.FAULTS
"""Kinds of a bench with a second track, which no command makes: see `with_second_track`."""


@dataclass(frozen=True, slots=True)
class Planted:
    """A fault as asked for: its kind, its severity (1 plain … 5 subtle) and the channel struck."""

    kind: str
    severity: int
    target: str

    def on(self, bench: Bench) -> Bench:
        """The bench with this fault."""
        known = {**ALL_KINDS, **TRACK_KINDS}
        return known[self.kind].change(bench, self.target, self.severity)


def planted(
    kind: str,
    severity: int = 1,
    target: str | None = None,
    kinds: Mapping[str, Fault] = KINDS,
) -> Planted:
    """A fault of one of some kinds, at its first target where none is given.

    Raises:
        UsageError: There is no such kind, severity or target.
    """
    if kind not in kinds:
        raise UsageError(
            f"The simulated bench has no fault named {kind!r}.", f"It has: {', '.join(kinds)}."
        )
    if severity not in SEVERITIES:
        raise UsageError(
            f"Severity {severity} of {kind} is out of range.",
            "Give 1 (plain) to 5 (subtle), or none for 1.",
        )
    targets = kinds[kind].targets
    if target is not None and target not in targets:
        raise UsageError(f"{kind} cannot strike {target!r}.", f"It strikes: {', '.join(targets)}.")
    return Planted(kind, severity, target or targets[0])


def parse(text: str, kinds: Mapping[str, Fault] = KINDS) -> Planted:
    """Read ``KIND`` or ``KIND:SEVERITY``.

    Raises:
        UsageError: There is no such kind, or the severity is not a number from 1 to 5.
    """
    kind, colon, severity = text.partition(":")
    if not colon:
        return planted(kind, kinds=kinds)
    if severity not in {str(number) for number in SEVERITIES}:
        raise UsageError(
            f"Severity {severity!r} in {text!r} is not a number from 1 to 5.",
            "1 is plain, 5 is subtle; without one it is 1.",
        )
    return planted(kind, int(severity), kinds=kinds)
