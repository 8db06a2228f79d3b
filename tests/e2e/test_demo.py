"""The demo as a person starts it: another process, a real pseudo-terminal, nobody at the keys."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.e2e.conftest import Ran, demo


def test_ends_well_and_says_so(plain: Ran) -> None:
    """Exit 0 and nothing on stderr to worry about."""
    assert plain.done.returncode == 0, plain.done.stderr
    assert "Traceback" not in plain.done.stderr
    assert "did not end as it should" not in plain.done.stderr


def test_writes_rig_file_captures_records_and_pages(plain: Ran) -> None:
    """The folder holds everything that an evening leaves behind."""
    assert (plain.out / "rig.toml").exists()
    assert (plain.out / "sheet.md").read_text().count("drive takes up at") >= 2
    assert "<html" in (plain.out / "report.html").read_text()
    assert len(list((plain.out / "captures").glob("*-travel.csv"))) == 2
    assert len(list((plain.out / "records").glob("*-travel-*.json"))) == 2


def test_travel_is_what_the_bench_was_drawn_with(plain: Ran) -> None:
    """Rest and full travel lie within 30 mV of the simulated sensors' own figures."""
    from calib.cli.demo import SEED
    from calib.mule.bench import draw_bench

    bench = draw_bench(SEED)
    for name in ("throttle", "regen"):
        record = next((plain.out / "records").glob(f"*-travel-{name}.json"))
        document = json.loads(record.read_text())["document"]
        hall, rail_v = bench.control(name).hall, bench.rail.volts
        assert document["rest"]["mean"] == pytest.approx(hall.rest_share * rail_v, abs=0.03)
        assert document["full"]["mean"] == pytest.approx(hall.full_share * rail_v, abs=0.03)
        assert document["verdict"] == "pass"


def test_plain_fault_is_told(tmp_path: Path) -> None:
    """A lost ground ends no travel in a pass, and the demo still ends as a demo should."""
    ran = demo(tmp_path, "--fault", "ground-lost")
    assert ran.done.returncode == 0, ran.done.stderr
    record = next((tmp_path / "records").glob("*-travel-throttle.json"))
    assert json.loads(record.read_text())["document"]["verdict"] in ("fail", "unknown")


def test_somebodys_rig_file_is_left_alone(tmp_path: Path) -> None:
    """A folder with another rig file is refused, exit 2."""
    (tmp_path / "rig.toml").write_text('[rig]\nname = "mine"\n')
    ran = demo(tmp_path)
    assert ran.done.returncode == 2
    assert (tmp_path / "rig.toml").read_text() == '[rig]\nname = "mine"\n'


def test_unknown_fault_is_wrong_use(tmp_path: Path) -> None:
    """Exit 2 before anything is written."""
    ran = demo(tmp_path / "new", "--fault", "gremlins")
    assert ran.done.returncode == 2
    assert not (tmp_path / "new").exists()
