"""The gate over bad and sound mountings: `python -m tests.bench.gate [--processes N]`.

Every mounting goes through the whole evening on the simulated bench (which knows nothing of the
analysis): twelve poses in the hand, four standings, the rider, five poses of the machine, a shake,
five minutes of rest; then the gate.
None of the bad ones may be trusted, nor any sound one whose evidence was then spoiled in one of the
ways of `tests.bench.tampering`. That none of 500 is trusted proves, at 95 % confidence, less
than 0.6 % (rule of three): it does not prove zero.
"""

from __future__ import annotations

import argparse
import multiprocessing
import re
import tempfile
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

import numpy as np
from scipy.spatial.transform import Rotation

from calib.checks.file.validity import Filed
from calib.checks.gate import judge_trust
from calib.checks.sheet import make_sheet
from calib.checks.tilt.level import LevelSettings, Standings, judge_level
from calib.checks.tilt.poses import judge_poses
from calib.checks.tilt.signs import SignsSettings, judge_signs
from calib.checks.tilt.still import judge_still
from calib.checks.tilt.surge import judge_surge
from calib.mule import hands
from calib.mule.bench import Bench, draw_bench
from calib.mule.rigfile import rig_text
from calib.mule.stage import Stage
from calib.store.asked import asked_of, asking
from calib.store.capture import Capture
from calib.store.capture_writer import READING_TABLES, taken_after
from calib.store.documents.finding import Severity
from calib.store.documents.kinds import AnyDocument
from calib.store.documents.note import Happening, NoteDocument
from calib.store.documents.tilt import PosesDocument, SignsDocument, TrustDocument
from calib.store.records import Record, Subject, load_records, save_record
from calib.store.rig import Rig, load_rig
from calib.tilt.signs import Pose
from tests.bench import ledger
from tests.bench.mule_captures import capture_of
from tests.bench.tampering import TAMPERINGS

BAD: Final = 500
SOUND: Final = 500
SEED: Final = 20261125
EVENING: Final = datetime(2026, 11, 25, 20, 0, tzinfo=UTC)
BLOCK_MM: Final = 90.0
MAKES: Final = (*["ordinary"] * 9, "quiet")
LEAST_TRUSTED: Final = 0.99
NOISY: Final = 40  # machines whose logger folds the mains into the pitch: no bar, it may refuse


@dataclass(frozen=True)
class Mounting:
    """One machine with its rig file, and what happens to the evidence afterwards.

    Attributes:
        kind: What is wrong; "sound" for nothing.
        bench: The machine.
        believed: The machine that its owner wrote the rig file for; the same when None.
        spoil_text: Changes the rig file before the evening.
        later_text: Changes the rig file after it.
        later_note: What is noted after it.
        later_days: Days that pass after it.
        leave_out: Commands whose record is missing.
    """

    kind: str
    bench: Bench
    spoil_text: Callable[[str], str] = field(default=lambda text: text)
    later_text: Callable[[str], str] = field(default=lambda text: text)
    later_note: Happening | None = None
    later_days: float = 0.0
    leave_out: frozenset[str] = frozenset()
    believed: Bench | None = None


def evening(mounting: Mounting, folder: Path) -> TrustDocument:
    """The whole evening at one machine, and what the gate says of it."""
    return spent(mounting, folder).trust()


def spent(mounting: Mounting, folder: Path) -> Folder:
    """What the whole evening at one machine leaves on file."""
    owner = mounting.believed or mounting.bench
    untrued = _rig(mounting.spoil_text, owner, folder)
    loose = judge_poses(capture_of(mounting.bench, hands.loose_poses), untrued, ())
    truing = _truing_text(loose)
    rig = _rig(lambda text: mounting.spoil_text(text) + truing, owner, folder)
    captured = {
        name: capture_of(mounting.bench, script, session=session)
        for session, (name, script) in enumerate(SCRIPTS.items(), 1)
    }
    here = Folder(folder, rig, captured)
    for name in ("signs", "level", "surge", "still"):
        if name not in mounting.leave_out:
            here.judge(name)
    here.now += timedelta(minutes=10)
    if mounting.later_note is not None:
        here.note(mounting.later_note)
    here.rig = _rig(
        lambda text: mounting.later_text(mounting.spoil_text(text)) + truing, owner, folder
    )
    here.now += timedelta(days=mounting.later_days, hours=1)
    return here


