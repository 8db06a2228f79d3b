"""What the hands do at the bench, written into tracks: presses, pulls, flexes, poses and pushes.

Acts are planned one after the other from a cursor in bench time; a spring, a stop or a bad contact
answers as this bench's figures say.
"""

from __future__ import annotations

from bisect import bisect_right
from typing import Final

import numpy as np
from numpy.typing import NDArray

from calib.mule.bench import CONTROLS, Bench, Grip
from calib.mule.circuit import sensor_output, wire_node

Array = NDArray[np.float64]

WIRES: Final = ("signal", "ground", "supply")
TREMOR_STEP_S: Final = 0.05
FOREVER_S: Final = 1.0e9
LONGEST_HOLD_S: Final = 30.0  # for so long a hand trembles that is told to stay where it is


class Stage:
    """The bench in motion.

    Args:
        bench: What is true of it.
        seed: Draws everything that a hand never does twice alike.
    """

    def __init__(self, bench: Bench, seed: int = 0) -> None:
        """Set the machine upright on the floor, hands off."""
        self.bench = bench
        self.cursor_s = 0.0
        # what a bad contact does must not change what the hands do next
        streams = np.random.default_rng([bench.seed, seed, 23]).spawn(3)
        self._rng, self._contact_rng, self._loose_rng = streams
        self._caught = dict.fromkeys(CONTROLS, False)
        self.controls = {name: Track(bench.control(name).grip.rest) for name in CONTROLS}
        self.brake = Track()
        self.opened = {(name, wire): Track() for name in CONTROLS for wire in WIRES}
        self.heading_deg = Track()
        self.blocks_mm = Track()  # front axle over rear axle
        self.lean_left_deg = Track(self._hand_lean())
        self.settled_deg = Track(self._stiction())
        self.push_m_s2 = Track()
        self.seated = Track()
        self.turned = Track()  # turns of the driven wheel
        self.held = Track()  # 1: the sensor lies loose, in the pose that `loose` gives
        self.loose = (Track(0.0), Track(0.0), Track(1.0))

    def rewire(self, bench: Bench) -> None:
        """Go on with another bench: what the hands did to its harness and parts in between."""
        self.bench = bench
        for name, track in self.controls.items():
            track.move(self.cursor_s, 0.2, bench.control(name).grip.rest)
        self.wait(0.5)

    def wait(self, duration_s: float) -> None:
        """Let the bench stand for a while."""
        self.cursor_s += duration_s

    def not_before(self, time_s: float) -> None:
        """Move the cursor on to a time that has come in the meantime."""
        self.cursor_s = max(self.cursor_s, time_s)

    def forget(self, before_s: float) -> None:
        """Drop what lies behind, so that a bench can run for hours."""
        lone = [track for track in vars(self).values() if isinstance(track, Track)]
        for track in (*lone, *self.controls.values(), *self.opened.values(), *self.loose):
            track.forget(before_s)

    def press(
        self,
        name: str,
        *,
        push_s: float = 0.5,
        hold_s: float = 1.1,
        ease_s: float = 0.0,
        reach: float = 1.0,
    ) -> None:
        """Work a control once and let it go.

        Args:
            name: The control.
            push_s: How long the hand takes to the end; 0.1 is a snap, 2 a slow thumb.
            hold_s: How long it is held there.
            ease_s: How long the thumb takes to let go; 0 lets it snap back.
            reach: Share of the travel at which the hand stops; 1 goes to the stop.
        """
        self._shaken(name)
        self.push(name, push_s=push_s, reach=reach, hold_s=hold_s)
        self.wait(hold_s)
        self.let_go(name, ease_s=ease_s)

    def push(
        self, name: str, *, push_s: float = 0.5, reach: float = 1.0, hold_s: float = LONGEST_HOLD_S
    ) -> None:
        """Work a control and stay there until it is let go; arguments as for ``press``."""
        grip = self.bench.control(name).grip
        track = self.controls[name]
        at_stop = reach >= grip.stop
        top = grip.stop + self._normal(grip.stop_spread) if at_stop else reach
        tremor = 0.0005 if at_stop else 0.006
        track.move(self.cursor_s, push_s, top)
        self.wait(push_s)
        times_s = np.arange(self.cursor_s + TREMOR_STEP_S, self.cursor_s + hold_s, TREMOR_STEP_S)
        if len(times_s):
            track.add(times_s, top - np.abs(tremor * self._rng.standard_normal(len(times_s))))

    def let_go(self, name: str, *, ease_s: float = 0.0) -> None:
        """Let a control go that was pushed; 0 s lets it snap back."""
        grip, track = self.bench.control(name).grip, self.controls[name]
        rest = grip.rest + self._normal(grip.rest_spread) + (grip.friction if ease_s else 0.0)
        rest += self._off_rest(name)
        home_s = max(ease_s, grip.return_s)
        top = float(track.at(np.array([self.cursor_s]))[0])
        if grip.stuck_s > 0.0 and grip.stuck_at < top:
            track.move(self.cursor_s, home_s, grip.stuck_at + self._normal(0.01))
            track.move(track.end_s + grip.stuck_s, 3.0 * grip.return_s, rest)
        else:
            track.move(self.cursor_s, home_s, rest)
            if ease_s == 0.0:
                self._rebound(track, grip, rest)
        self.cursor_s = track.end_s

    def work_brake(self, *, closed: bool) -> None:
        """Close the brake switch and stay there, or let it open again."""
        self._chatter(float(closed))
        self.wait(0.1)

    def bounce(self) -> None:
        """Bounce the suspension where the machine stands, and let it settle anew."""
        self._jostle(self.cursor_s, 3.0)
        self.settled_deg.move(self.cursor_s + 2.5, 0.5, self._stiction())
        self.wait(3.2)

    def hold(self, name: str, position: float, duration_s: float) -> None:
        """Tape a control down at a share of its travel, for as long as a meter needs."""
        self.controls[name].move(self.cursor_s, 0.8, position)
        self.wait(0.8 + duration_s)

    def hands_off(self) -> None:
        """Let every control that is held come home."""
        for name, track in self.controls.items():
            grip = self.bench.control(name).grip
            if track.last > grip.rest + 5.0 * (grip.rest_spread + grip.friction):
                self.let_go(name)

    def wire_v(self, name: str) -> float:
        """Volts on a control's signal wire where it is held now, as a meter across it shows."""
        control, rail = self.bench.control(name), self.bench.rail
        drawn_a = self.bench.throttle.hall.drawn_a + self.bench.regen.hall.drawn_a
        rail_v = np.array([rail.volts - drawn_a * rail.source_ohm])
        ohms = (np.array([control.wiring.ground_ohm]), np.array([control.wiring.supply_ohm]))
        share = control.hall.share(np.array([self.controls[name].last]))
        source_v = sensor_output(control.hall, share, rail_v, np.zeros(1), *ohms)
        source_ohm = np.array([control.hall.out_ohm + control.wiring.signal_ohm])
        node = wire_node(control.wiring, source_v, source_ohm, rail_v, np.zeros(1))
        return float(node.volts[0])

    def _off_rest(self, name: str) -> float:
        """How far from home a worn control comes to lie this time, as a share of the travel."""
        grip = self.bench.control(name).grip
        self._caught[name] = not self._caught[name]
        return grip.play * float(self._loose_rng.random()) + grip.second_rest * self._caught[name]

    def _shaken(self, worked: str | None = None) -> None:
        """Hands on the machine: a lever that nothing holds comes to lie elsewhere."""
        for name, track in self.controls.items():
            grip = self.bench.control(name).grip
            if name != worked and (grip.play or grip.second_rest):
                track.move(self.cursor_s, 0.2, grip.rest + self._off_rest(name))

    def _rebound(self, track: Track, grip: Grip, rest: float) -> None:
        """Bounce off the rest stop: ever smaller hops, all on the travel's side of it."""
        since_s = np.linspace(0.0, 2.0 / grip.rebound_hz, 17)[1:]
        hops = np.abs(np.sin(np.pi * grip.rebound_hz * since_s))
        hops *= grip.rebound * 0.3 ** (since_s * grip.rebound_hz)
        hops[-1] = 0.0
        track.add(track.end_s + since_s, rest + hops)

    def pull_brake(self, hold_s: float = 0.8) -> None:
        """Close the brake switch and let it open again, with the contact's chatter at both ends."""
        self._shaken()
        self._chatter(1.0)
        self.wait(hold_s)
        self._chatter(0.0)

    def _chatter(self, closed: float) -> None:
        start_s, bounce_s = self.cursor_s, self.bench.brake.bounce_s
        hops = int(self._contact_rng.integers(1, 4))
        edges_s = [0.0, *np.sort(self._contact_rng.uniform(0.0, bounce_s, 2 * hops)).tolist()]
        if self.brake.last == closed:  # it was there already, and comes back
            edges_s.append(bounce_s)
        levels = (self.brake.last + np.arange(len(edges_s) + 1)) % 2.0
        self.brake.add(start_s + np.repeat(edges_s, 2), np.repeat(levels, 2)[1:-1])

    def wiggle(self, duration_s: float = 8.0) -> None:
        """Flex every connector of the harness in turn, hands off the controls."""
        end_s = self.cursor_s + duration_s
        while self.cursor_s < end_s - 1.0:
            self._shaken()
            self.wait(1.3)
        for contact in self.bench.contacts:
            track = self.opened[(contact.control, contact.wire)]
            count = max(1, int(self._contact_rng.poisson(contact.per_s * duration_s)))
            starts_s = np.sort(self._contact_rng.uniform(end_s - duration_s, end_s, count))
            for start_s in starts_s.tolist():
                length_s = float(self._contact_rng.gamma(4.0, contact.open_s / 4.0))
                if start_s > track.end_s:
                    self._open(track, start_s, start_s + length_s)
        self.cursor_s = end_s

    def pull_wire(self, name: str, wire: str) -> None:
        """Pull one wire of a control's plug, and put back any that was pulled before."""
        self.plug_in(name)
        self._open(self.opened[(name, wire)], self.cursor_s, FOREVER_S)
        self.wait(4.0)  # key on again, and the line shows it

    def plug_in(self, name: str) -> None:
        """Put every wire of a control's plug back."""
        for wire in WIRES:
            self.opened[(name, wire)].move(self.cursor_s, 0.0, 0.0)
        self.wait(1.0)

    @staticmethod
    def _open(track: Track, start_s: float, end_s: float) -> None:
        track.add(np.array([start_s, start_s, end_s, end_s]), np.array([0.0, 1.0, 1.0, 0.0]))

    def stand_again(self, *, turned: bool = False) -> None:
        """Roll the machine to its marks, bounce it and hold it upright."""
        start_s = self.cursor_s
        if turned:
            self.heading_deg.move(start_s, 4.0, 180.0 - self.heading_deg.last)
        self._jostle(start_s, 4.0)
        self.settled_deg.move(start_s + 3.0, 0.5, self._stiction())
        self.lean_left_deg.move(start_s + 4.0, 1.0, self._hand_lean())
        self.wait(5.5)

    def raise_axle(self, front_mm: float, rear_mm: float = 0.0) -> None:
        """Roll one wheel up a wedge onto a plank, or both back down."""
        self._jostle(self.cursor_s, 1.8, 0.04)  # slowly, with the brake at hand
        self.blocks_mm.move(self.cursor_s, 1.8, front_mm - rear_mm)
        self.wait(2.2)

    def lean(self, left_deg: float) -> None:
        """Lean the machine by hand, left positive; 0 holds it upright as well as a hand can."""
        target = left_deg + (self._hand_lean() if left_deg == 0.0 else self._normal(0.8))
        self.lean_left_deg.move(self.cursor_s, 1.2, target)
        self.wait(1.5)

    def shake(self, push_m_s2: float = 2.0, duration_s: float = 6.0, per_s: float = 1.5) -> None:
        """Push and pull the machine fore and aft."""
        times_s = np.arange(0.0, duration_s, 0.02)
        swell = np.minimum(1.0, np.minimum(times_s, duration_s - times_s) / 0.5)
        uneven = 1.0 + 0.15 * np.sin(0.9 * times_s)
        wave = push_m_s2 * swell * uneven * np.sin(2.0 * np.pi * per_s * times_s)
        self.push_m_s2.add(self.cursor_s + times_s, wave)
        self.wait(duration_s)
        self.push_m_s2.set(self.cursor_s, 0.0)

    def turn_wheel(self, turns: float, speed: float = 1.2) -> None:
        """Turn the raised wheel by hand from mark to mark, as near as a hand stops.

        Args:
            turns: Turns, below 0 backwards.
            speed: Turns a second on the way.
        """
        goal = round(self.turned.last) + turns + float(np.clip(self._normal(0.01), -0.025, 0.025))
        share = np.linspace(0.0, 1.0, 65)
        lasts_s = abs(turns) / speed + 0.6
        ramp = 0.6 / lasts_s
        pace = np.clip(np.minimum(share, 1.0 - share) / ramp, 0.1, 1.0)
        swing = 1.0 + 0.08 * np.sin(2.0 * np.pi * (1.3 * abs(turns) * share + 0.2))
        way = np.concatenate([[0.0], np.cumsum((pace * swing)[1:])])
        start = self.turned.last
        self.turned.add(self.cursor_s + lasts_s * share, start + (goal - start) * way / way[-1])
        self.wait(lasts_s)

    def push_along(self, turns: float) -> float:
        """Push the machine along a tape from chalk to chalk; the way as it is read off, m.

        Args:
            turns: Of the wheel, as near as the eye sees its valve at the bottom.
        """
        mm = self.bench.tyre.circumference_mm(seated=self.seated.last > 0.5)
        valves = np.clip(0.004 * self._rng.standard_normal(2), -0.008, 0.008)
        begin = round(self.turned.last) + float(valves[0])
        end = round(self.turned.last) + turns + float(valves[1])
        self.turned.move(self.cursor_s, 1.0, begin)
        lasts_s = 1.0 + turns * mm / 1000.0  # a walk
        self._jostle(self.cursor_s, lasts_s)
        self.turned.move(self.cursor_s + 1.0, lasts_s - 1.0, end)
        self.wait(lasts_s)
        straight_mm = (end - begin) * mm / (1.0 + float(self._rng.uniform(0.0, 8e-4)))
        chalk_mm = np.clip(2.0 * self._rng.standard_normal(2), -5.0, 5.0)
        return round(straight_mm + float(chalk_mm.sum())) / 1000.0

    def sit(self, *, seated: bool = True) -> None:
        """Let the rider sit down or get off."""
        self._jostle(self.cursor_s, 1.5)
        self.seated.move(self.cursor_s, 1.5, 1.0 if seated else 0.0)
        self.wait(2.0)

    def lay(self, up: tuple[float, float, float]) -> None:
        """Lay the loose sensor still with its own axes so that the vertical is along `up`."""
        self.held.set(self.cursor_s, 1.0)
        for track, value in zip(self.loose, up, strict=True):
            track.move(self.cursor_s, 0.8, value)
        self.wait(1.0)

    def mount(self) -> None:
        """Bolt the loose sensor back to the frame."""
        self.held.set(self.cursor_s, 0.0)
        self.wait(1.0)

    def _jostle(self, start_s: float, duration_s: float, push_m_s2: float = 0.12) -> None:
        """Hands on the machine: it speeds up and slows down a little, smoothly."""
        times_s = np.arange(0.0, duration_s, 0.1)
        swell = np.sin(np.pi * times_s / duration_s)
        push = push_m_s2 * self._rng.standard_normal(len(times_s))
        self.push_m_s2.add(start_s + times_s, swell * np.convolve(push, np.ones(5), "same"))
        self.push_m_s2.set(start_s + duration_s, 0.0)

    def _normal(self, sd: float) -> float:
        return float(sd * self._rng.standard_normal())

    def _stiction(self) -> float:
        return self._normal(self.bench.garage.stiction_deg)

    def _hand_lean(self) -> float:
        return self._normal(self.bench.garage.lean_spread_deg)


