"""``calib setup`` with simulated hands: what moved is the throttle; what did not tell is asked."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal

import pytest

from calib.cli import cli
from calib.errors import BrokenOffError
from calib.guide.protocols import Live
from calib.link.ports import Port, UsbIdentity
from calib.mule.bench import Bench, draw_bench, with_wheel
from calib.mule.device import Device
from calib.mule.faults import parse
from calib.mule.person import BRISK, ObedientPerson, Pace
from calib.mule.presence import announced
from calib.mule.stage import Stage
from calib.store.rig import load_rig
from calib.store.rig_writing import write_table
from tests.habits import Habits, HabitualPerson

Answers = Mapping[str, str]

QUICK = 10.0
"""How much faster the bench's clock runs than ours: a look comes twenty times a second."""
SLOW = 4.0
"""The same where patience is short, or a second hand must follow within the moment."""


class Confused(ObedientPerson):
    """Works the throttle again when the lever is asked for, until the page names it."""

    told = False

    def show(self, live: Live) -> None:
        """Do what was read wrongly."""
        self.told |= bool(live.step.instead)
        if live.step.control == "regen" and not self.told:
            live = replace(live, step=replace(live.step, control="throttle"))
        super().show(live)


class LeverIsRegen(ObedientPerson):
    """The lever that is asked for is the bench's regen lever."""

    def show(self, live: Live) -> None:
        """Work that one."""
        if live.step.control == "lever":
            live = replace(live, step=replace(live.step, control="regen"))
        super().show(live)


class TwoHanded(ObedientPerson):
    """Works the lever with the other hand, a little later."""

    other_held = False

    def show(self, live: Live) -> None:
        """Do what the page says, and the same on the other side."""
        super().show(live)
        away = live.step.verb in ("press", "hold")
        if away != self.other_held:
            self.other_held = away
            act = Stage.push if away else Stage.let_go
            self._bench.act(lambda stage: act(stage, "regen"))


@contextmanager
def hands(
    bench: Bench, answers: Answers, person_of: type[ObedientPerson], pace: Pace, speed: float
) -> Iterator[tuple[str, ObedientPerson]]:
    """A bench whose clock runs fast, and who works it."""
    device = Device(Stage(bench), speed=speed)
    device.start()
    person = person_of(device, pace, answers=answers)
    try:
        with announced(device.path):
            yield device.path, person
    finally:
        device.stop()


def setup(
    folder: Path,
    capsys: pytest.CaptureFixture[str],
    bench: Bench,
    *more: str,
    answers: Answers | None = None,
    person_of: type[ObedientPerson] = ObedientPerson,
    pace: Pace = BRISK,
    speed: float = QUICK,
) -> dict[str, Any]:
    """``calib setup --json`` with simulated hands; its document."""
    with hands(bench, answers or {}, person_of, pace, speed) as (port, person):
        arguments = ["setup", "--rig", str(folder / "rig.toml"), "--port", port, "--json"]
        cli.main(
            [*arguments, "--listen", "1", *more],
            prog_name="calib", standalone_mode=False, obj=person,
        )  # fmt: skip
    document: dict[str, Any] = json.loads(capsys.readouterr().out)
    return document


def finding(document: dict[str, Any], channel: str) -> dict[str, Any]:
    """What was told, or not, of a part."""
    (found,) = [
        each for each in document["findings"]
        if each["channel"] == channel and each["code"].startswith("part-")
    ]  # fmt: skip
    return dict(found)