@dataclass
class Folder:
    """The records of one machine on disk, and the captures of its evening.

    Attributes:
        path: Where records/ is made; nothing may lie there yet.
        rig: The rig file as it is.
        captured: The captures of the evening, as calib would read them back.
        now: The computer's clock.
    """

    path: Path
    rig: Rig
    captured: dict[str, Capture]
    now: datetime = EVENING

    def judge(self, name: str, *, again: bool = False) -> Record:
        """Judge one command's captures, taken just now or judged again, and keep the record."""
        names = CAPTURES[name]
        if not again:
            self.now += timedelta(minutes=10)
            self._take(names)
        rig = asking(self.rig)
        document = self.document(name, rig)
        subject = Subject(name, tilt=True)
        captures = [self.captured[each] for each in names]
        return save_record(self.path, rig, document, subject, now=self.now, captures=captures)

    def note(self, what: Happening) -> Record:
        """Note what was done to the machine."""
        note = NoteDocument(verdict=Severity.PASS, what=what)
        return save_record(self.path, asking(self.rig), note, Subject("note"), now=self.now)

    def filed(self) -> Filed:
        """What is on file, as it stands now."""
        return Filed(self.rig, load_records(self.path), self.now)

    def trust(self) -> TrustDocument:
        """What the gate says."""
        return judge_trust(self.filed(), ())

    def _take(self, names: Sequence[str]) -> None:
        """Captures that say that they are of now, and what was on file before them."""
        before = taken_after(self.path)
        read_by = tuple(each for each in asked_of(self.rig) if each.key.startswith(READING_TABLES))
        for place, name in enumerate(names):
            started = self.now - timedelta(minutes=5) + timedelta(seconds=30 * place)
            self.captured[name] = replace(
                self.captured[name],
                started=started.isoformat(),
                taken_after=before,
                rests_on=read_by,
            )

    def document(self, name: str, rig: Rig) -> AnyDocument:
        """What a command makes of the captures."""
        got = self.captured
        if name == "signs":
            return judge_signs({Pose.LEVEL: got["signs"]}, rig, SignsSettings(BLOCK_MM), ())
        if name == "surge":
            return judge_surge(got["surge"], rig, ())
        if name == "still":
            return judge_still(got["still"], rig, None, ())
        standings = Standings(
            first=(got["first"], got["again"]),
            turned=(got["turned"], got["turned again"]),
            seated=(got["seated"],),
        )
        signs = self.filed().validity(SignsDocument)
        good = signs.document if signs.is_good else None
        return judge_level(standings, rig, LevelSettings(), (), signs=good)


def _truing_text(document: PosesDocument) -> str:
    """What `calib poses` writes into the rig file."""
    if document.bias is None or document.matrix is None:
        return ""
    return (
        f"[tilt.truing]\nbias = {list(document.bias)}\n"
        f"matrix = {[list(row) for row in document.matrix]}\n"
        f'u = {document.u}\ndate = "2026-11-25"\n'
    )


def _rig(change: Callable[[str], str], bench: Bench, folder: Path) -> Rig:
    """The rig file of a machine with the person's answers in it."""
    text = rig_text(bench, "/dev/null") + 'on_signal_loss = "power off"\n'
    path = folder / "rig.toml"
    path.write_text(change(text), encoding="utf-8")
    return load_rig(path)


def _stand(stage: Stage) -> None:
    stage.stand_again()
    stage.wait(8.0)


def _stand_turned(stage: Stage) -> None:
    stage.stand_again(turned=True)
    stage.wait(8.0)


def _sit(stage: Stage) -> None:
    stage.sit()
    stage.wait(8.0)


