"""Each limit on the tilt sensor is the user's: another figure for a channel, another judgement."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import msgspec
import numpy as np
import pytest

from calib.checks.file.validity import Filed
from calib.checks.gate import judge_trust, zero_evidence
from calib.checks.tilt.level import LevelSettings, Shown, Standings, judge_level
from calib.checks.tilt.poses import judge_poses
from calib.checks.tilt.signs import SignsSettings, judge_signs
from calib.mule import hands
from calib.store.capture import Capture
from calib.store.records import load_records
from calib.store.rig import Rig
from calib.tilt.signs import Pose
from tests.bench.gate import BLOCK_MM, Folder, sound, spent
from tests.bench.mule_captures import capture_of

PITCH, ACCEL_X = "a6", "ax"


@dataclass(frozen=True)
class Case:
    """What a limit decides over a sound evening.

    Attributes:
        command: Whose captures are judged.
        value: The user's own figure.
        base: Other limits, in both judgements.
        spoil: What is done to the captures first.
    """

    command: str
    value: float
    base: dict[str, float] = field(default_factory=dict)
    spoil: Callable[[Folder], Folder] = field(default=lambda here: here)


def _edited(here: Folder, name: str, change: Callable[[Capture], Capture]) -> Folder:
    return replace(here, captured={**here.captured, name: change(here.captured[name])})


def _swaying(here: Folder) -> Folder:
    """A hand holds the machine in the first standing, and sways by half a degree."""

    def sway(capture: Capture) -> Capture:
        volts = 0.01 * np.sin(2 * np.pi * 0.25 * capture.time_s)
        counts = np.round(capture.values[PITCH] + volts * 1024 / 5)
        return replace(capture, values={**capture.values, PITCH: counts})

    return _edited(here, "first", sway)


def _warmer(here: Folder) -> Folder:
    """The garage was warmer when the machine had been turned."""

    def warm(capture: Capture) -> Capture:
        return replace(capture, values={**capture.values, "a5": capture.values["a5"] - 60})

    return _edited(here, "turned", warm)


def _frozen(here: Folder) -> Folder:
    """The pitch stood still for eight seconds of the poses."""

    def freeze(capture: Capture) -> Capture:
        pitch = capture.values[PITCH].copy()
        pitch[(capture.time_s > 8.0) & (capture.time_s < 16.0)] = pitch[800]
        return replace(capture, values={**capture.values, PITCH: pitch})

    return _edited(here, "signs", freeze)


CASES = {
    "gravity_pct": Case("level", 0.0),
    "gravity_fail_pct": Case("level", 0.0, base={"gravity_pct": 0.0}),
    "sensor_end_pct": Case("level", 1.0),
    "repeated_readings": Case("signs", 2.0),
    "tilt_step_deg": Case("level", 0.0),
    "stuck_s": Case("signs", 60.0, spoil=_frozen),
    "asleep_s": Case("signs", 0.0),
    "standing_s": Case("level", 100.0),
    "rest_drift_deg": Case("level", 0.0),
    "sway_deg": Case("level", 20.0, spoil=_swaying),
    "unlike_deg": Case("level", 90.0),
    "zero_u95_deg": Case("level", 0.001),
    "lean_deg": Case("level", 0.0),
    "lean_spread_deg": Case("level", 0.0),
    "floor_deg": Case("level", 0.0),
    "warming_K": Case("level", 100.0, spoil=_warmer),
    "same_deg": Case("level", 90.0),
    "floors_apart_deg": Case("level", 0.0),
    "rider_deg": Case("level", 0.0),
    "scale_accel_pct": Case("signs", 0.0),
    "cross_pct": Case("signs", 0.0),
    "cross_fail_pct": Case("signs", 0.0, base={"cross_pct": 0.0}),
    "lag_s": Case("signs", 0.0),
    "launch_deg": Case("surge", 0.0),
    "still_s": Case("still", 1000.0),
    "foretold_s": Case("still", 1000.0),
    "drift_deg_per_h": Case("still", 1e-6),
    "tilt_noise_deg": Case("still", 1e-6),
    "poses_rms_g": Case("poses", 0.0),
    "bias_g": Case("poses", 0.0),
    "axis_scale_pct": Case("poses", 0.0),
    "start_margin_deg": Case("trust", 40.0),
    "noise_sds": Case("trust", 1e4),
    "end_margin_deg": Case("trust", 40.0),
}
ELSEWHERE = {"scale_block_pct", "shown_zero_deg"}


@pytest.fixture(scope="module")
def here(tmp_path_factory: pytest.TempPathFactory) -> Folder:
    """A sound machine's evening."""
    evening = spent(sound(1), tmp_path_factory.mktemp("evening"))
    loose = capture_of(sound(1).bench, hands.loose_poses)
    return replace(evening, captured={**evening.captured, "poses": loose})


