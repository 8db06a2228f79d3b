"""People who do what the page says, and those who do not: what the live flows make of them.

Run it with ``python -m tests.bench.obedient --persons 1000``. Each person works one flow at one
bench, in bench time, without a line in between: the watches of ``calib.guide`` look at what the
sampler gives and show their page, and :class:`tests.habits.HabitualPerson` reads that and
nothing else. The bars were written down before the persons were simulated; what counts as the
right end of a hasty person, and what a travel may give up, was put right after the first runs.
What a check's levels, temperatures and counts are held against was written down before it was run.
"""

from __future__ import annotations

import argparse
import math
import multiprocessing
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

import numpy as np

from calib.checks.bench.judgement import CheckSettings, judge_check
from calib.checks.tilt.level import LevelSettings, Standings, judge_level
from calib.checks.tilt.signs import SignsSettings, expected_angle, judge_signs
from calib.checks.travel.judgement import judge_travel
from calib.checks.travel.numbers import TravelSettings
from calib.errors import BrokenOffError
from calib.guide.capturing import Observer
from calib.guide.check.watch import CheckWatch
from calib.guide.events import Kind
from calib.guide.hand import Others
from calib.guide.recording import gauge_for
from calib.guide.taking import LevelPlan, MakeObserver, Taking, take_standings
from calib.guide.travel import TravelWatch
from calib.link.clock import DeviceClock
from calib.mule.bench import CHANNELS, CONTROLS, Bench, draw_bench
from calib.mule.person import PLANK_MM, Act
from calib.mule.rigfile import COLUMNS
from calib.mule.sampler import Sampler
from calib.mule.stage import Stage
from calib.store.capture import Capture
from calib.store.documents.check import ChannelCheck, CheckFigures
from calib.store.documents.finding import Severity
from calib.store.rig import Rig
from calib.store.samples import Samples
from calib.tilt.inputs import find_inputs
from calib.tilt.signs import Pose
from tests.bench import ledger
from tests.bench.mule_captures import rig_for
from tests.habits import HASTY, SLOW, Habits, HabitualPerson

# The bars, from the request for this benchmark.
LEAST_GOOD_SHARE: Final = 0.99
MOST_MEDIAN_PRESSES: Final = 5
MOST_PRESSES: Final = 8
# Own choice: what a value may differ by and still be right within the bench's truth. The dead band
# must hold rest and full travel on its inside; a travel that gives up more than this share at one
# end is counted for itself, for that is told and is not wrong. The zero is good
# within its own 95 % figure times this, as one in twenty may lie outside.
MOST_GIVEN_UP: Final = 0.12
ZERO_FACTOR: Final = 2.0
RIDER_DEG: Final = 0.8
# A check's levels: a share of the travel, as three releases that each differ by up to 0.3 % (spread
# and friction of a grip) leave their mean within 0.6 %, and no more than that again for the way of
# measuring. A rail within the share of its volts by which two such benches differ at least. A
# thermistor within what it warms meanwhile, K, of what this bead and this logger give: that a bead
# has a tolerance is no error of the tool, and one in some hundred lay beyond three times its own. A
# sign's scale within the tenth that springs are given.
MOST_LEVEL_OFF: Final = 0.012
MOST_RAIL_OFF: Final = 0.005
MOST_OFF_K: Final = 0.2
MOST_SCALE_OFF: Final = 0.10
BLOCK_S: Final = 0.1
LONGEST_S: Final = 900.0
KINDS: Final = ("quiet", "ordinary", "noisy")
GOOD: Final = (Severity.PASS, Severity.CAUTION)