def _poses(stage: Stage) -> None:
    stage.wait(5.0)
    for front_mm, rear_mm in ((BLOCK_MM, 0.0), (BLOCK_MM, 0.0), (0.0, BLOCK_MM)):
        for up in (True, False):
            stage.raise_axle(front_mm if up else 0.0, rear_mm if up else 0.0)
            stage.wait(4.0)
    for left_deg in (10.0, 0.0, -11.0, 0.0):
        stage.lean(left_deg)
        stage.wait(4.0)


def _rest(stage: Stage) -> None:
    stage.wait(300.0)


SCRIPTS: Final[dict[str, Callable[[Stage], None]]] = {
    "first": _stand,
    "turned": _stand_turned,
    "again": _stand,
    "turned again": _stand_turned,
    "seated": _sit,
    "signs": _poses,
    "surge": hands.surge,
    "still": _rest,
}


CAPTURES: Final[dict[str, tuple[str, ...]]] = {
    "level": ("first", "again", "turned", "turned again", "seated"),
    "signs": ("signs",),
    "surge": ("surge",),
    "still": ("still",),
}


def _pitch(bench: Bench, **figures: float | bool) -> Bench:
    return replace(bench, pitch=replace(bench.pitch, **figures))  # type: ignore[arg-type]


def _accel_alone(text: str) -> str:
    """A rig file without the pitch channel."""
    return re.sub(r"\[channels\.pitch\]\n(?:.+\n)+", "", text)


def _exchanged(first: str, second: str) -> Callable[[str], str]:
    """A rig file in which two channels have each other's roles."""

    def change(text: str) -> str:
        marked = text.replace(f'role = "{first}"', "role = MARK")
        return marked.replace(f'role = "{second}"', f'role = "{first}"').replace(
            "role = MARK", f'role = "{second}"'
        )

    return change


def _quarter_turn(bench: Bench, rng: np.random.Generator) -> Bench:
    """One of the 23 right-angled mountings that are not the right one."""
    turns = [r for r in Rotation.create_group("O") if r.magnitude() > 0.1]
    matrix = turns[int(rng.integers(len(turns)))].inv().as_matrix()
    own = matrix @ np.array(bench.accel.mounting)
    rows = tuple(tuple(float(x) for x in row) for row in own)
    return replace(bench, accel=replace(bench.accel, mounting=(rows[0], rows[1], rows[2])))  # type: ignore[arg-type]


def _reversed(bench: Bench, rng: np.random.Generator) -> Mounting:
    del rng
    return Mounting("reversed", _pitch(bench, gain=-bench.pitch.gain))


def _sideways(bench: Bench, rng: np.random.Generator) -> Mounting:
    yaw = float(rng.choice([90.0, -90.0]) + rng.normal(0, 3))
    return Mounting("pitch sensor turned a quarter", _pitch(bench, axis_yaw_deg=yaw))


def _yawed(bench: Bench, rng: np.random.Generator) -> Mounting:
    yaw = float(rng.uniform(20, 70) * rng.choice([-1, 1]))
    return Mounting("pitch sensor turned by 20 to 70 degrees", _pitch(bench, axis_yaw_deg=yaw))


def _rotated(bench: Bench, rng: np.random.Generator) -> Mounting:
    turned = _quarter_turn(bench, rng)
    alone = bool(rng.integers(2))
    change = _accel_alone if alone else (lambda text: text)
    return Mounting("accelerometer turned by quarters", turned, spoil_text=change)


def _swapped(bench: Bench, rng: np.random.Generator) -> Mounting:
    pairs = (("accel-x", "accel-y"), ("accel-x", "accel-z"), ("accel-y", "accel-z"))
    first, second = pairs[int(rng.integers(3))]
    return Mounting("axes exchanged in the rig file", bench, spoil_text=_exchanged(first, second))


def _scaled(bench: Bench, rng: np.random.Generator) -> Mounting:
    factor = float(rng.choice([rng.uniform(0.3, 0.85), rng.uniform(1.15, 2.0)]))
    return Mounting("scaled", _pitch(bench, gain=bench.pitch.gain * factor))


