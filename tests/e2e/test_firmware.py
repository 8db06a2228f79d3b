"""Our logger firmware, executed instruction by instruction, and calib listening to it."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.guide.logger_code import (
    BAUDS,
    Board,
    Choice,
    WheelInput,
    check_choice,
    fastest_hz,
    rig_part,
    source_files,
)
from calib.link.line import open_line
from calib.store.rig import load_rig
from tests.e2e.emulated_board import (
    COUNT_V,
    REFERENCE_MV,
    Emulator,
    Moment,
    build_emulator,
    built,
)
from tests.e2e.running import calib

ZERO_V, V_PER_DEG = 2.5, 0.02
COUNT_DEG = COUNT_V / V_PER_DEG

MV_AT_0_G, MV_PER_G = 2500.0, 400.0
COUNTS_PER_G = MV_PER_G / 1000 / COUNT_V

ZERO_DEG, SLOPE_DEG = 1.37, 0.83
"""What the sensor reads on a level floor, and how much the floor is not."""

TILT = """
[tilt]
expects = "nose-up-positive"
wheelbase_mm = 1190
latitude_deg = 51.0
"""
INCLINOMETER = f"""
[channels.pitch]
role = "pitch"
column = "a1"
unit = "count"
full_scale = 1024
reference_V = 5.0
zero_V = {ZERO_V}
sensitivity_V_per_deg = {V_PER_DEG}
{TILT}
"""
ACCELEROMETER = TILT + "".join(
    f"""
[channels.{axis}]
role = "accel-{axis}"
column = "a{pin}"
unit = "count"
counts_per_g = {COUNTS_PER_G}
zero_count = {MV_AT_0_G / 1000 / COUNT_V}
range_g = 3
"""
    for pin, axis in enumerate("xyz", 2)
)


@pytest.fixture(scope="module")
def emulator(tmp_path_factory: pytest.TempPathFactory) -> Emulator:
    """The emulated board, built once."""
    return build_emulator(tmp_path_factory.mktemp("board"))


SIX = Choice(Board.C, tuple(range(6)))
"""What calib writes out when nothing is chosen."""


def write_rig(folder: Path, choice: Choice, port: str, more: str = "") -> Path:
    """The rig file that the note tells to begin with, at the emulated board's port."""
    path = folder / "rig.toml"
    text = re.sub(r"(?m)^port = .*$", f'port = "{port}"', rig_part(choice))
    path.write_text(f"{text}\n{more}", encoding="utf-8")
    return path


def listened(rig: Path, samples: int, *, told: bool = False) -> tuple[NDArray[np.float64], int]:
    """So many samples as received, shape (n, columns), and how many lines were rejected.

    Unless something is to be told, nothing may be: no gap, no reset, no missed sample.
    """
    runs = []
    with open_line(load_rig(rig)) as line:
        for run in line.blocks():
            runs.append(run)
            if sum(map(len, runs)) >= samples:
                break
    assert told == any(run.events for run in runs)
    return np.concatenate([run.values for run in runs]), sum(len(run.rejected) for run in runs)


def code_of(mv: float) -> int:
    """Source: ATmega328P data sheet, "ADC Conversion Result": floor(V * 1024 / Vref)."""
    return min(math.floor(mv * 1024 / REFERENCE_MV), 1023)


def test_each_count_is_the_data_sheets_and_each_line_is_whole(
    emulator: Emulator, tmp_path: Path
) -> None:
    """All pins at known volts, from nought to the supply, at 100 Hz, with the checksum read."""
    pins_mv = (0.0, 4.9, 1100.0, 2499.0, 4990.0, 5000.0)
    choice = replace(SIX, checksum=True)
    with emulator.running(tmp_path, choice, [(0.0, *pins_mv)]) as port:
        values, rejected = listened(write_rig(tmp_path, choice, port), 200)
    assert set(np.diff(values[:, 0])) == {10.0}
    assert np.unique(values[:, 1:], axis=0).tolist() == [[code_of(mv) for mv in pins_mv]]
    assert rejected <= 1  # the header, where it is not counted as the first line