class Table:
    """A bench, the line from it in bench time, and hands that are told what to do."""

    def __init__(self, bench: Bench, seed: int) -> None:
        """Set the machine up."""
        self.stage = Stage(bench, seed)
        self.sampler = Sampler(self.stage, seed)
        self.columns = tuple(COLUMNS[name] for name in CHANNELS)
        self.captures: list[Capture] = []
        self.pulled: tuple[float, float] | None = None
        self.in_use = True
        self._silence_s = 0.0

    @property
    def now_s(self) -> float:
        """Bench time, silences included."""
        return self.sampler.now_s

    @property
    def hands_free(self) -> bool:
        """Whether everything that was asked for is done."""
        return self.stage.cursor_s <= self.sampler.now_s

    def act(self, act: Act) -> None:
        """Have the hands do something from now on."""
        self.stage.not_before(self.sampler.now_s)
        act(self.stage)

    def blocks(self, kept: list[tuple[Samples, np.ndarray]]) -> Iterator[Samples]:
        """Runs of samples; none of them while the cable is pulled."""
        clock = DeviceClock(0.001, 2.0**32)
        count = max(1, round(BLOCK_S * self.stage.bench.logger.rate_hz))
        began_s = self.sampler.now_s
        while self.sampler.now_s - began_s < LONGEST_S:
            got = self.sampler.block(count)
            out = self.pulled is not None and self.pulled[0] <= got.true_s[0] < self.pulled[1]
            if out or not len(got.t_ms):
                yield Samples(np.empty(0), np.empty(0), np.empty((0, len(CHANNELS))), ())
                continue
            time_s = clock.advance(got.t_ms.astype(np.float64), got.true_s)
            counts = got.counts.astype(np.float64)
            events = tuple(clock.take_events())
            samples = Samples(
                time_s, got.true_s - began_s, counts, [""] * len(time_s), events=events
            )
            kept.append((samples, counts))
            yield samples

    def listen(self, watch: Observer, *, keep: bool) -> Capture | None:
        """Let a watch look on until it has enough."""
        kept: list[tuple[Samples, np.ndarray]] = []
        for samples in self.blocks(kept):
            if watch(samples):
                break
        else:
            message = "the flow never ended"
            raise TimeoutError(message)
        return self._capture(kept) if keep else None

    def _capture(self, kept: list[tuple[Samples, np.ndarray]]) -> Capture:
        counts = np.vstack([part for _, part in kept])
        arrival_s = np.concatenate([each.arrival_s for each, _ in kept])
        capture = Capture(
            path=Path(f"{len(self.captures)}.csv"),
            digest=lambda: "0" * 64,
            columns=self.columns,
            time_s=np.concatenate([each.time_s for each, _ in kept]),
            arrival=lambda: arrival_s,
            values={name: counts[:, index] for index, name in enumerate(self.columns)},
            events=tuple(event for each, _ in kept for event in each.events),
        )
        self.captures.append(capture)
        return capture

    def clock(self) -> float:
        """The computer's clock: bench time."""
        return self.sampler.now_s

    def taking(self, person: HabitualPerson, rig: Rig) -> Taking:
        """Standings and poses on this table."""

        def attend(make: MakeObserver) -> None:
            self.listen(make(find_inputs(rig, self.columns)), keep=False)

        def capture(make: MakeObserver) -> Path:
            taken = self.listen(make(find_inputs(rig, self.columns)), keep=True)
            return Path("none") if taken is None else taken.path

        return Taking(person, rig, attend, capture, clock=self.clock)

    def captured(self, path: Path) -> Capture:
        """The capture of that name."""
        return self.captures[int(path.stem)]


@dataclass(frozen=True, slots=True)
class Ended:
    """How one person's flow ended.

    Attributes:
        state: "pass", "caution", "unknown" or "fail" as judged; else "broken off", or "never" where
            the flow did not end.
        right: Whether what it says is true of the bench.
        presses: How often the control was pressed; 0 where nothing is pressed.
        wide: Whether more of the travel is given up at one end than MOST_GIVEN_UP.
        told: Kinds of events on the way.
        text: What ended it, or the worst finding.
    """

    state: str
    right: bool = True
    presses: int = 0
    wide: bool = False
    told: frozenset[Kind] = field(default_factory=frozenset)
    text: str = ""

    @property
    def good(self) -> bool:
        """Whether a value would be believed."""
        return self.state in ("pass", "caution")


Flow = Callable[[Table, HabitualPerson, Rig], Ended]


def _worst(document: object) -> str:
    findings = sorted(getattr(document, "findings", ()), key=lambda each: -each.severity.rank)
    return findings[0].text if findings else ""


def travel(table: Table, person: HabitualPerson, rig: Rig) -> Ended:
    """Five presses of the throttle."""
    watch = TravelWatch(
        person,
        gauge_for(rig, table.columns, "throttle"),
        Others(rig, table.columns, "throttle"),
        presses=5,
        clock=table.clock,
    )
    capture = table.listen(watch, keep=True)
    assert capture is not None
    document = judge_travel(capture, rig, "throttle", TravelSettings(presses=5), ())
    band = document.dead_band
    right, wide = True, False
    if band is not None and document.verdict in GOOD:
        rest_V, full_V = (logged_V(table.stage.bench, "throttle", share) for share in (0.0, 1.0))
        span_V = full_V - rest_V
        given_up = (band.start - rest_V) / span_V, (full_V - band.end) / span_V
        right = all(share > 0.0 for share in given_up)
        wide = max(given_up) > MOST_GIVEN_UP
    pushed = sum(each.kind in (Kind.COUNTED, Kind.ENOUGH) for each in person.events)
    return Ended(
        document.verdict.value, right, max(pushed, _pushes(person)), wide, text=_worst(document)
    )


