"""Our logger firmware, executed instruction by instruction, and calib listening to it."""

from __future__ import annotations

import json
import math
import subprocess
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest

from calib.link.firmware import Settings, logger_source
from calib.link.line import open_line
from calib.store.rig import load_rig
from tests.e2e.running import calib
from tests.tools import require_header, require_program

BOARD = Path(__file__).parent / "firmware" / "board.c"
REFERENCE_MV = 5000.0
COUNT_V = REFERENCE_MV / 1000 / 1024
SPEED = 6.0
"""How many times as fast as a real board it should run; a busy machine manages less."""

RIG = """
[rig]
name = "emulated board"
[link]
port = "{port}"
{more}
[time]
column = "t_ms"
wrap = 4294967296
[channels.throttle]
role = "control"
column = "a0"
unit = "count"
full_scale = 1024
reference_V = 5.0
"""

Moment = tuple[float, ...]
"""Seconds, then millivolts of each pin."""


@pytest.fixture(scope="session")
def board(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The emulated board, built."""
    compiler = require_program("gcc")
    require_header("simavr/sim_avr.h")
    program = tmp_path_factory.mktemp("board") / "board"
    build = [compiler, "-O2", "-Wall", "-Wextra", "-Werror", "-o", str(program), str(BOARD)]
    subprocess.run([*build, "-lsimavr", "-lelf", "-lutil", "-lm"], check=True)
    return program


def firmware(folder: Path, settings: Settings) -> Path:
    """The firmware, written out and built as its head says."""
    compiler = require_program("avr-gcc")
    source = folder / "logger.c"
    source.write_text(logger_source(settings), encoding="utf-8")
    built = folder / "logger.elf"
    subprocess.run(
        [compiler, "-mmcu=atmega328p", "-Os", "-std=c11", "-Wall", "-Wextra", "-Werror", "-o",
         str(built), str(source)],
        check=True,
    )  # fmt: skip
    return built


@contextmanager
def running(
    board: Path, folder: Path, moments: Sequence[Moment], settings: Settings | None = None
) -> Iterator[Path]:
    """The board running our firmware on these volts; gives the rig file beside it."""
    settings = settings or Settings()
    volts = folder / "volts.txt"
    volts.write_text("".join(" ".join(map(str, moment)) + "\n" for moment in moments))
    command = [str(board), str(firmware(folder, settings)), str(volts), str(SPEED)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            port = process.stdout.readline().strip()
            rig = folder / "rig.toml"
            more = 'checksum = "xor"' if settings.checksum else ""
            rig.write_text(RIG.format(port=port, more=more), encoding="utf-8")
            yield rig
        finally:
            process.kill()


def test_the_firmware_sends_what_the_data_sheet_says(board: Path, tmp_path: Path) -> None:
    """Count = floor(V * 1024 / Vref) on every pin, at 100 Hz, each line with its checksum.

    Source: data sheet of the ATmega328P, section ADC conversion result (from memory).
    """
    pins_mv = (0.0, 1.0, 1100.0, 2499.0, 4990.0, 5000.0)
    with (
        running(board, tmp_path, [(0.0, *pins_mv)], Settings(checksum=True)) as rig,
        open_line(load_rig(rig)) as line,
    ):
        assert line.columns == ("t_ms", "a0", "a1", "a2", "a3", "a4", "a5")
        runs = []
        for run in line.blocks():
            runs.append(run)
            if sum(map(len, runs)) >= 200:
                break
    values = np.concatenate([run.values for run in runs])
    assert set(np.diff(values[:, 0])) == {10}
    expected = [min(math.floor(mv * 1024 / REFERENCE_MV), 1023) for mv in pins_mv]
    assert np.unique(values[:, 1:], axis=0).tolist() == [expected]
    assert [event.kind for run in runs for event in run.events] == []
    assert sum(len(run.rejected) for run in runs) <= 1


def test_travel_recovers_the_truth_within_one_count(board: Path, tmp_path: Path) -> None:
    """From volts at the pin over real firmware to the two values: not more than a count off."""
    rest_mv, full_mv = 1137.0, 3722.0
    moments: list[Moment] = [(0.0, rest_mv)]
    for press in range(8):
        start_s = 3.2 * press
        moments += [
            (start_s + 1.6, rest_mv), (start_s + 1.9, full_mv),
            (start_s + 2.9, full_mv), (start_s + 3.2, rest_mv),
        ]  # fmt: skip
    with running(board, tmp_path, moments) as rig:
        done = calib(
            "travel", "throttle", "--rig", rig, "--isolated", "--yes", "--json", cwd=tmp_path
        )
    assert done.returncode == 0, done.stderr + done.stdout
    travel = json.loads(done.stdout)
    assert travel["presses"] == 5
    assert travel["rest"]["mean"] == pytest.approx(rest_mv / 1000, abs=COUNT_V)
    assert travel["full"]["mean"] == pytest.approx(full_mv / 1000, abs=COUNT_V)
    assert travel["capture"]["gaps"] == 0
