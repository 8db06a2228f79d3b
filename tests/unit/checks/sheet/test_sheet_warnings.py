"""What the sheet says beside each number that nobody measured or proved."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest

from calib.checks.sheet import make_sheet
from calib.checks.status import status_of
from calib.controls.scale_budget import scale_components
from calib.show.console import Screen
from calib.show.report import write_report
from calib.show.sheet import sheet_markdown, show_sheet
from calib.store.documents.check import CheckDocument, PulledWire
from calib.store.documents.finding import Severity
from calib.store.documents.sheet import SheetDocument
from calib.store.rig import UNTRUED_PCT
from tests.unit.controls.test_scale_budget import known
from tests.unit.evidence import Bench, bench, travel

RIG = """\
[rig]
setting_step_V = 0.01  # assumed 0.01: nobody said

[channels.grip]
role = "control"
acts = "drive"
column = "a0"
unit = "count"
full_scale = 1024
reference_V = 5.0  # assumed 5.0: the usual supply of such a board
"""
TRUED = """
[channels.grip.scale]
gain = 1.0
offset_V = 0.0
u_gain = 0.001
u_offset_V = 0.001
cov = 0.0
date = "2026-02-01"
"""
WIRES = (
    PulledWire(wire="signal", low=0.0, high=0.0, settle_s=0.0, inside=0, samples=500),
    PulledWire(wire="ground", low=4.9, high=4.9, settle_s=0.0, inside=0, samples=500),
)


def warned(here: Bench) -> dict[str, tuple[str, ...]]:
    """What stands beside each value."""
    return {entry.name: entry.warnings for entry in make_sheet(here.filed).entries}


def measured(folder: Path, rig: str) -> Bench:
    """A bench with one good travel."""
    here = bench(folder, rig)
    here.keep(travel(), "grip")
    return here


def test_every_number_says_what_it_takes_for_granted(tmp_path: Path) -> None:
    """Untrued volts, an assumed reference and step; wires beside the broken-wire values alone."""
    found = warned(measured(tmp_path, RIG))
    taken = ("untrued, ±7 %", "reference assumed", "step assumed")
    assert found["drive takes up at"] == found["full drive from"] == taken
    unproven = ("not proven by pulling wires", *taken)
    assert found["broken wire below"] == found["broken wire above"] == unproven


def test_what_was_measured_and_proven_stands_alone(tmp_path: Path) -> None:
    """Trued, step stated, wires pulled: no warning is left and the sheet passes."""
    here = measured(tmp_path, RIG.replace("  # assumed 0.01: nobody said", "") + TRUED)
    here.keep(CheckDocument(verdict=Severity.PASS, channels={}, pulled=WIRES), "grip")
    assert set(warned(here).values()) == {()}
    assert make_sheet(here.filed).verdict is Severity.PASS


def test_in_the_controllers_own_volts_the_loggers_scale_is_no_matter(tmp_path: Path) -> None:
    """Values that its display decided do not rest on the logger's reference."""
    here = bench(tmp_path, RIG)
    here.keep(msgspec.structs.replace(travel(), basis="controller"), "grip")
    assert warned(here)["drive takes up at"] == ("step assumed",)


@pytest.mark.parametrize(
    ("name", "words"),
    [("grip", "drive or brake: not stated"), ("regen", "brake: assumed")],
)
def test_what_nobody_stated_of_the_control_is_said(tmp_path: Path, name: str, words: str) -> None:
    """Whether it drives or brakes was taken from its name, or is open."""
    here = bench(tmp_path, RIG.replace('acts = "drive"\n', "").replace("grip", name))
    here.keep(travel(name), name)
    assert all(words in each for each in warned(here).values())


def test_stating_what_a_control_does_makes_no_measurement_stale(tmp_path: Path) -> None:
    """The words change at once, and nothing has to be measured again."""
    here = bench(tmp_path, RIG.replace('acts = "drive"\n', ""))
    here.keep(travel(), "grip")
    assert "takes up at" in warned(here)
    (tmp_path / "rig.toml").write_text(RIG.replace('"drive"', '"brake"'), encoding="utf-8")
    assert "braking starts at" in warned(here)


def on_card(here: Bench, sheet: SheetDocument) -> str:
    """The terminal's page."""
    del here
    file = io.StringIO()
    show_sheet(sheet, Screen(file, is_terminal=False))
    return file.getvalue()


def in_markdown(here: Bench, sheet: SheetDocument) -> str:
    """The page as Markdown, its escapes undone."""
    return sheet_markdown(sheet, here.rig.rig.name).replace("\\", "")


def in_json(here: Bench, sheet: SheetDocument) -> str:
    """The document's warnings."""
    del here
    entries = json.loads(msgspec.json.encode(sheet))["entries"]
    return " ".join(word for entry in entries for word in entry["warnings"])


def in_report(here: Bench, sheet: SheetDocument) -> str:
    """The report's page."""
    del sheet
    path = write_report(here.folder, here.filed, here.folder / "report.html")
    return path.read_text(encoding="utf-8")


@pytest.mark.parametrize("page", [on_card, in_markdown, in_json, in_report])
def test_it_is_said_wherever_the_number_stands(
    tmp_path: Path, page: Callable[[Bench, SheetDocument], str]
) -> None:
    """Card, Markdown, JSON and report."""
    here = measured(tmp_path, RIG)
    text = page(here, make_sheet(here.filed))
    for words, least in (("untrued, ±7 %", 4), ("not proven by pulling wires", 2)):
        assert text.count(words) >= least


def test_there_is_one_figure_for_an_untrued_logger(tmp_path: Path) -> None:
    """Status, sheet and the uncertainty budget say the same of it."""
    here = measured(tmp_path, RIG)
    said = f"{UNTRUED_PCT:g} %"
    assert said in next(step.text for step in status_of(here.filed).steps)
    assert all(said in " ".join(words) for words in warned(here).values())
    assert any(said in part.source for part in scale_components(1.0, known()))
