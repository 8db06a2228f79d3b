"""Every kind of fault that the simulated bench can be given, by name.

A fault is a bench with other figures, five severities of them; they stand in
``calib/data/faults.toml``. What needs more than figures has its function here, which writes what
the circuit or the spring does.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from calib.book import packaged
from calib.errors import UsageError
from calib.mule.bench import ANALOG, Bench, Intermittent
from calib.mule.circuit import Thermistor
from calib.mule.gravity import rotation

Figures = Mapping[str, Any]

SEVERITIES: Final = range(1, 6)
"""1 is plain, 5 is subtle."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One kind of fault.

    Attributes:
        about: What has gone wrong, in a few words.
        targets: Channels that it can strike; the first one where none is named.
        graded: Whether its severities differ; a swapped plug has no degrees.
        figures: Figures of the bench, by their names.
        by: Figures of each function that makes what figures alone do not.
    """

    about: str
    targets: tuple[str, ...]
    graded: bool
    figures: Figures
    by: Mapping[str, Figures]

    def change(self, bench: Bench, target: str, severity: int) -> Bench:
        """The bench with this fault.

        Args:
            bench: A sound one.
            target: The channel that is struck.
            severity: From 1 (plain) to 5 (subtle).

        Raises:
            UsageError: The bench has not got what is struck.
        """
        if target == "wheel" and bench.wheel is None:
            raise UsageError("This bench has no wheel sensor.", "Give it one with --wheel.")
        figures = _at(self.figures, severity)
        if "struck" in figures:
            figures[target] = figures.pop("struck")
        bench = _with_figures(bench, figures)
        for name, own in self.by.items():
            bench = _CHANGES[name](bench, target, **_at(own, severity))
        return bench


def _at(figures: Any, severity: int) -> Any:
    """Figures at a severity: of five the one that belongs to it, any other as it stands."""
    if isinstance(figures, Mapping):
        return {name: _at(each, severity) for name, each in figures.items()}
    if isinstance(figures, list):
        if len(figures) == len(SEVERITIES):
            return _at(figures[severity - 1], severity)
        return tuple(_at(each, severity) for each in figures)
    return figures


def _with_figures(bench: Bench, figures: Figures) -> Bench:
    """The bench with other figures."""
    changed: Bench = _changed(bench, figures)
    return changed


def _changed(was: Any, figure: Any) -> Any:
    """What becomes of a part of the bench, or of one of its figures."""
    if not isinstance(figure, Mapping):
        return figure
    if "times" in figure:
        return was * figure["times"]
    own = {name: _changed(getattr(was, name), each) for name, each in figure.items()}
    return replace(was, **own)


def _is_graded(figures: Any) -> bool:
    """Whether there are five of any figure."""
    if isinstance(figures, Mapping):
        return any(_is_graded(each) for each in figures.values())
    return isinstance(figures, list) and len(figures) == len(SEVERITIES)


def _coupled(bench: Bench, target: str, hum_v: float = 0.0, burst_v: float = 0.0) -> Bench:
    """Current that is coupled into a signal wire, by the volts that it makes there."""
    out_ohm = bench.control(target).hall.out_ohm
    figures = {"hum_a": hum_v / out_ohm} if hum_v else {"burst_a": burst_v / out_ohm}
    return _with_figures(bench, {target: {"wiring": figures}})


def _flexed(bench: Bench, target: str, wire: str, per_s: float, open_s: float) -> Bench:
    """A contact that opens for moments while its connector is flexed."""
    contact = Intermittent(target, wire, per_s, open_s)
    return replace(bench, contacts=(*bench.contacts, contact))


def _turned_about(bench: Bench, target: str) -> Bench:
    """A magnet the other way round."""
    hall = bench.control(target).hall
    figures = {"rest_share": 1.0 - hall.rest_share, "full_share": 1.0 - hall.full_share}
    return _with_figures(bench, {target: {"hall": figures}})


def _bad_joint(bench: Bench, target: str, colder_k: float) -> Bench:
    """As many ohms in series as make a thermistor's bead seem colder."""
    sensor: Thermistor = getattr(bench, target)
    kelvin = bench.garage.ambient_c + 273.15
    bead_ohm = sensor.r25_ohm * math.exp(sensor.beta_k * (1.0 / kelvin - 1.0 / 298.15))
    colder_ohm = bead_ohm * math.exp(sensor.beta_k * (1.0 / (kelvin - colder_k) - 1.0 / kelvin))
    return _with_figures(bench, {target: {"series_ohm": colder_ohm - bead_ohm}})


def _frozen(bench: Bench, target: str, from_s: float) -> Bench:
    return _with_figures(bench, {"logger": {"frozen_from_s": ((target, from_s),)}})