def limited(rig: Rig, limits: dict[str, float], channel: str = "pitch") -> Rig:
    """A rig file with the user's own limits for one channel."""
    own = msgspec.structs.replace(rig.channels[channel], limits=limits)
    return msgspec.structs.replace(rig, channels={**rig.channels, channel: own})


def told(here: Folder, command: str, rig: Rig) -> set[tuple[str, str, str]]:
    """Codes and severities of what a command says; of the gate, what each piece of it says."""
    if command == "poses":
        found = judge_poses(here.captured["poses"], rig, ()).findings
    elif command == "trust":
        found = judge_trust(Filed(rig, load_records(here.path), here.now), ()).findings
    else:
        found = here.document(command, rig).findings
    return {
        (each.code, each.severity.value, each.text.split(":")[0] * (command == "trust"))
        for each in found
    }


@pytest.mark.parametrize("name", CASES)
def test_the_user_s_own_figure_changes_what_is_said(name: str, here: Folder) -> None:
    """For each limit: another figure for the pitch channel, another finding or severity."""
    case = CASES[name]
    spoiled = case.spoil(here)
    said = [
        told(spoiled, case.command, limited(here.rig, limits))
        for limits in (case.base, {**case.base, name: case.value})
    ]
    assert said[0] != said[1]


@pytest.mark.parametrize("channel", ["pitch", "accel_x"])
def test_the_tilt_sensor_is_all_its_channels(channel: str, here: Folder) -> None:
    """A limit may stand with any of them, and with no other."""
    plain = told(here, "level", here.rig)
    assert told(here, "level", limited(here.rig, {"lean_deg": 0.0}, channel)) != plain
    assert told(here, "level", limited(here.rig, {"lean_deg": 0.0}, "throttle")) == plain


def test_the_gate_says_whose_limits_they_are(here: Folder) -> None:
    """Whoever reads "trusted" sees that a limit was the owner's, and what it is in the table."""
    own = limited(here.rig, {"noise_sds": 2.0})
    plain, told_own = (
        judge_trust(Filed(rig, load_records(here.path), here.now), ()).cautions
        for rig in (here.rig, own)
    )
    assert any("noise_sds 2" in text and "3" in text for text in told_own)
    assert not any("of its own" in text for text in plain)


def test_how_far_a_plank_may_be_off_is_the_user_s(here: Folder) -> None:
    """``scale_block_pct``: a plank typed a third too high contradicts the accelerometer."""
    settings = SignsSettings(BLOCK_MM * 4 / 3)
    codes = [
        {
            f.code
            for f in judge_signs({Pose.LEVEL: here.captured["signs"]}, rig, settings, ()).findings
        }
        for rig in (here.rig, limited(here.rig, {"scale_block_pct": 60.0}))
    ]
    assert "block-contradicted" in codes[0]
    assert "block-contradicted" not in codes[1]


def test_how_far_from_zero_the_controller_may_show_level_is_the_user_s(here: Folder) -> None:
    """``shown_zero_deg``: a controller of its own that shows four degrees on the level."""
    verdicts = []
    for limits in ({}, {"shown_zero_deg": 9.0}):
        plain = limited(here.rig, limits)
        rig = msgspec.structs.replace(
            plain, tilt=msgspec.structs.replace(plain.tilt, sensor="controller")
        )
        shown = LevelSettings(shown=Shown(level_deg=4.2, turned_deg=3.8))
        verdicts.append(zero_evidence(judge_level(Standings(), rig, shown, ()), rig).verdict)
    assert verdicts[0] != verdicts[1]
