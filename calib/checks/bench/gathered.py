"""What a capture shows of every channel, before anything is judged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

import numpy as np

from calib.checks.bench.converter import Standstill, copies, is_frozen, standstill
from calib.checks.bench.hands import Ends, Hand, Work, at_rest, ends_of, read_hand, works_of
from calib.checks.bench.noise import Noise, noise_figures
from calib.checks.bench.signals import Flags, Signal, Signals
from calib.checks.bench.supply import LEAST_RAIL_V, SupplyFigures, supply_figures, undo_factor
from calib.checks.bench.switches import SwitchFigures, switch_figures
from calib.store.documents.check import CheckFigures

ANALOG_ROLES = ("control", "supply", "temperature", "ambient", "pitch", "roll", "other")
STILL_ROLES = (*ANALOG_ROLES, "accel-x", "accel-y", "accel-z", "gyro-x", "gyro-y", "gyro-z")


@dataclass(frozen=True)
class Gathered:
    """What the capture of a check shows; each part of it is found when it is first asked for.

    Attributes:
        signals: All channels.
        then: Figures on record, by channel.
    """

    signals: Signals
    then: Mapping[str, CheckFigures]

    @cached_property
    def copied(self) -> dict[str, Signal]:
        """By name, each channel that reads the same as one before it, and that one."""
        found: dict[str, Signal] = {}
        analog = [s for s in self.signals.with_role(*ANALOG_ROLES) if s.last_code is not None]
        for first, second in combinations(analog, 2):
            if first.role == second.role == "control":
                continue  # two controls may also be joined by a wire, which crossing judges
            if second.name not in found and copies(first, second):
                found[second.name] = first
        return found

    @cached_property
    def still(self) -> dict[str, Standstill]:
        """Longest run of equal readings, by channel."""
        rate_hz = self.signals.rate_hz
        still = self.signals.with_role(*STILL_ROLES)
        return {signal.name: standstill(signal.raw, rate_hz) for signal in still}

    @cached_property
    def frozen(self) -> tuple[str, ...]:
        """Channels that stand still where their own noise should move them."""
        then = {name: figures.repeats for name, figures in self.then.items()}
        signals, still = self.signals.by_name, self.still.items()
        return tuple(name for name, run in still if is_frozen(signals[name], run, then.get(name)))

    @cached_property
    def rails(self) -> dict[str, SupplyFigures]:
        """Supplies, by channel."""
        rails = self.signals.with_role("supply")
        return {rail.name: supply_figures(self.signals, rail) for rail in rails}

    @cached_property
    def supplies(self) -> dict[str, SupplyFigures]:
        """Those of them whose readings can be used to undo their own changes."""
        doubtful = {*self.copied, *self.frozen}
        return {
            name: rail
            for name, rail in self.rails.items()
            if name not in doubtful and rail.low_V > LEAST_RAIL_V
        }

    @cached_property
    def switches(self) -> dict[str, SwitchFigures]:
        """What each switch did, by channel."""
        switches = self.signals.with_role("switch")
        return {switch.name: switch_figures(self.signals, switch) for switch in switches}

    @cached_property
    def hands(self) -> tuple[Hand, ...]:
        """Controls; what moves one while another input is worked is no drop-out of it."""
        first = [self._hand(signal) for signal in self.signals.with_role("control")]
        hands = []
        for hand in first:
            if hand.drop_outs:
                still = at_rest(self.signals, [other for other in first if other is not hand])
                hand = self._hand(hand.signal, self._switched | ~still)
            hands.append(hand)
        return tuple(hands)

    def _hand(self, signal: Signal, spared: Flags | None = None) -> Hand:
        """One control, in volts at the mean of its supply, against its record at that supply."""
        expected = ends_of(self.then.get(signal.name))
        name = signal.channel.supply or ""
        supply = self.supplies.get(name)
        if supply is None:
            return read_hand(self.signals, signal, None, expected, spared=spared)
        if expected is not None and expected.supply_V is not None:
            ratio = supply.mean_V / expected.supply_V
            expected = Ends(expected.rest_V * ratio, expected.full_V * ratio, supply.mean_V)
        factor = undo_factor(self.signals, self.signals.by_name[name], supply.mean_V)
        return read_hand(self.signals, signal, factor, expected, spared=spared)

    @cached_property
    def works(self) -> tuple[Work, ...]:
        """Every press."""
        return works_of(self.signals, self.hands)

    @cached_property
    def quiet(self) -> Flags:
        """Where nothing is worked, shape (n,)."""
        throws = [throw for switch in self.switches.values() for throw in switch.throws]
        thrown = [(each.at_s - 0.1, each.at_s + each.chatter_s + 0.1) for each in throws]
        return at_rest(self.signals, self.hands) & ~self.signals.within(thrown)

    @cached_property
    def calm(self) -> Flags:
        """Where no switch is held on either, and no control drops out; shape (n,)."""
        calm = self.quiet & ~self._switched
        for hand in self.hands:  # what looks like a drop-out may be a hand, and move others' ground
            calm &= np.isfinite(hand.volts)
        return calm

    @cached_property
    def _switched(self) -> Flags:
        """Where a switch is held in the state that it did not begin in, shape (n,)."""
        held = [times for switch in self.switches.values() for times in switch.on_from_to_s]
        return self.signals.within((from_s - 0.05, to_s + 0.05) for from_s, to_s in held)

    @cached_property
    def noises(self) -> dict[str, Noise]:
        """Noise, by channel; a control's drop-outs are none."""
        # Without a press and without a record, the span is only that of the noise itself.
        spans = {h.name: h.span_V for h in self.hands if h.presses or h.name in self.then}
        spans |= {name: rail.mean_V for name, rail in self.rails.items()}
        kept = {hand.name: np.isfinite(hand.volts) for hand in self.hands}
        found = {}
        for signal in self.signals.with_role(*ANALOG_ROLES):
            quiet = self.quiet & kept.get(signal.name, True)
            now = noise_figures(signal.values, quiet, self.signals.rate_hz, signal.step)
            span, then = spans.get(signal.name, 0.0), self.then.get(signal.name)
            found[signal.name] = Noise(signal, now, then, span)
        return found

    def supply_V(self, name: str) -> float | None:
        """Mean of the logged supply of a channel, else as stated, V; None where neither is."""
        channel = self.signals.by_name[name].channel
        logged = self.supplies.get(channel.supply or "")
        return channel.supply_V if logged is None else logged.mean_V

    def repeats(self, signal: Signal) -> float | None:
        """Share of a channel's readings at rest that repeat the one before; None without any."""
        raw = signal.raw[self.quiet]
        return float(np.mean(raw[1:] == raw[:-1])) if raw.size > 1 else None