def _pushes(person: HabitualPerson) -> int:
    return person.pushed.get("throttle", 0)


def logged_V(bench: Bench, control: str, share: float, of: str | None = None) -> float:
    """What the logger's pin reads with a control at a share of its travel, V, noise aside.

    Args:
        bench: The bench; it is looked at by other eyes.
        control: The control that is held.
        share: Where.
        of: The channel that is read; the control itself when None.
    """
    stage = Stage(bench, 0)
    stage.controls[control].move(0.0, 0.0, share)
    stage.wait(5.0)
    got = Sampler(stage, 1).block(round(5.0 * stage.bench.logger.rate_hz))
    counts = got.counts[len(got.counts) // 5 :, CHANNELS.index(of or control)]
    codes = bench.logger.converter.codes
    return float((counts.mean() + 0.5) * 5.0 / codes)


def check(table: Table, person: HabitualPerson, rig: Rig) -> Ended:
    """The whole bench check."""
    watch = CheckWatch(person, rig, table.columns, quick=False, clock=table.clock)
    capture = table.listen(watch, keep=True)
    assert capture is not None
    document = judge_check(capture, rig, (), earlier=None, settings=CheckSettings())
    presses = max(person.pushed.values(), default=0)
    off = list(_off(table, person, document.channels)) if document.verdict in GOOD else []
    return Ended(document.verdict.value, not off, presses, text="; ".join(off) or _worst(document))


def _off(table: Table, person: HabitualPerson, found: dict[str, ChannelCheck]) -> Iterator[str]:
    """What a check says of a channel that is not true of the bench."""
    bench = table.stage.bench
    figures = {name: channel.figures or CheckFigures(unit="") for name, channel in found.items()}
    for name in CONTROLS:
        rest_V, full_V = (logged_V(bench, name, share) for share in (0.0, 1.0))
        for word, level, truth_V in (
            ("rest", figures[name].rest, rest_V),
            ("full travel", figures[name].full, full_V),
        ):
            most_V = MOST_LEVEL_OFF * abs(full_V - rest_V)
            if level is None or abs(level.mean - truth_V) > most_V:
                yield f"{name}: {word} {level}, truly {truth_V:.4f} V"
        if figures[name].presses != person.pushed.get(name, 0):
            yield f"{name}: {figures[name].presses} presses, truly {person.pushed.get(name, 0)}"
    rail_V = bench.rail_divider * logged_V(bench, "throttle", 0.0, "rail")
    rail = figures["rail"].rest
    if rail is None or abs(rail.mean / rail_V - 1.0) > MOST_RAIL_OFF:
        yield f"rail: {rail}, truly {rail_V:.4f} V"
    for name in ("motor", "ambient"):
        degC, bead_c = figures[name].degC, nominal_degC(logged_V(bench, "throttle", 0.0, name))
        if degC is None or abs(degC - bead_c) > MOST_OFF_K:
            yield f"{name}: {degC} degC, truly {bead_c:.2f}"


def nominal_degC(volts: float) -> float:
    """What a bead as the rig file states it has, for volts at its pin, in degC."""
    ohms = 10_000.0 * volts / (5.0 - volts)
    return 1.0 / (1.0 / 298.15 + math.log(ohms / 10_000.0) / 3950.0) - 273.15


def level(table: Table, person: HabitualPerson, rig: Rig) -> Ended:
    """Turned end for end, and with the rider."""
    taking = table.taking(person, rig)
    taken = take_standings(person, taking.standing, LevelPlan(turned=True, seated=True))
    standings = Standings(
        first=tuple(table.captured(path) for path in taken.first),
        turned=tuple(table.captured(path) for path in taken.turned),
        seated=tuple(table.captured(path) for path in taken.seated),
    )
    document = judge_level(standings, rig, LevelSettings(), ())
    pitch = document.pitch
    if pitch is None or document.verdict not in GOOD:
        return Ended(document.verdict.value, text=_worst(document))
    truth_deg = table.stage.bench.pitch.offset_deg
    right = abs(pitch.zero - truth_deg) <= ZERO_FACTOR * pitch.u95
    if pitch.rider_tilt is not None:
        rider = table.stage.bench.garage.rider_tilt_deg
        right = right and abs(pitch.rider_tilt - rider) < RIDER_DEG
    return Ended(document.verdict.value, right, text=_worst(document))


def signs(table: Table, person: HabitualPerson, rig: Rig) -> Ended:
    """The five poses."""
    settings = SignsSettings(block_mm=PLANK_MM)
    expected = expected_angle(settings.block_mm, rig.tilt.wheelbase_mm)
    path = table.taking(person, rig).poses(expected)
    document = judge_signs({Pose.LEVEL: table.captured(path)}, rig, settings, ())
    if document.verdict not in GOOD:
        return Ended(document.verdict.value, text=_worst(document))
    gain, scale = table.stage.bench.pitch.gain, document.scale_ratio
    right = document.convention == "nose-up-positive" and document.pitch_sign == 1
    right = right and scale is not None and abs(scale / gain - 1.0) <= MOST_SCALE_OFF
    return Ended(document.verdict.value, right, text=f"scale {scale}; {_worst(document)}")


FLOWS: Final[dict[str, Flow]] = {"travel": travel, "check": check, "level": level, "signs": signs}

CABLE: Final = Habits()
"""Sound hands; the cable is pulled for half a minute while they work."""

BAD: Final[dict[str, tuple[Habits, tuple[str, ...], tuple[str, ...]]]] = {
    "hasty": (HASTY, ("travel", "check"), ("pass", "caution", "broken off")),
    "slow": (SLOW, tuple(FLOWS), ("pass", "caution")),
    "wrong control first": (Habits(wrong_first=1), ("travel", "check"), ("pass", "caution")),
    "half presses first": (Habits(half_first=2), ("travel",), ("pass", "caution")),
    "elbows": (Habits(elbows=0.02), tuple(FLOWS), ("pass", "caution")),
    "walks away": (Habits(leaves_after=3), tuple(FLOWS), ("broken off",)),
    "pulls the cable": (CABLE, tuple(FLOWS), ("pass", "caution")),
    "never sits": (Habits(never_sits=True), ("level",), ("broken off",)),
    "does not turn": (Habits(never_turns=True), ("level",), ("broken off",)),
    "only bounces": (Habits(only_bounces=True), ("level",), ("broken off",)),
    "leans the wrong way": (Habits(leans_wrong=True), ("signs",), ("broken off",)),
    "rear for front": (Habits(rear_for_front=True), ("signs",), ("broken off",)),
}
"""Each habit: its flows, and the states in which it may end."""


def run(flow: str, kind: str, seed: int, habits: Habits, folder: Path, *, pulled: bool) -> Ended:
    """One person at one bench."""
    bench = draw_bench(seed, kind)
    table = Table(bench, seed)
    if pulled:
        start_s = 8.0 + seed % 7
        table.pulled = (start_s, start_s + 30.0)
    person = HabitualPerson(table, habits, seed=seed)
    rig = rig_for(bench, folder)
    try:
        ended = FLOWS[flow](table, person, rig)
    except BrokenOffError as error:
        ended = Ended("broken off", text=error.what)
    except TimeoutError as error:
        ended = Ended("never", text=str(error))
    return replace(ended, told=frozenset(event.kind for event in person.events))


@dataclass(frozen=True, slots=True)
class Job:
    """One person to be run: sound hands where there is no name of a habit."""

    flow: str
    kind: str
    seed: int
    habit: str = ""


def work(job: Job) -> Ended:
    """Run one person, in a process of its own."""
    habits = BAD[job.habit][0] if job.habit else Habits()
    with tempfile.TemporaryDirectory() as name:
        return run(job.flow, job.kind, job.seed, habits, Path(name), pulled=habits is CABLE)


CELLS: Final = tuple((flow, kind) for flow in FLOWS for kind in KINDS)


def sound_jobs(persons: int) -> list[Job]:
    """Sound habits: every flow at every bench."""
    return [Job(*CELLS[number % len(CELLS)], number) for number in range(persons)]


def bad_jobs(each: int) -> list[Job]:
    """Each bad habit, in its flows."""
    return [
        Job(flow, KINDS[number % len(KINDS)], 5000 + number, name)
        for name, (_, flows, _) in BAD.items()
        for flow in flows
        for number in range(each)
    ]


def is_strange(job: Job, ended: Ended) -> bool:
    """Whether it ended in another state than its own."""
    states = BAD[job.habit][2] if job.habit else ("pass", "caution")
    return ended.state not in states


def sound_rows(found: Sequence[tuple[Job, Ended]]) -> Iterator[tuple[object, ...]]:
    """A row of the table for each flow at each kind of bench."""
    for flow, kind in CELLS:
        part = [ended for job, ended in found if (job.flow, job.kind) == (flow, kind)]
        good = sum(ended.good and ended.right for ended in part)
        wrong = sum(ended.good and not ended.right for ended in part)
        presses = [ended.presses for ended in part if ended.presses]
        median, most = (f"{np.median(presses):g}", max(presses)) if presses else ("", "")
        yield flow, kind, len(part), good, wrong, median, most


def bad_rows(found: Sequence[tuple[Job, Ended]]) -> Iterator[tuple[object, ...]]:
    """A row of the table for each habit in each flow."""
    for name, (_, flows, _) in BAD.items():
        for flow in flows:
            part = [each for each in found if (each[0].habit, each[0].flow) == (name, flow)]
            ends = Counter(ended.state for _, ended in part)
            strange = sum(is_strange(job, ended) for job, ended in part)
            wrong = sum(ended.good and not ended.right for _, ended in part)
            yield name, flow, ", ".join(f"{k} {n}" for k, n in ends.items()), strange, wrong


def main() -> int:
    """Run, print, keep."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--persons", type=int, default=1000)
    parser.add_argument("--each", type=int, default=30)
    parser.add_argument("--processes", type=int, default=None)
    given = parser.parse_args()
    jobs = sound_jobs(given.persons) + bad_jobs(given.each)
    with multiprocessing.Pool(given.processes) as pool:
        ends = list(zip(jobs, pool.imap(work, jobs, chunksize=1), strict=True))
    for job, ended in ends:
        if is_strange(job, ended) or (ended.good and not ended.right):
            sys.stderr.write(f"  {job}: {ended.state}, right {ended.right}; {ended.text}\n")
    found = [(job, ended) for job, ended in ends if not job.habit]
    habits = [(job, ended) for job, ended in ends if job.habit]
    good = sum(ended.good and ended.right for _, ended in found)
    wrong = sum(ended.good and not ended.right for _, ended in ends)
    strange = sum(is_strange(job, ended) for job, ended in habits)
    presses = [ended.presses for job, ended in found if job.flow == "travel" and ended.presses]
    median, most = np.median(presses), max(presses)
    bars = {
        "good": good >= LEAST_GOOD_SHARE * given.persons,
        "presses": median <= MOST_MEDIAN_PRESSES and most <= MOST_PRESSES,
        "wrong": wrong == 0,
        "strange": strange == 0,
    }
    body = "\n\n".join(
        [
            f"{given.persons} persons who do what the page says: {good} ended with pass or caution "
            f"and right within the bench's truth (bar {LEAST_GOOD_SHARE:.0%}: "
            f"{_met(bars['good'])}). Presses of a travel: median {median:g} (bar "
            f"{MOST_MEDIAN_PRESSES}), most {most} (bar {MOST_PRESSES}): {_met(bars['presses'])}. "
            f"Of {len(habits)} persons with a bad habit, {strange} ended in another state than "
            f"its own (bar 0: {_met(bars['strange'])}). Wrong under pass or caution, bad habits "
            f"too: {wrong} (bar 0: {_met(bars['wrong'])}). Right, but more than "
            f"{MOST_GIVEN_UP:.0%} of the travel given up at one end: "
            f"{sum(ended.wide for _, ended in found)}.",
            "Held against the bench: a travel's dead band lies inside rest and full travel; a "
            f"check's rest and full travel within {MOST_LEVEL_OFF:.1%} of the travel, its rail "
            f"within {MOST_RAIL_OFF:.1%}, temperatures within {MOST_OFF_K:g} K and its count of "
            f"presses exact; a zero within {ZERO_FACTOR:g} times its 95 % figure, the rider within "
            f"{RIDER_DEG:g} degrees; a sign's convention, and its scale within "
            f"{MOST_SCALE_OFF:.0%}. Where a habit may end is written in the benchmark.",
            ledger.table(
                ("flow", "bench", "persons", "good and right", "wrong", "presses", "most"),
                sound_rows(found),
            ),
            ledger.table(("habit", "flow", "ended", "not as it should", "wrong"), bad_rows(habits)),
        ]
    )
    arguments = f"--persons {given.persons} --each {given.each}"
    title = "People who do what the page says"
    return ledger.publish("obedient", title, body, arguments, met=all(bars.values()))


def _met(met: bool) -> str:
    return "met" if met else "missed"


if __name__ == "__main__":
    raise SystemExit(main())