def _span_v(bench: Bench, name: str) -> tuple[float, float]:
    """Lowest and highest volts of a control, at rest and at its stop."""
    ends = bench.control(name).hall.share(np.array([0.0, 1.0])) * bench.rail.volts
    return float(ends.min()), float(ends.max())


def _clipping(bench: Bench, target: str, share: float) -> Bench:
    """The converter's last code at a share of a control's highest volts."""
    reference_v = share * _span_v(bench, target)[1]
    return _with_figures(bench, {"logger": {"converter": {"reference_v": reference_v}}})


def _ceiling(bench: Bench, target: str, share: float) -> Bench:
    """An input that reads no higher than a share of a control's travel."""
    low_v, high_v = _span_v(bench, target)
    most_v = low_v + share * (high_v - low_v)
    return _with_figures(bench, {"logger": {"ceilings": ((target, most_v),)}})


def _copied(bench: Bench, target: str) -> Bench:
    before = ANALOG[(ANALOG.index(target) - 1) % len(ANALOG)]
    return _with_figures(bench, {"logger": {"copies": ((target, before),)}})


def _stuck_bit(bench: Bench, target: str, below_top: int, value: int) -> Bench:
    bits = bench.logger.converter.codes.bit_length() - 1
    stuck = (target, bits - 1 - below_top, value)
    return _with_figures(bench, {"logger": {"stuck_bits": (stuck,)}})


def _mounted(bench: Bench, target: str, yaw_deg: float, roll_deg: float) -> Bench:
    """All axes turn together, whichever is named."""
    del target
    return replace(bench, accel=replace(bench.accel, mounting=rotation(yaw_deg, 0.0, roll_deg)))


def _missed(bench: Bench, target: str, share: float) -> Bench:
    """One magnet that is not seen in a share of its passes."""
    shares = _with_middle(getattr(bench, target).ring.missed_share, lambda _: share)
    return _with_figures(bench, {target: {"ring": {"missed_share": shares}}})


def _weak(bench: Bench, target: str, factor: float) -> Bench:
    """One magnet that is seen over less of a turn."""
    widths = _with_middle(getattr(bench, target).ring.width_turns, lambda width: factor * width)
    return _with_figures(bench, {target: {"ring": {"width_turns": widths}}})


def _with_middle(values: tuple[float, ...], change: Callable[[float], float]) -> tuple[float, ...]:
    middle = len(values) // 2
    return (*values[:middle], change(values[middle]), *values[middle + 1 :])


_CHANGES: Final[dict[str, Callable[..., Bench]]] = {
    "coupled": _coupled,
    "flexed": _flexed,
    "turned_about": _turned_about,
    "bad_joint": _bad_joint,
    "frozen": _frozen,
    "clipping": _clipping,
    "ceiling": _ceiling,
    "copied": _copied,
    "stuck_bit": _stuck_bit,
    "mounted": _mounted,
    "missed": _missed,
    "weak": _weak,
}
"""What ``by`` can name."""


def read_faults(text: str) -> dict[str, Fault]:
    """The faults of a table as ``calib/data/faults.toml`` is one, by their names."""
    return {
        kind: Fault(
            about=entry.pop("about"),
            targets=tuple(entry.pop("strikes")),
            graded=entry.pop("graded", _is_graded(entry)),
            by=entry.pop("by", {}),
            figures=entry,
        )
        for kind, entry in tomllib.loads(text).items()
    }


ALL_KINDS: Final = read_faults(packaged("faults.toml"))
"""Every kind, those of a wheel too, which a bench may not have."""

KINDS: Final = {kind: each for kind, each in ALL_KINDS.items() if each.targets != ("wheel",)}
"""Kinds that strike any bench."""


@dataclass(frozen=True, slots=True)
class Planted:
    """A fault as asked for: its kind, its severity (1 plain … 5 subtle) and the channel struck."""

    kind: str
    severity: int
    target: str

    def on(self, bench: Bench) -> Bench:
        """The bench with this fault."""
        return ALL_KINDS[self.kind].change(bench, self.target, self.severity)


def planted(
    kind: str, severity: int = 1, target: str | None = None, kinds: Mapping[str, Fault] = KINDS
) -> Planted:
    """A fault of one of some kinds, at its first target where none is given.

    Raises:
        UsageError: There is no such kind or target.
    """
    if kind not in kinds:
        raise UsageError.of("no-such-fault", kind=kind, kinds=", ".join(kinds))
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
    if colon and severity not in map(str, SEVERITIES):
        raise UsageError.of("no-such-severity", severity=severity, text=text)
    return planted(kind, int(severity or 1), kinds=kinds)