def _radians(bench: Bench, rng: np.random.Generator) -> Mounting:
    del rng
    factor = np.pi / 180
    return Mounting("radians called degrees", _pitch(bench, gain=bench.pitch.gain * factor))


def _saturated(bench: Bench, rng: np.random.Generator) -> Mounting:
    limit = float(rng.uniform(0.4, 3.5))
    return Mounting("saturated", _pitch(bench, range_deg=limit, offset_deg=0.0))


def _bare(bench: Bench, rng: np.random.Generator) -> Mounting:
    del rng
    return Mounting("accelerometer alone under surge", bench, spoil_text=_accel_alone)


def _pushed(bench: Bench, rng: np.random.Generator) -> Mounting:
    leak = float(rng.uniform(0.3, 1.0))
    return Mounting("push comes through", _pitch(bench, fused=True, leak_through=leak))


def _slow(bench: Bench, rng: np.random.Generator) -> Mounting:
    lag = float(rng.uniform(0.6, 2.5))
    return Mounting("slow filter", _pitch(bench, fused=False, lag_s=lag))


def _drifting(bench: Bench, rng: np.random.Generator) -> Mounting:
    drift = float(np.exp(rng.uniform(np.log(2.0), np.log(100.0))) * rng.choice([-1, 1]))
    return Mounting("drifting", _pitch(bench, drift_deg_per_h=drift))


def _dead(bench: Bench, rng: np.random.Generator) -> Mounting:
    del rng
    return Mounting("dead", _pitch(bench, v_per_deg=0.0, noise_deg=0.0), believed=bench)


def _stale(bench: Bench, rng: np.random.Generator) -> Mounting:
    notes: tuple[Happening, ...] = ("rewired", "remounted", "dropped", "tyre", "fork", "spring")
    which = int(rng.integers(4))
    if which == 0:
        return Mounting("stale", bench, later_note=notes[int(rng.integers(len(notes)))])
    if which == 1:
        return Mounting("stale", bench, later_days=float(rng.uniform(30.1, 400)))
    if which == 2:
        return Mounting(
            "stale", bench, later_text=lambda text: text + 'mounting = "under the seat"\n'
        )
    return Mounting(
        "stale",
        bench,
        later_text=lambda text: re.sub(r"(sensitivity_V_per_deg = )([\d.]+)", r"\g<1>0.021", text),
    )


def _missing(bench: Bench, rng: np.random.Generator) -> Mounting:
    names = ("level", "signs", "surge", "still")
    return Mounting("missing", bench, leave_out=frozenset({names[int(rng.integers(4))]}))


KINDS: Final = (
    _reversed, _sideways, _yawed, _rotated, _swapped, _scaled, _radians, _saturated, _bare,
    _pushed, _slow, _drifting, _dead, _stale, _missing,
)  # fmt: skip


def bad(number: int) -> Mounting:
    """The bad mounting of a number: its kind in turn, its machine and size drawn."""
    rng = np.random.default_rng((SEED, 1, number))
    bench = draw_bench(100_000 + number, MAKES[number % len(MAKES)])
    return KINDS[number % len(KINDS)](bench, rng)


def sound(number: int) -> Mounting:
    """A sound machine, no two alike."""
    return Mounting("sound", draw_bench(200_000 + number, MAKES[number % len(MAKES)]))


def tampered(here: Folder, number: int) -> tuple[str, bool]:
    """Spoil a sound evening's evidence in one ordinary way: the way, and whether it fools us.

    It does where the gate trusts, or where the sheet prints a zero or a sign although the evidence
    of that very value is what was spoiled.
    """
    way = TAMPERINGS[number % len(TAMPERINGS)]
    way.spoil(here, np.random.default_rng((SEED, 2, number)))
    printed = {entry.name for entry in make_sheet(here.filed()).entries if entry.state == "ready"}
    return way.kind, here.trust().trusted or bool(printed & way.unprinted)


def noisy(number: int) -> Mounting:
    """A sound machine whose logger samples 50 Hz of hum at 50 Hz: its pitch really wanders."""
    return Mounting("sound, noisy logger (no bar)", draw_bench(300_000 + number, "noisy"))


