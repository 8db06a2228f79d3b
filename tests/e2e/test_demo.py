"""The demo as a person starts it: another process, a real pseudo-terminal, nobody at the keys."""

from __future__ import annotations

import json

import pytest

from calib.cli.demo import SEED
from calib.mule.bench import draw_bench
from tests.e2e.conftest import Ran


def test_ends_well_and_says_so(plain: Ran) -> None:
    """Exit 0 and nothing on stderr to worry about."""
    assert plain.done.returncode == 0, plain.done.stderr
    assert "Traceback" not in plain.done.stderr
    assert "did not end as it should" not in plain.done.stderr


def test_shows_what_was_asked_and_what_came_of_it(plain: Ran) -> None:
    """Who looks on sees each request as it comes, and at the end one line for each command."""
    assert "asked: Throttle: press. 3 of 5." in plain.done.stderr
    lines = plain.done.stderr.replace(str(plain.out), "demo").splitlines()  # a folder of any length
    assert max(len(line) for line in lines) <= 80
    in_short = plain.done.stdout.split("The evening in short")[1]
    for command in ("meter throttle", "check --unplug regen", "travel regen", "level", "trust"):
        assert f"  {command}\n" in in_short.replace("PASS   ", "").replace("CAUTION", "")


def test_writes_rig_file_captures_records_and_pages(plain: Ran) -> None:
    """The folder holds everything that an evening leaves behind."""
    assert (plain.out / "rig.toml").exists()
    sheet = (plain.out / "sheet.md").read_text()
    assert (sheet.count("drive takes up at"), sheet.count("braking starts at")) == (1, 1)
    assert "<html" in (plain.out / "report.html").read_text()
    assert len(list((plain.out / "captures").glob("*-travel.csv"))) == 2
    assert len(list((plain.out / "captures").glob("*-unplug-*.csv"))) == 6
    assert len(list((plain.out / "records").glob("*-travel-*.json"))) == 2


def test_travel_is_what_the_bench_was_drawn_with(plain: Ran) -> None:
    """Rest and full travel lie within 30 mV of the simulated sensors' own figures."""
    bench = draw_bench(SEED)
    for name in ("throttle", "regen"):
        record = next((plain.out / "records").glob(f"*-travel-{name}.json"))
        document = json.loads(record.read_text())["document"]
        hall, rail_v = bench.control(name).hall, bench.rail.volts
        assert document["rest"]["mean"] == pytest.approx(hall.rest_share * rail_v, abs=0.03)
        assert document["full"]["mean"] == pytest.approx(hall.full_share * rail_v, abs=0.03)
        assert document["verdict"] in ("pass", "caution")  # a hand may well press unevenly


def test_trued_scale_holds_the_loggers_own(plain: Ran) -> None:
    """Volts trued against the simulated meter are the wire's, within the stated uncertainty."""
    bench = draw_bench(SEED)
    reference_v = bench.logger.converter.reference_v
    for name in ("throttle", "regen"):
        record = next((plain.out / "records").glob(f"*-meter-{name}.json"))
        document = json.loads(record.read_text())["document"]
        middle_v = 2.5
        trued_v = document["gain"] * middle_v * 5.0 / reference_v + document["offset_V"]
        assert trued_v == pytest.approx(middle_v, abs=0.03)
        assert document["u_gain"] > 0.0


def test_the_wheel_is_what_the_bench_was_drawn_with(plain: Ran) -> None:
    """Six pulses a turn, and the way of a turn with somebody seated, on the sheet."""
    records = sorted((plain.out / "records").glob("*-wheel*.json"))
    turned, document = (json.loads(record.read_text())["document"] for record in records)
    assert turned["pulses_a_turn"] == 6
    true_mm = draw_bench(SEED).tyre.circumference_mm(seated=True)
    assert abs(document["circumference_mm"] - true_mm) <= document["expanded_mm"]
    sheet = (plain.out / "sheet.md").read_text()
    assert "pulses a turn" in sheet
    assert "circumference" in sheet


def test_pulled_wires_prove_the_fault_window(plain: Ran) -> None:
    """After signal, ground and supply were pulled, the sheet calls the two values proven."""
    assert (plain.out / "sheet.md").read_text().count("proven by unplugging") == 4


def test_level_zero_holds_what_the_sensor_was_drawn_with(plain: Ran) -> None:
    """The zero from four standings holds the sensor's offset, as this logger sees its volts."""
    bench = draw_bench(SEED)
    sensor, converter = bench.pitch, bench.logger.converter
    level_v = sensor.zero_v + sensor.v_per_deg * sensor.offset_deg
    codes = level_v * converter.codes / converter.reference_v + converter.skew_codes
    truth_deg = (codes * 5.0 / converter.codes - sensor.zero_v) / sensor.v_per_deg
    record = next((plain.out / "records").glob("*-level.json"))
    pitch = json.loads(record.read_text())["document"]["pitch"]
    assert abs(pitch["zero"] - truth_deg) < pitch["u95"]
    assert abs(abs(pitch["floor_slope"]) - bench.garage.floor.rise_x_deg) < 0.3


def test_gate_trusts_the_sound_bench(plain: Ran) -> None:
    """With every piece of evidence taken the gate says that the inputs are proven."""
    record = next((plain.out / "records").glob("*-trust.json"))
    assert json.loads(record.read_text())["document"]["trusted"] is True