class Track:
    """One quantity against time, straight between breakpoints, held before and after them."""

    def __init__(self, value: float = 0.0) -> None:
        """Hold one value from the beginning."""
        self._times_s = [-1.0]
        self._values = [value]

    @property
    def last(self) -> float:
        """The value at which the track ends."""
        return self._values[-1]

    @property
    def end_s(self) -> float:
        """The time in s of the last breakpoint."""
        return self._times_s[-1]

    def add(self, times_s: Array, values: Array) -> None:
        """Append breakpoints; what was planned for later than the first of them is dropped."""
        keep = bisect_right(self._times_s, float(times_s[0]))
        del self._times_s[keep:], self._values[keep:]
        self._times_s.extend(float(t) for t in times_s)
        self._values.extend(float(v) for v in values)

    def set(self, time_s: float, value: float) -> None:
        """Append one breakpoint, as for ``add``."""
        self.add(np.array([time_s]), np.array([value]))

    def move(self, start_s: float, duration_s: float, value: float) -> None:
        """Go smoothly to a value; a duration of 0 s is a step."""
        before = float(self.at(np.array([start_s]))[0])
        if duration_s <= 0.0:
            self.add(np.array([start_s, start_s]), np.array([before, value]))
            return
        share = np.linspace(0.0, 1.0, 17)
        self.add(start_s + duration_s * share, before + (value - before) * eased(share))

    def at(self, times_s: Array) -> Array:
        """The value at each of the times in s."""
        return np.interp(times_s, self._times_s, self._values)

    def forget(self, before_s: float) -> None:
        """Drop breakpoints that can no longer matter, so that hours fit in constant memory."""
        keep = bisect_right(self._times_s, before_s) - 1
        if keep > 0:
            del self._times_s[:keep], self._values[:keep]


def eased(share: Array) -> Array:
    """Share of a reaching movement done at a share of its time: the minimum-jerk polynomial.

    Source: Flash and Hogan, J. Neurosci. 5 (1985) 1688 (from memory).
    """
    return share**3 * (10.0 - 15.0 * share + 6.0 * share**2)
