"""Ordinary ways to spoil the evidence of a sound evening, for the campaign over the gate."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from calib.checks.sheet.tilt import SIGN as SIGN_NAME
from calib.checks.sheet.tilt import ZERO_PITCH
from calib.store.capture import Capture
from calib.store.records import supersede
from calib.store.rig import load_rig
from calib.tilt.inputs import find_inputs

if TYPE_CHECKING:
    from tests.bench.gate import Folder

NAMES: Final = ("level", "signs", "surge", "still")


@dataclass(frozen=True)
class Tampering:
    """One way to spoil evidence.

    Attributes:
        kind: In words.
        spoil: Does it to a folder.
        unprinted: Values that the sheet may not print any more.
    """

    kind: str
    spoil: Callable[[Folder, np.random.Generator], None]
    unprinted: frozenset[str] = frozenset()


def _hours(rng: np.random.Generator, low_h: float, high_h: float) -> timedelta:
    """A time whose logarithm is drawn evenly."""
    return timedelta(hours=float(np.exp(rng.uniform(np.log(low_h), np.log(high_h)))))


def _any(rng: np.random.Generator, *among: str) -> str:
    return among[int(rng.integers(len(among)))]


def _note_by_a_clock_behind(here: Folder, rng: np.random.Generator) -> None:
    behind = _hours(rng, 0.2, 9000)
    here.now -= behind
    here.note("rewired")
    here.now += behind


def _note_by_a_clock_ahead(here: Folder, rng: np.random.Generator) -> None:
    ahead = _hours(rng, 0.2, 9000)
    here.now += ahead
    here.note("remounted")
    here.now -= ahead


def _measured_by_a_clock_ahead(here: Folder, rng: np.random.Generator) -> None:
    ahead = _hours(rng, 1.0, 90_000)
    here.now += ahead
    here.judge(_any(rng, *NAMES))
    here.now -= ahead


def _measured_by_a_clock_behind(here: Folder, rng: np.random.Generator) -> None:
    behind = _hours(rng, 24 * 31, 90_000)
    here.now -= behind
    here.judge(_any(rng, *NAMES))
    here.now += behind


def _looked_at_by_a_clock_behind(here: Folder, rng: np.random.Generator) -> None:
    here.now -= timedelta(hours=2) + _hours(rng, 0.2, 9000)


EDITS: Final = (
    (r"(launch_m_s2 = )[\d.]+", r"\g<1>1.1"),
    (r"(sensitivity_V_per_deg = )[\d.]+", r"\g<1>0.0311"),
    (r"(zero_V = )[\d.]+", r"\g<1>2.31"),
    (r"(wheelbase_mm = )[\d.]+", r"\g<1>1111"),
    (r"(counts_per_g = )[\d.]+", r"\g<1>3333"),
    (r'(expects = )"[a-z-]+"', r'\g<1>"nose-down-positive"'),
    (r'(name = )"[^"]*"', r'\g<1>"another mule"'),
    (r"(reference_V = )[\d.]+", r"\g<1>4.31"),
    (r"(bias = )\[[^\]]*\]", r"\g<1>[0.1, 0.0, 0.0]"),
)


def _key_edited(here: Folder, rng: np.random.Generator) -> None:
    path = here.path / "rig.toml"
    text = path.read_text(encoding="utf-8")
    fits = [(was, now) for was, now in EDITS if re.search(was, text)]
    was, now = fits[int(rng.integers(len(fits)))]
    path.write_text(re.sub(was, now, text), encoding="utf-8")
    here.rig = load_rig(path)


def _wrap_edited(here: Folder, rng: np.random.Generator) -> None:
    del rng
    path = here.path / "rig.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("[time]", '[time]\nwrap = 65536\n#', 1) if "wrap" not in text
                    else re.sub(r"wrap = \d+", "wrap = 65536", text), encoding="utf-8")  # fmt: skip
    here.rig = load_rig(path)


def turned_over(capture: Capture, here: Folder) -> Capture:
    """A capture of a machine whose pitch sensor counts the other way."""
    inputs = find_inputs(here.rig, capture.columns)
    place = inputs.places["pitch"][1] if "pitch" in inputs.places else inputs.places["accel-x"][1]
    name = capture.columns[place]
    values = capture.values[name]
    middle = float(np.median(values[:50]))
    return replace(
        capture, values={**capture.values, name: 2 * middle - values}, digest=lambda: "1" * 64
    )


def _fail(here: Folder) -> None:
    """Prove the wrong sign, with a new capture."""
    sound = here.captured["signs"]
    here.captured["signs"] = turned_over(sound, here)
    here.judge("signs")
    here.captured["signs"] = sound


def _copied_from_another_rig(here: Folder, rng: np.random.Generator) -> None:
    del rng
    before = set((here.path / "records").iterdir())
    other = here.path / "other"
    other.mkdir()
    own, here.path = here.path, other
    for name in ("level", "signs", "still"):
        here.judge(name)
    here.path = own
    _fail(here)
    for path in (other / "records").glob("*-signs.json"):
        shutil.copy(path, own / "records")
    assert before


def _edited(here: Folder, rng: np.random.Generator) -> None:
    _fail(here)
    path = _newest(here, "signs")
    text = path.read_text(encoding="utf-8")
    change = _any(rng, "verdict", "sign", "key")
    if change == "verdict":
        text = text.replace('"fail"', '"pass"')
    elif change == "sign":
        text = text.replace('"pitch_sign": -1', '"pitch_sign": 1').replace('"fail"', '"pass"')
    else:
        text = text.replace('"measured_at": "2026', '"measured_at": "2027')
    path.write_text(text, encoding="utf-8")


def _deleted(here: Folder, rng: np.random.Generator) -> None:
    _fail(here)
    here.judge(_any(rng, "level", "surge", "still"))
    _newest(here, "signs").unlink()


def _superseded(here: Folder, rng: np.random.Generator) -> None:
    del rng
    _fail(here)
    here.judge("signs")
    supersede(here.path, _newest(here, "signs").stem, "typed in haste", now=here.now)


def _judged_again(here: Folder, rng: np.random.Generator) -> None:
    sound = dict(here.captured)
    _fail(here)
    here.captured = sound
    here.now += _hours(rng, 0.1, 200)
    here.judge("signs", again=True)


def _replayed(here: Folder, rng: np.random.Generator) -> None:
    here.now += _hours(rng, 0.1, 200)
    here.note("dropped" if rng.integers(2) else "rewired")
    here.now += timedelta(minutes=1)
    for name in NAMES:
        here.judge(name, again=True)


def _copy_of_an_old_one(here: Folder, rng: np.random.Generator) -> None:
    name = _any(rng, "signs", "surge", "still")
    here.now += timedelta(days=float(rng.uniform(31, 400)))
    for each in NAMES:
        if each != name:
            here.judge(each)
    here.captured[name] = replace(here.captured[name], started=None, taken_after=None)
    here.judge(name, again=True)


def _changed_capture(here: Folder, rng: np.random.Generator) -> None:
    name = _any(rng, "signs", "surge", "still")
    here.captured[name] = replace(here.captured[name], noted_sha256="f" * 64)
    here.judge(name)


def _frozen(here: Folder, rng: np.random.Generator) -> None:
    capture = here.captured["signs"]
    inputs = find_inputs(here.rig, capture.columns)
    name = capture.columns[inputs.places["pitch"][1]]
    length_s = float(rng.uniform(6.0, 12.0))
    start_s = float(rng.uniform(6.0, 28.0))
    values = capture.values[name].copy()
    held = (capture.time_s >= start_s) & (capture.time_s < start_s + length_s)
    values[held] = values[int(np.argmax(held))]
    here.captured["signs"] = replace(capture, values={**capture.values, name: values})
    here.judge("signs")


def _newest(here: Folder, command: str) -> Path:
    return max((here.path / "records").glob(f"*-{command}*.json"), key=lambda path: path.name)


ZERO, SIGN = frozenset({ZERO_PITCH}), frozenset({SIGN_NAME})

TAMPERINGS: Final = (
    Tampering("a note by a clock that was behind", _note_by_a_clock_behind, ZERO | SIGN),
    Tampering("a note by a clock that was ahead", _note_by_a_clock_ahead, ZERO | SIGN),
    Tampering("measured by a clock that was ahead", _measured_by_a_clock_ahead),
    Tampering("measured by a clock that was behind", _measured_by_a_clock_behind),
    Tampering("looked at by a clock that is behind", _looked_at_by_a_clock_behind, ZERO | SIGN),
    Tampering("a key of the rig file edited", _key_edited),
    Tampering("the clock's wrap edited", _wrap_edited, ZERO | SIGN),
    Tampering("a good record of another folder copied over", _copied_from_another_rig, SIGN),
    Tampering("a failed record edited", _edited, SIGN),
    Tampering("a failed record deleted", _deleted, SIGN),
    Tampering("the good record after a failure superseded", _superseded, SIGN),
    Tampering("an older capture judged again after a failure", _judged_again, SIGN),
    Tampering("all captures replayed after a note", _replayed, ZERO | SIGN),
    Tampering("an old log copied", _copy_of_an_old_one),
    Tampering("a capture changed after it was closed", _changed_capture),
    Tampering("pitch frozen for 6 to 12 s in the poses", _frozen, SIGN),
)
"""Each makes the gate's "trusted", and a printed zero or sign where it is theirs, wrong."""