def test_the_time_is_that_of_the_reading(emulator: Emulator, tmp_path: Path) -> None:
    """A sawtooth that rises by a count a millisecond is, line by line, where t_ms says it is.

    One count for eight seconds: a board whose millisecond is off by a 2000th would miss it.
    """
    tooth_s = 1.024
    moments = [
        moment
        for tooth in range(20)
        for moment in ((tooth * tooth_s, 0.0), ((tooth + 1) * tooth_s - 1e-9, REFERENCE_MV))
    ]
    with emulator.running(tmp_path, SIX, moments) as port:
        values, _ = listened(write_rig(tmp_path, SIX, port), 800)
    late = (values[:, 1] - values[:, 0] + 512) % 1024 - 512
    assert np.abs(late).max() <= 1.0
    assert np.ptp(values[:, 0]) > 7900


@pytest.mark.parametrize("channels", [1, 5, 8])
def test_the_fastest_rate_that_is_allowed_is_kept(
    emulator: Emulator, tmp_path: Path, channels: int
) -> None:
    """No line is left out and none is late at the highest rate that calib lets a person choose.

    Not even in the seventh week, when the time is longest, and when its 32 bits start again.
    """
    pins = tuple(range(channels))
    divisors = [rate for rate in range(1, 1001) if 1000 % rate == 0]
    limit = fastest_hz(Choice(Board.C, pins, baud=1_000_000))
    fastest = Choice(Board.C, pins, max(hz for hz in divisors if hz <= limit), 1_000_000, True)
    check_choice(fastest)
    moments = [(0.0, *(600.0 * (pin + 1) for pin in pins))]
    with emulator.running(tmp_path, fastest, moments, start_ms=2**32 - 2000) as port:
        values, _ = listened(write_rig(tmp_path, fastest, port), 4 * fastest.rate_hz)
    assert set(np.diff(values[:, 0]) % 2**32) == {1000 / fastest.rate_hz}
    assert np.ptp(values[:, 0]) > 2**31
    assert np.unique(values[:, 1:], axis=0).tolist() == [[code_of(mv) for mv in moments[0][1:]]]


def counted(edges_s: list[float], quiet_us: float) -> int:
    """Rising edges that come so long after the edge before them, whichever it was."""
    before_s, count = -1.0, 0
    for place, at_s in enumerate(edges_s):
        if place % 2 == 0 and at_s - before_s >= 1e-6 * quiet_us:
            count += 1
        before_s = at_s
    return count