@dataclass(frozen=True)
class Outcome:
    """What became of one evening.

    Attributes:
        kind: What was wrong with the mounting.
        trusted: What the gate said.
        refused_by: The first piece of evidence that did not pass; empty where all did.
        way: How its evidence was then spoiled; empty where it was left alone.
        fooled: Whether that went unnoticed.
    """

    kind: str
    trusted: bool
    refused_by: str
    way: str = ""
    fooled: bool = False


def outcome(job: tuple[str, int]) -> Outcome:
    """One evening: its mounting's maker by name, and its number."""
    maker, number = job
    mounting = MAKERS[maker](number)
    with tempfile.TemporaryDirectory() as name:
        here = spent(mounting, Path(name))
        document = here.trust()
        first = next((e.name for e in document.evidence if e.verdict is not Severity.PASS), "")
        seen = Outcome(mounting.kind, document.trusted, first)
        if mounting.kind != "sound" or not document.trusted:
            return seen
        way, fooled = tampered(here, number)
        return replace(seen, way=way, fooled=fooled)


MAKERS: Final[dict[str, Callable[[int], Mounting]]] = {"bad": bad, "sound": sound, "noisy": noisy}


def table_of(outcomes: Sequence[Outcome]) -> str:
    """Kinds of mounting with how many were trusted, and ways of tampering with who was fooled."""
    rows: list[tuple[object, ...]] = []
    for kind in dict.fromkeys(each.kind for each in outcomes):
        own = [each for each in outcomes if each.kind == kind]
        reasons = Counter(each.refused_by for each in own if each.refused_by)
        why = ", ".join(f"{text} ({count})" for text, count in reasons.most_common(3))
        rows.append((kind, len(own), sum(each.trusted for each in own), why or "-"))
    for way in dict.fromkeys(each.way for each in outcomes if each.way):
        own = [each for each in outcomes if each.way == way]
        rows.append((f"sound, then {way}", len(own), sum(each.fooled for each in own), "-"))
    return ledger.table(("mounting", "machines", "trusted, or printed", "refused first by"), rows)


def main() -> int:
    """Run the campaign, print its table and keep it if it is whole; 1 if a bar is missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--bad", type=int, default=BAD)
    parser.add_argument("--sound", type=int, default=SOUND, help="each is then tampered with")
    parser.add_argument("--processes", type=int, default=1)
    given = parser.parse_args()
    counts = {"bad": given.bad, "sound": given.sound, "noisy": min(NOISY, given.sound)}
    jobs = [(maker, number) for maker, count in counts.items() for number in range(count)]
    with multiprocessing.Pool(given.processes) as pool:
        outcomes = pool.map(outcome, jobs, chunksize=4)
    wrong = sum(each.trusted for each in outcomes if not each.kind.startswith("sound"))
    fooled = sum(each.fooled for each in outcomes)
    spoiled = sum(bool(each.way) for each in outcomes)
    right = sum(each.trusted for each in outcomes if each.kind == "sound")
    missed = [f"{wrong} bad mountings trusted"] * (wrong > 0)
    missed += [f"{fooled} fooled by tampering"] * (fooled > 0)
    missed += [f"only {right} sound ones trusted"] * (right < LEAST_TRUSTED * given.sound)
    proven = f" (95 % confidence: below {300 / given.bad:.1f} %)" if given.bad and not wrong else ""
    said = (
        f"bad and trusted: {wrong} of {given.bad}{proven}\\\n"
        f"tampered with and trusted, or printed: {fooled} of {spoiled}\\\n"
        f"sound, untouched and trusted: {right} of {given.sound}\\\n"
        f"bars missed: {'; '.join(missed) or 'none'}"
    )
    body = f"{table_of(outcomes)}\n\n{said}"
    print(body)
    if (given.bad, given.sound) == (BAD, SOUND):
        ledger.write("gate", "The gate over bad, sound and tampered evenings", body)
    return 1 if missed else 0


if __name__ == "__main__":
    raise SystemExit(main())