def test_each_part_is_known_by_what_moves(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Throttle, lever and brake switch are told from each other, by their movement alone."""
    document = setup(tmp_path, capsys, draw_bench(3), answers={"parts": "throttle, regen brake"})
    channels = load_rig(tmp_path / "rig.toml").channels
    assert {name: channel.column for name, channel in channels.items()} == {
        "throttle": "a0", "regen": "a1", "brake": "a3",
    }  # fmt: skip
    assert (channels["throttle"].role, channels["brake"].role) == ("control", "switch")
    assert channels["brake"].active == "low"
    assert channels["throttle"].full_scale == 1024
    assert finding(document, "throttle")["severity"] == "pass"
    assert len(list((tmp_path / "captures").glob("*-setup.csv"))) == 1


def test_what_a_name_leaves_open_is_asked(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A lever may do either: the answer stands in the file as stated."""
    answers = {"parts": "lever", "drive or brake": "brake"}
    setup(tmp_path, capsys, draw_bench(3), answers=answers, person_of=LeverIsRegen)
    rig = load_rig(tmp_path / "rig.toml")
    assert rig.channels["lever"].acts == "brake"
    assert rig.assumed.isdisjoint({"channels.lever.acts"})


@pytest.mark.parametrize("unit", ["level", "pulses"])
def test_the_wheel_is_known_by_turning_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], unit: Literal["level", "pulses"]
) -> None:
    """Its column and what it sends are written as found, and no pedal is taken for it."""
    document = setup(tmp_path, capsys, with_wheel(draw_bench(3), unit), "--work", "wheel")
    channels = load_rig(tmp_path / "rig.toml").channels
    assert {name: (each.column, each.unit) for name, each in channels.items()} == {
        "wheel": ("wheel", unit)
    }
    assert finding(document, "wheel")["value"] == pytest.approx(60, abs=1)
    assert "channels.wheel.unit" not in load_rig(tmp_path / "rig.toml").assumed


def test_a_wheel_that_gives_no_pulse_ends_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """No sensor is wired, or nobody is there: nothing is guessed, and what to do is said."""
    monkeypatch.setattr("calib.guide.setup.turning.TurnedWatch.patience_s", 12.0)
    with pytest.raises(BrokenOffError, match="nothing moved") as ended:
        setup(tmp_path, capsys, draw_bench(3), "--work", "wheel", speed=SLOW)
    assert "calib setup --work wheel" in ended.value.hint
    assert load_rig(tmp_path / "rig.toml").channels == {}


