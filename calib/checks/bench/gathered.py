"""What a capture shows of every channel, before anything is judged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np

from calib.checks.bench.control import expected_of
from calib.checks.bench.converter import Standstill, copies, frozen_findings, standstill
from calib.checks.bench.hands import Expected, Hand, Work, at_rest, mark, read_hand, works_of
from calib.checks.bench.noise import Noise, noise_figures
from calib.checks.bench.signals import Flags, Signal, Signals
from calib.checks.bench.supply import SupplyFigures, supply_figures, undo_factor, usable
from calib.checks.bench.switches import SwitchFigures, switch_figures
from calib.store.documents.check import CheckDocument, CheckFigures
from calib.store.documents.finding import Finding
from calib.store.records import Record

ANALOG_ROLES = ("control", "supply", "temperature", "ambient", "pitch", "roll", "other")
STILL_ROLES = (*ANALOG_ROLES, "accel-x", "accel-y", "accel-z", "gyro-x", "gyro-y", "gyro-z")


@dataclass(frozen=True)
class Gathered:
    """What the capture of a check shows, before anything is judged.

    Attributes:
        signals: All channels.
        then: Figures on record, by channel.
        copied: Channels that read the same as another one, by name.
        still: Longest run of equal readings, by channel.
        frozen: Findings on channels that stand still, by channel.
        supplies: Supplies, by channel.
        hands: Controls, in the order of the rig file.
        works: Every press.
        switches: Switches, by channel.
        quiet: Where nothing is worked.
        calm: Where no switch is held on either, and no control drops out.
        noises: Noise, by channel.
    """

    signals: Signals
    then: Mapping[str, CheckFigures]
    copied: Mapping[str, Signal]
    still: Mapping[str, Standstill]
    frozen: Mapping[str, Finding]
    supplies: Mapping[str, SupplyFigures]
    hands: tuple[Hand, ...]
    works: tuple[Work, ...]
    switches: Mapping[str, SwitchFigures]
    quiet: Flags = field(repr=False)
    calm: Flags = field(repr=False)
    noises: Mapping[str, Noise]

    def supply_V(self, name: str) -> float | None:
        """Mean of the logged supply of a channel, else as stated, V; None where neither is."""
        channel = self.signals.by_name[name].channel
        logged = self.supplies.get(channel.supply or "")
        return channel.supply_V if logged is None else logged.mean_V


def gather(signals: Signals, then: Mapping[str, CheckFigures]) -> Gathered:
    """What a capture shows of every channel.

    Args:
        signals: All channels.
        then: Figures on record, by channel.
    """
    copied = _copied(signals)
    still = {
        signal.name: standstill(signal.raw, signals.rate_hz)
        for signal in signals.with_role(*STILL_ROLES)
    }
    frozen = _frozen(signals, still, then)
    supplies = _supplies(signals, {*copied, *frozen})
    switches = {each.name: switch_figures(signals, each) for each in signals.with_role("switch")}
    hands = _hands(signals, then, supplies, switches)
    quiet = at_rest(signals, hands)
    thrown = np.zeros(signals.time_s.shape[0], dtype=np.bool_)
    for figures in switches.values():
        mark(signals, thrown, [(t.at_s - 0.1, t.at_s + t.chatter_s + 0.1) for t in figures.throws])
    quiet &= ~thrown
    calm = quiet & ~_switched(signals, switches)
    for hand in hands:  # what looks like a drop-out may be a hand, and move the others' ground
        calm &= np.isfinite(hand.volts)
    return Gathered(
        signals=signals,
        then=then,
        copied=copied,
        still=still,
        frozen=frozen,
        supplies=supplies,
        hands=hands,
        works=works_of(signals, hands),
        switches=switches,
        quiet=quiet,
        calm=calm,
        noises=_noises(signals, hands, quiet, then),
    )


def _hands(
    signals: Signals,
    then: Mapping[str, CheckFigures],
    supplies: Mapping[str, SupplyFigures],
    switches: Mapping[str, SwitchFigures],
) -> tuple[Hand, ...]:
    """Controls; what moves one while another input is worked is no drop-out of it."""
    factors = {
        name: undo_factor(signals, signals.by_name[name], figures.mean_V)
        for name, figures in supplies.items()
    }

    def read(signal: Signal, spared: Flags | None) -> Hand:
        return read_hand(
            signals,
            signal,
            factors.get(signal.channel.supply or ""),
            _expected(signal, then, supplies),
            spared=spared,
        )

    first = [read(signal, None) for signal in signals.with_role("control")]
    switched = _switched(signals, switches)
    hands = []
    for hand in first:
        if hand.drop_outs:
            spared = switched | ~at_rest(signals, [each for each in first if each is not hand])
            hand = read(hand.signal, spared)
        hands.append(hand)
    return tuple(hands)


def _switched(signals: Signals, switches: Mapping[str, SwitchFigures]) -> Flags:
    """Where a switch is held in the state that it did not begin in, shape (n,)."""
    switched = np.zeros(signals.time_s.shape[0], dtype=np.bool_)
    for switch in switches.values():
        mark(signals, switched, [(a - 0.05, b + 0.05) for a, b in switch.on_from_to_s])
    return switched


def figures_of(earlier: Record | None) -> dict[str, CheckFigures]:
    """Figures on record by channel; none without a record of a check."""
    if earlier is None or not isinstance(earlier.document, CheckDocument):
        return {}
    return {
        name: channel.figures
        for name, channel in earlier.document.channels.items()
        if channel.figures is not None
    }


def _copied(signals: Signals) -> dict[str, Signal]:
    """Channels that read the same as one before them."""
    found: dict[str, Signal] = {}
    analog = [each for each in signals.with_role(*ANALOG_ROLES) if each.last_code is not None]
    for first, second in combinations(analog, 2):
        if first.role == second.role == "control":
            continue  # two controls may also be joined by a wire: see crossing.joined
        if second.name not in found and copies(first, second):
            found[second.name] = first
    return found


def _frozen(
    signals: Signals, still: Mapping[str, Standstill], then: Mapping[str, CheckFigures]
) -> dict[str, Finding]:
    found: dict[str, Finding] = {}
    for name, standing in still.items():
        known = then[name].repeats if name in then else None
        for each in frozen_findings(signals.by_name[name], standing, known):
            found[name] = each
    return found


def _supplies(signals: Signals, doubtful: set[str]) -> dict[str, SupplyFigures]:
    """Supplies whose readings can be used to undo their own changes."""
    found = {}
    for rail in signals.with_role("supply"):
        figures = supply_figures(signals, rail)
        if rail.name not in doubtful and usable(figures):
            found[rail.name] = figures
    return found


def _expected(
    signal: Signal, then: Mapping[str, CheckFigures], supplies: Mapping[str, SupplyFigures]
) -> Expected | None:
    """What the record says of a control, in volts at today's supply."""
    known = expected_of(then.get(signal.name))
    if known is None:
        return None
    rail = supplies.get(signal.channel.supply or "")
    if rail is None or known.supply_V is None:
        return known
    ratio = rail.mean_V / known.supply_V
    return Expected(known.rest_V * ratio, known.full_V * ratio, rail.mean_V)


def _noises(
    signals: Signals, hands: tuple[Hand, ...], quiet: Flags, then: Mapping[str, CheckFigures]
) -> dict[str, Noise]:
    # Without a press and without a record, the span is only that of the noise itself.
    spans = {hand.name: hand.span_V for hand in hands if hand.answered or hand.name in then}
    spans |= {rail.name: float(np.median(rail.values)) for rail in signals.with_role("supply")}
    dropped = {hand.name: np.isfinite(hand.volts) for hand in hands}
    found = {}
    for signal in signals.with_role(*ANALOG_ROLES):
        calm = quiet & dropped[signal.name] if signal.name in dropped else quiet
        now = noise_figures(signal.values, calm, signals.rate_hz, signal.step)
        known = then.get(signal.name)
        found[signal.name] = Noise(
            signal=signal,
            now=now,
            then_sd=known.noise if known is not None else None,
            then_hum=known.hum if known is not None else None,
            span=spans.get(signal.name, 0.0),
        )
    return found
