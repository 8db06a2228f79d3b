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
from calib.mule.habits import BRISK
from calib.mule.person import ObedientPerson
from calib.mule.presence import announced
from calib.mule.rigfile import rig_text
from calib.mule.stage import Stage
from calib.mule.wheel import Tyre, Wheel, draw_ring

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


def test_the_tape_holds_the_tyre_that_sags(turn: Turn) -> None:
    """Pushed without a rider over ten turns: the stated 95 % holds the way with one."""
    tyre = Tyre()
    way_m = 10.0 * tyre.circumference_mm(seated=False) / 1000.0
    document = turn(bench("level"), ["--rolled-m", f"{way_m:.3f}", "--over-turns", "10"])
    off_mm = document["circumference_mm"] - tyre.circumference_mm(seated=True)
    assert abs(off_mm) <= document["expanded_mm"]
