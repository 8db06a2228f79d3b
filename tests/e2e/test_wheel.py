"""``calib wheel`` live: the simulated person turns a wheel, and a tape says how far it rolls."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal

import numpy as np
import pytest

from calib.cli import cli
from calib.mule import faults
from calib.mule.bench import Bench, draw_bench
from calib.mule.device import Device
from calib.mule.person import BRISK, ObedientPerson
from calib.mule.presence import announced
from calib.mule.rigfile import rig_text
from calib.mule.stage import Stage
from calib.mule.wheel import Wheel, draw_ring

Turn = Callable[[Bench, list[str]], dict[str, Any]]


def bench(unit: Literal["level", "pulses"], fault: str | None = None) -> Bench:
    """An ordinary logger with a wheel of six magnets."""
    ring = draw_ring(np.random.default_rng(8), 6, uneven=0.03)
    found = replace(draw_bench(8), wheel=Wheel(ring, unit))
    return found if fault is None else faults.parse(fault, faults.ALL_KINDS).on(found)


@pytest.fixture
def turn(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Iterator[Turn]:
    """Runs the command at a simulated bench; the one document."""
    running: list[Device] = []

    def run(of: Bench, arguments: list[str]) -> dict[str, Any]:
        device = Device(Stage(of), speed=10.0)
        running.append(device)
        rig = tmp_path / "rig.toml"
        rig.write_text(rig_text(of, device.path), encoding="utf-8")
        device.start()
        person = ObedientPerson(device, BRISK)
        with announced(device.path):
            words = ["wheel", *arguments, "--rig", str(rig), "--json"]
            cli.main(words, prog_name="calib", standalone_mode=False, obj=person)
        document: dict[str, Any] = json.loads(capsys.readouterr().out)
        return document

    yield run
    for device in running:
        device.stop()


@pytest.mark.parametrize("unit", ["level", "pulses"])
def test_ten_turns_live(turn: Turn, unit: Literal["level", "pulses"]) -> None:
    """The person reads off the page how often to turn, and the number is right."""
    document = turn(bench(unit), [])
    assert document["verdict"] in ("pass", "caution"), document["findings"]
    assert document["pulses_a_turn"] == 6
    assert document["turned"]["turns"] == 10
    assert document["capture"]["gaps"] == 0


@pytest.mark.parametrize(
    ("fault", "unit", "code"),
    [
        ("magnet-missing", "level", "magnet-missed"),
        ("magnet-weak:3", "level", "magnet-weak"),
        ("pulses-double", "level", "pulses-doubled"),
        ("turned-back", "pulses", "turned-backwards"),
        ("reed-bounces", "pulses", "contact-bounces"),
        ("level-stuck", "level", "never-falls"),
    ],
)
def test_faults_are_told_by_their_names(
    turn: Turn, fault: str, unit: Literal["level", "pulses"], code: str
) -> None:
    """Each plain fault of the ring, as the person turns it."""
    document = turn(bench(unit, fault), [])
    assert code in {each["code"] for each in document["findings"]}, document["findings"]


def test_a_count_that_wraps_is_no_fault(turn: Turn) -> None:
    """It starts again at 64, as the rig file says, and nothing is lost."""
    assert turn(bench("pulses", "count-wraps"), [])["pulses_a_turn"] == 6


@pytest.mark.parametrize("seated", [True, False])
def test_pushed_along_a_tape(turn: Turn, seated: bool) -> None:
    """The person reads off the page how far and with whom to push; the stated 95 % hold the truth.

    That is the way with the rider on, and without one half of what a rider does is in doubt.
    """
    of = bench("pulses")
    document = turn(of, ["--over-turns", "10", *(["--seated"] if seated else [])])
    assert document["verdict"] == "pass", document["findings"]
    assert document["rolled"]["seated"] is seated
    off_mm = document["circumference_mm"] - of.tyre.circumference_mm(seated=True)
    assert abs(off_mm) <= document["expanded_mm"]


def test_turned_then_pushed_is_what_the_bench_was_drawn_with(turn: Turn) -> None:
    """Both flows after one another: pulses a metre of the truth."""
    of = bench("level")
    turn(of, [])
    document = turn(of, ["--over-turns", "10", "--seated"])
    true = 6 / (of.tyre.circumference_mm(seated=True) / 1000.0)
    assert abs(document["pulses_a_metre"] - true) <= 2.0 * document["u_pulses_a_metre"]