@pytest.mark.parametrize("pin", [2, 3])
@pytest.mark.parametrize("hz", [7.0, 180.0, 2000.0])
def test_every_edge_of_the_wheel_is_counted_up_to_2_khz(
    emulator: Emulator, tmp_path: Path, pin: int, hz: float
) -> None:
    """A square wave for three seconds: as many counts as edges that rise, and not one more."""
    choice = replace(SIX, wheel=WheelInput(pin))
    edges_s = (0.5 + np.arange(0.0, 3.0, 0.5 / hz)).tolist()
    edges_s = edges_s[: len(edges_s) // 2 * 2]
    with emulator.running(tmp_path, choice, [(0.0, *[2500.0] * 6)], edges_s=edges_s) as port:
        values, rejected = listened(write_rig(tmp_path, choice, port), 420)
    assert values[-1, -1] == len(edges_s) // 2 == counted(edges_s, 100.0)
    assert values[0, -1] == 0
    assert np.diff(values[:, -1]).max() <= math.ceil(hz / 100.0) + 1
    assert rejected <= 1


@pytest.mark.parametrize("channels", [1, 6])
def test_edges_at_2_khz_cost_no_line_at_the_fastest_rate(
    emulator: Emulator, tmp_path: Path, channels: int
) -> None:
    """The longest lines that the board may scan, and every edge, and every millisecond."""
    pins = tuple(range(channels))
    wheel = WheelInput(2)
    limit = fastest_hz(Choice(Board.C, pins, baud=1_000_000, wheel=wheel))
    rate_hz = max(hz for hz in range(1, 1001) if 1000 % hz == 0 and hz <= limit)
    choice = Choice(Board.C, pins, rate_hz, 1_000_000, checksum=True, wheel=wheel)
    check_choice(choice)
    edges_s = (0.2 + np.arange(0.0, 2.0, 0.00025)).tolist()
    moments = [(0.0, *[4000.0] * channels)]
    with emulator.running(tmp_path, choice, moments, edges_s=edges_s) as port:
        values, _ = listened(write_rig(tmp_path, choice, port), round(2.6 * rate_hz))
    assert set(np.diff(values[:, 0])) == {1000 / rate_hz}
    assert values[-1, -1] == len(edges_s) // 2


def test_a_reed_that_bounces_is_counted_once(emulator: Emulator, tmp_path: Path) -> None:
    """Each change chatters for two milliseconds, at random: one count a closing, at 25 a second."""
    rng = np.random.default_rng(3)
    choice = replace(SIX, wheel=WheelInput(2, quiet_us=3000))
    edges_s: list[float] = []
    for change in range(150):
        at_s = 0.5 + 0.02 * change
        chatter_s = np.sort(rng.uniform(5e-5, 2e-3, 2 * int(rng.integers(0, 5))))
        kept = [c for c, gap in zip(chatter_s, np.diff(chatter_s, prepend=0.0), strict=True)
                if gap >= 5e-5]  # fmt: skip
        edges_s += [at_s, *(at_s + np.array(kept[: len(kept) // 2 * 2])).tolist()]
    with emulator.running(tmp_path, choice, [(0.0, *[2500.0] * 6)], edges_s=edges_s) as port:
        values, _ = listened(write_rig(tmp_path, choice, port), 420)
    assert len(edges_s) > 400
    assert values[-1, -1] == 75 == counted(edges_s, 3000.0)


def test_the_wheel_is_counted_across_32_bits_of_milliseconds(
    emulator: Emulator, tmp_path: Path
) -> None:
    """Where the clock starts again no pulse is lost, and none counted twice."""
    choice = replace(SIX, wheel=WheelInput(2))
    edges_s = (0.3 + np.arange(0.0, 3.0, 0.0005)).tolist()
    running = emulator.running(
        tmp_path, choice, [(0.0, *[0.0] * 6)], start_ms=2**32 - 2000, edges_s=edges_s
    )
    with running as port:
        values, _ = listened(write_rig(tmp_path, choice, port), 420)
    assert values[-1, -1] == len(edges_s) // 2


def test_a_line_that_finds_no_room_is_left_out_whole(emulator: Emulator, tmp_path: Path) -> None:
    """Asked for twice what the baud rate carries, the board sends fewer lines and halves none."""
    asked = Choice(Board.C, tuple(range(6)), 500, 115200, checksum=True)
    with emulator.running(tmp_path, asked, [(0.0, *[4000.0] * 6)]) as port:
        values, rejected = listened(write_rig(tmp_path, asked, port), 500, told=True)
    assert rejected <= 1  # the header
    assert np.diff(values[:, 0]).min() == 2.0
    assert np.diff(values[:, 0]).mean() > 2.5
    assert np.unique(values[:, 1:]).tolist() == [code_of(4000.0)]


@pytest.mark.parametrize("baud", BAUDS)
def test_every_baud_rate_builds_without_a_warning(baud: int, tmp_path: Path) -> None:
    """avr-libc's own arithmetic finds a divider within the tolerance that the source states."""
    assert built(tmp_path, Choice(Board.C, (0,), 10, baud)).is_file()


@pytest.mark.parametrize("part", ["atmega88p", "atmega168p", "atmega328"])
def test_the_other_parts_that_the_note_names_build_too(part: str, tmp_path: Path) -> None:
    """Same registers, less memory: a kilobyte holds the queue, the lines and the stack."""
    assert built(tmp_path, SIX, part=part).is_file()


def test_travel_recovers_the_truth_within_one_count(emulator: Emulator, tmp_path: Path) -> None:
    """From volts at the pin over executed firmware to the two ends: not a count off."""
    rest_mv, full_mv = 1137.0, 3722.0
    moments: list[Moment] = [(0.0, rest_mv)]
    for press in range(8):
        start_s = 3.2 * press
        moments += [
            (start_s + 1.6, rest_mv), (start_s + 1.9, full_mv),
            (start_s + 2.9, full_mv), (start_s + 3.2, rest_mv),
        ]  # fmt: skip
    with emulator.running(tmp_path, SIX, moments) as port:
        write_rig(tmp_path, SIX, port)
        done = calib("travel", "throttle", "--isolated", "--yes", "--json", cwd=tmp_path)
    assert done.returncode == 0, done.stderr + done.stdout
    travel = json.loads(done.stdout)
    assert travel["presses"] == 5
    assert travel["rest"]["mean"] == pytest.approx(rest_mv / 1000, abs=COUNT_V)
    assert travel["full"]["mean"] == pytest.approx(full_mv / 1000, abs=COUNT_V)
    assert travel["capture"]["gaps"] == 0


def test_setup_finds_out_what_the_note_says(emulator: Emulator, tmp_path: Path) -> None:
    """Layout, checksum, clock and its unit: the note's command finds what the note's file says."""
    choice = replace(SIX, checksum=True)
    noted = load_rig(write_rig(tmp_path, choice, "not opened"))
    made = tmp_path / "made"
    made.mkdir()
    told = re.search(r"^ +calib (setup .*)$", source_files(choice)[1].text, re.MULTILINE)
    assert told is not None
    options = ["--column", "throttle=a0", "--role", "throttle=control", "--yes", "--json"]
    # a clock is told by its pace against ours: a board that a busy machine slows down has none
    with emulator.running(tmp_path, choice, standing(0.0, 3), speed=1.0) as port:
        done = calib(*told.group(1).split(), "--port", port, *options, cwd=made)
        assert done.returncode == 0, done.stdout + done.stderr
        found = load_rig(made / "rig.toml")
        values, _ = listened(made / "rig.toml", 100)
    assert (found.link.layout, found.link.checksum) == (noted.link.layout, noted.link.checksum)
    assert (found.time.column, found.time.unit) == (noted.time.column, noted.time.unit)
    throttle, expected = found.channel("throttle"), noted.channel("throttle")
    assert (throttle.column, throttle.unit) == (expected.column, expected.unit)
    assert (throttle.full_scale, throttle.reference_V) == (
        expected.full_scale,
        expected.reference_V,
    )
    assert np.median(values[:, 1]) == pytest.approx(code_of(900.0), abs=1)


def standing(pitch_deg: float, seed: int) -> list[Moment]:
    """Ten seconds of an inclinometer and an accelerometer that stand still, with 3 mV of noise."""
    pitch = math.radians(pitch_deg)
    still_mv = [
        900.0,
        1000.0 * (ZERO_V + V_PER_DEG * pitch_deg),
        *(MV_AT_0_G + MV_PER_G * g for g in (math.sin(pitch), 0.0, math.cos(pitch))),
    ]
    times_s = np.arange(0.0, 10.0, 0.005)
    noise_mv = np.random.default_rng(seed).normal(0.0, 3.0, (times_s.size, len(still_mv)))
    return [tuple(row) for row in np.column_stack([times_s, still_mv + noise_mv]).tolist()]


@pytest.fixture(scope="module")
def standings(emulator: Emulator, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """The captures of two standings, end for end, over the live board."""
    folder = tmp_path_factory.mktemp("standings")
    with emulator.running(folder, SIX, standing(ZERO_DEG + SLOPE_DEG, 1)) as port:
        write_rig(folder, SIX, port, INCLINOMETER)
        first = calib("level", "--standings", "1", "--isolated", "--yes", "--json", cwd=folder)
    assert first.returncode == 0, first.stdout + first.stderr
    assert json.loads(first.stdout)["pitch"]["reading"] == pytest.approx(
        ZERO_DEG + SLOPE_DEG, abs=COUNT_DEG
    )
    with emulator.running(folder, SIX, standing(ZERO_DEG - SLOPE_DEG, 2)) as port:
        write_rig(folder, SIX, port, INCLINOMETER)
        turned = calib("record", "--for", "3", "--json", cwd=folder)
    assert turned.returncode == 0, turned.stdout + turned.stderr
    paths = [folder / json.loads(done.stdout)["capture"]["path"] for done in (first, turned)]
    return paths[0], paths[1]


@pytest.mark.parametrize(
    ("sensor", "count_deg"),
    [(INCLINOMETER, COUNT_DEG), (ACCELEROMETER, math.degrees(1.0 / COUNTS_PER_G))],
    ids=["inclinometer", "accelerometer"],
)
def test_level_recovers_zero_and_floor_within_one_count(
    standings: tuple[Path, Path], tmp_path: Path, sensor: str, count_deg: float
) -> None:
    """Two standings end for end tell the sensor's zero from the floor's slope."""
    first, turned = standings
    write_rig(tmp_path, SIX, "not opened", sensor)
    done = calib(
        "level", "--from", first, "--turned", "--turned-from", turned, "--json", cwd=tmp_path
    )
    level = json.loads(done.stdout)
    assert level["method"] == "turned", done.stdout + done.stderr
    assert level["pitch"]["zero"] == pytest.approx(ZERO_DEG, abs=count_deg)
    assert level["pitch"]["floor_slope"] == pytest.approx(SLOPE_DEG, abs=count_deg)