def test_a_reversed_control_is_known_too(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A control that rests high and falls when worked is found, and that it falls is said."""
    bench = parse("control-reversed:1").on(draw_bench(3))
    document = setup(tmp_path, capsys, bench, "--yes", "--work", "throttle")
    assert load_rig(tmp_path / "rig.toml").channels["throttle"].column == "a0"
    assert "falls when worked" in finding(document, "throttle")["text"]


def test_a_part_that_moves_nothing_is_not_guessed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A throttle whose wire is off: unknown, with the command that tries again."""
    monkeypatch.setattr("calib.guide.setup.parts.PATIENCE_S", 8.0)
    bench = parse("signal-open-pulled-down:1").on(draw_bench(4))
    document = setup(tmp_path, capsys, bench, "--work", "throttle", "--work", "regen", speed=SLOW)
    assert document["verdict"] == "unknown"
    assert set(load_rig(tmp_path / "rig.toml").channels) == {"regen"}
    told = finding(document, "throttle")
    assert told["code"] == "part-not-told"
    assert "calib setup --work throttle" in told["action"]


def test_a_second_logger_in_the_same_folder_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """By its USB identity: the other one's truing goes out of the file, and all of it is said."""
    there = [UsbIdentity(0x2341, 0x0043, "A1", "1-2")]
    monkeypatch.setattr("calib.cli.setup_run.identity_of", lambda _: there[-1])
    setup(tmp_path, capsys, draw_bench(3), "--yes", "--column", "throttle=a0")
    path = tmp_path / "rig.toml"
    assert load_rig(path).link.usb == "2341:0043 A1"
    trued = {"gain": 1.0, "offset_V": 0.0, "u_gain": 0.0, "u_offset_V": 0.0, "cov": 0.0}
    write_table(path, ("channels", "throttle", "scale"), {**trued, "date": "2026-03-01"})
    there.append(UsbIdentity(0x2341, 0x0043, "B2", "1-2"))
    document = setup(tmp_path, capsys, draw_bench(3), "--yes")
    assert "another-logger" in {each["code"] for each in document["findings"]}
    rig = load_rig(path)
    assert (rig.link.usb, rig.channels["throttle"].scale) == ("2341:0043 B2", None)


def test_who_walks_away_breaks_it_off_and_loses_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nobody works the lever any more: broken off, and the throttle that was told is written."""
    monkeypatch.setattr("calib.guide.setup.parts.PATIENCE_S", 4.0)
    with pytest.raises(BrokenOffError, match=r"regen was asked for.*rig\.toml"):
        setup(
            tmp_path, capsys, draw_bench(4), "--work", "throttle", "--work", "regen",
            person_of=HabitualPerson, pace=Habits(BRISK.react_s, BRISK.push_s, leaves_after=4),
            speed=SLOW,
        )  # fmt: skip
    assert set(load_rig(tmp_path / "rig.toml").channels) == {"throttle"}


def test_the_wrong_part_is_not_taken(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The throttle worked again when the lever is asked for is told; then the lever is found."""
    document = setup(
        tmp_path, capsys, draw_bench(3), "--work", "throttle", "--work", "regen", person_of=Confused
    )
    channels = load_rig(tmp_path / "rig.toml").channels
    assert (channels["throttle"].column, channels["regen"].column) == ("a0", "a1")
    assert finding(document, "regen")["severity"] == "pass"


def test_two_parts_at_once_tell_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where two columns move, and not as one, neither is taken."""
    monkeypatch.setattr("calib.guide.setup.parts.PATIENCE_S", 8.0)
    document = setup(
        tmp_path, capsys, draw_bench(3), "--work", "throttle", person_of=TwoHanded, speed=SLOW
    )
    assert document["verdict"] == "unknown"
    assert "moved together" in finding(document, "throttle")["text"]
    assert load_rig(tmp_path / "rig.toml").channels == {}


def test_the_tilt_sensor_is_known_by_raising_the_front(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Three columns that are 1 g long, and one that moves with the front; its scale is asked."""
    document = setup(tmp_path, capsys, draw_bench(3), "--work", "tilt")
    rig = load_rig(tmp_path / "rig.toml")
    columns = {name: channel.column for name, channel in rig.channels.items()}
    assert columns == {"accel_x": "a7", "accel_y": "a8", "accel_z": "a9", "pitch": "a6"}
    z = rig.channels["accel_z"]
    assert (z.counts_per_g, z.zero_count) == (8192, 32768)
    codes = {each["code"]: each["severity"] for each in document["findings"]}
    assert codes["accelerometer-told"] == "pass"
    assert codes["angle-scale-unknown"] == "unknown"


def test_from_a_plugged_logger_to_two_numbers_four_prompts_are_enough(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Parts (and with them the only port), isolation, scale; then the isolation of the travel."""
    device = Device(Stage(draw_bench(3)), speed=QUICK)
    device.start()
    only = [Port(device.path, "USB serial", "", None, ())]
    monkeypatch.setattr("calib.cli.setup_run.known_ports", lambda: only)
    person = ObedientPerson(device, BRISK)
    rig = str(tmp_path / "rig.toml")
    try:
        for arguments in (["setup", "--rig", rig, "--listen", "1"], ["travel", "throttle"]):
            cli.main(
                [*arguments, *(() if "--rig" in arguments else ("--rig", rig))],
                prog_name="calib", standalone_mode=False, obj=person,
            )  # fmt: skip
    finally:
        device.stop()
    assert "ull drive from" in capsys.readouterr().out
    assert len(person.questions) <= 4, person.questions


def test_what_is_assumed_of_the_logger_is_asked_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A typed reference is stated; Enter leaves the other one assumed."""
    answers = {"parts": "none", "reference": "4.93"}
    document = setup(tmp_path, capsys, draw_bench(3), "--column", "throttle=a0", answers=answers)
    origin = {each["key"]: each["origin"] for each in document["settings"]}
    assert (origin["reference_V"], origin["full_scale"]) == ("stated", "assumed")
    assert load_rig(tmp_path / "rig.toml").channels["throttle"].reference_V == 4.93


def test_a_column_that_was_stated_is_corrected_by_working_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """After a rewire the file's column is wrong: work the part, and only that changes."""
    setup(tmp_path, capsys, draw_bench(3), "--yes", "--column", "throttle=a1")
    path = tmp_path / "rig.toml"
    path.write_text(path.read_text().replace('name = "my rig"', 'name = "mine"'))
    document = setup(tmp_path, capsys, draw_bench(3), "--yes", "--work", "throttle")
    rig = load_rig(path)
    assert (rig.channels["throttle"].column, rig.rig.name) == ("a0", "mine")
    changed = {f"{each['table']}.{each['key']}" for each in document["settings"] if each["changed"]}
    assert changed - {"link.port", "channels.throttle.unit"} == {"channels.throttle.column"}
    assert document["created"] is False
