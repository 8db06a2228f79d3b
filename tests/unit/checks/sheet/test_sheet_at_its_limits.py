"""Numbers on the sheet and what a controller shows of them, at both sides of each limit."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Literal

import msgspec
import pytest

from calib.checks.file.validity import Filed
from calib.checks.sheet import make_sheet
from calib.checks.sheet.travel import Whole, as_share, whole_of
from calib.checks.sheet.verify import Answers, verify
from calib.checks.status import status_of
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.sheet import SheetEntry, VerifyDocument
from calib.store.documents.tilt import AxisZeroFigures, Convention, LevelDocument, SignsDocument
from calib.store.documents.travel import FaultWindow, TravelDocument
from calib.store.rig import read_rig
from tests.records import MARCH, on_file, record_of
from tests.unit.evidence import RIG, bench, travel


def _entries(folder: Path, document: TravelDocument, rig: str = RIG) -> dict[str, SheetEntry]:
    """The grip's values on the sheet, by name."""
    here = bench(folder, rig)
    here.keep(document, "grip")
    return {each.name: each for each in make_sheet(here.filed).entries if each.channel == "grip"}


def _with_step(step: float | None) -> TravelDocument:
    document = travel()
    assert document.dead_band is not None
    band = msgspec.structs.replace(document.dead_band, step=step)
    return msgspec.structs.replace(document, dead_band=band)


@pytest.mark.parametrize(("step_V", "decimals"), [(None, 2), (0.01, 2), (0.0099, 3), (0.001, 3)])
def test_volts_have_two_decimals_unless_the_step_is_finer(
    tmp_path: Path, step_V: float | None, decimals: int
) -> None:
    """Below a hundredth of a volt there are three."""
    entries = _entries(tmp_path, _with_step(step_V))
    assert {each.decimals for each in entries.values()} == {decimals}


SHARE_RIG = RIG.replace("[rig]", "[rig]\nsetting_step_pct = 0.5").replace(
    'unit = "count"\nfull_scale = 1024\n', 'unit = "share"\n'
)


@pytest.mark.parametrize("turned", [False, True])
def test_a_share_is_rounded_into_the_travel_and_out_of_it_for_a_broken_wire(
    tmp_path: Path, turned: bool
) -> None:
    """Half a per cent of five volts is 25 mV; both ways round of a control."""
    document = travel(rest_V=3.72, full_V=0.81, start_V=3.61, end_V=0.88) if turned else travel()
    window = FaultWindow(low=0.42, high=4.31)
    document = msgspec.structs.replace(document, fault_window=window)
    entries = _entries(tmp_path, document, SHARE_RIG)
    assert {each.unit for each in entries.values()} == {"%"}
    values = {name: each.value for name, each in entries.items()}
    # 0.93, 3.66, 0.42 and 4.31 V are 18.6, 73.2, 8.4 and 86.2 %; 3.61 and 0.88 are 72.2 and 17.6
    start, end = (72.0, 18.0) if turned else (19.0, 73.0)
    assert values["drive takes up at"] == start
    assert values["full drive from"] == end
    assert values["broken wire below"] == 8.0
    assert values["broken wire above"] == 86.5
    assert "100 % are 5 V in all" in entries["drive takes up at"].origin
    taken = entries["drive takes up at"]
    assert taken.u == pytest.approx(0.004 * 20.0)
    assert taken.expanded == pytest.approx(0.00826 * 20.0)
    assert taken.coverage == 0.95


ENTRY = SheetEntry(
    name="x", channel="grip", unit="V", state="ready", origin="5 presses", value=1.0, u=0.01,
    expanded=0.02,
)  # fmt: skip


@pytest.mark.parametrize(
    ("step_pct", "decimals", "low", "high"),
    [
        (0.01, 2, 33.33, 33.34),
        (0.1, 1, 33.3, 33.4),
        (0.5, 1, 33.0, 33.5),
        (1.0, 0, 33.0, 34.0),
        (5.0, 0, 30.0, 35.0),
    ],
)
def test_a_share_has_as_many_decimals_as_its_step(
    step_pct: float, decimals: int, low: float, high: float
) -> None:
    """A third of the whole, down and up."""
    whole = Whole(3.0, step_pct)
    for up, value in ((False, low), (True, high)):
        found = as_share(ENTRY, whole, up=up)
        assert (found.value, found.decimals, found.unit) == (value, decimals, "%")
        assert found.u == pytest.approx(1.0 / 3.0)
        assert found.expanded == pytest.approx(2.0 / 3.0)


@pytest.mark.parametrize("up", [False, True])
def test_a_whole_step_stays_that_step_and_no_value_stays_none(up: bool) -> None:
    """Whatever the last digit of the arithmetic says."""
    for volts, share in ((0.3, 6.0), (0.7, 14.0), (1.1, 22.0)):
        entry = msgspec.structs.replace(ENTRY, value=volts, u=None, expanded=None)
        found = as_share(entry, Whole(5.0, 0.1), up=up)
        assert (found.value, found.u, found.expanded) == (share, None, None)
    empty = as_share(msgspec.structs.replace(ENTRY, value=None), Whole(5.0, 0.1), up=up)
    assert (empty.value, empty.unit) == (None, "%")


SCALE = (
    "[channels.grip.scale]\ngain = 1.0\noffset_V = 0.0\nu_gain = 0.001\nu_offset_V = 0.001\n"
    'cov = 0.0\ndate = "2026-03-01"\n'
)


@pytest.mark.parametrize(
    ("unit", "more", "step", "whole"),
    [
        ("share", "reference_V = 5.0\n", "0.5", Whole(5.0, 0.5)),
        ("percent", "reference_V = 5.0\n", "0.5", Whole(5.0, 0.5)),
        ("share", "reference_V = 5.0\ndivider = 2.0\n", "1.0", Whole(10.0, 1.0)),
        ("share", "reference_V = 5.0\n", None, None),
        ("V", "reference_V = 5.0\n", "0.5", None),
        ("share", "reference_V = 5.0\n" + SCALE, "0.5", None),
    ],
)
def test_a_share_is_of_the_reference_where_the_controller_takes_shares(
    unit: str, more: str, step: str | None, whole: Whole | None
) -> None:
    """A trued scale is one of volts, and then it stays in volts."""
    rig = "" if step is None else f"setting_step_pct = {step}\n"
    text = f'[rig]\n{rig}[channels.grip]\nrole = "control"\ncolumn = "a0"\nunit = "{unit}"\n{more}'
    assert whole_of(read_rig(Path("rig.toml"), text.encode()), "grip") == whole


def _verified(
    folder: Path, shown: Answers, document: TravelDocument | None = None
) -> VerifyDocument:
    here = bench(folder)
    here.keep(document or travel(), "grip")
    return verify(here.filed, "grip", replace(shown, creep="still"))


def _found(document: VerifyDocument, code: str) -> list[Finding]:
    return [each for each in document.findings if each.code == code]


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize(("off_V", "good"), [(0.001, True), (0.0, False), (-0.02, False)])
def test_rest_is_short_of_the_start_and_full_travel_beyond_the_end(
    tmp_path: Path, turned: bool, off_V: float, good: bool
) -> None:
    """On the controller's own display, by how much either way round."""
    way = -1.0 if turned else 1.0
    document = travel(rest_V=3.72, full_V=0.81, start_V=3.6, end_V=0.87) if turned else travel()
    start_V, end_V = 2.0, 3.0
    shown = Answers(start_V - way * off_V, end_V + way * off_V, start_V, end_V)
    found = _verified(tmp_path, shown, document)
    for code in ("rest-before-start", "full-beyond-end"):
        (each,) = _found(found, code)
        assert each.severity is (Severity.PASS if good else Severity.FAIL)
        assert each.value == pytest.approx(off_V)
        assert each.limit == 0.0
        assert f"by {abs(off_V):.3f} V" in each.text
        assert "drive" in each.text


@pytest.mark.parametrize(
    "read",
    [
        Answers(None, 3.72, 0.93, 3.66),
        Answers(0.81, None, 0.93, 3.66),
        Answers(0.81, 3.72, None, 3.66),
        Answers(0.81, 3.72, 0.93, None),
    ],
)
def test_each_figure_has_to_be_read(tmp_path: Path, read: Answers) -> None:
    """What was read is compared all the same."""
    document = _verified(tmp_path, read)
    assert [each.severity for each in _found(document, "not-read")] == [Severity.UNKNOWN]
    assert len(document.comparisons) == 3
    assert _found(document, "rest-before-start") == []


def test_what_the_controller_shows_is_told_with_how_far_it_is_off(tmp_path: Path) -> None:
    """Shown less expected: of a setting that was not taken, and of a level."""
    document = _verified(tmp_path, Answers(0.84, 3.72, 0.95, 3.66))
    start, end = sorted(_found(document, "setting-shown"), key=lambda each: each.text)[::-1]
    values = {each.severity: each for each in (start, end)}
    assert values[Severity.FAIL].value == pytest.approx(0.02)
    assert values[Severity.FAIL].limit == pytest.approx(0.005)
    assert values[Severity.PASS].value == pytest.approx(0.0)
    level = next(e for e in _found(document, "level-shown") if e.severity is Severity.CAUTION)
    assert level.value == pytest.approx(0.03)
    assert "+0.030 V from what the logger measured" in level.text
    assert _found(document, "wire-changed") == []
    creep = _found(document, "creep")
    assert "for 10 s" in creep[0].text


def test_the_status_names_what_is_open_and_when_the_rest_was_done(tmp_path: Path) -> None:
    """A caution is told beside the date; a wheel or a tilt sensor that is not there is no step."""
    here = bench(tmp_path, RIG + SCALE)
    here.keep(travel(verdict=Severity.CAUTION), "grip")
    here.keep(travel("lever"), "lever")
    document = status_of(here.filed, ("capture.csv: calib travel grip",))
    steps = {each.name: each for each in document.steps}
    assert steps["travel of grip"].text == "2026-03-01 12:00, with cautions."
    assert steps["travel of lever"].text == "2026-03-01 12:00."
    assert steps["scale of grip"].text == "Trued on 2026-03-01."
    assert steps["scale of grip"].state == "done"
    assert "'calib meter' finds out." in steps["scale of lever"].text
    assert document.next == "calib meter lever"
    assert document.left_over == ("capture.csv: calib travel grip",)
    assert (document.rig, document.verdict) == ("barn mule", Severity.UNKNOWN)


@pytest.mark.parametrize(("start_V", "agrees"), [(0.935, True), (0.925, True), (0.936, False)])
def test_a_setting_agrees_at_half_a_step_whatever_the_last_digit_says(
    tmp_path: Path, start_V: float, agrees: bool
) -> None:
    """A display that shows one digit more may stand just there."""
    document = _verified(tmp_path, Answers(0.81, 3.72, start_V, 3.66))
    start = next(each for each in document.comparisons if each.figure == "start")
    assert start.agrees is agrees


@pytest.mark.parametrize(
    ("stated", "proven", "words"),
    [
        ("", None, "what the controller expects is not noted"),
        ("", "nose-down-positive", "the controller expects nose-down-positive"),
        ('expects = "nose-up-positive"\n', None, "the controller expects nose-up-positive"),
        (
            'expects = "nose-up-positive"\n', "nose-down-positive",
            "the controller expects nose-up-positive",
        ),
    ],
)  # fmt: skip
def test_what_the_controller_expects_stands_beside_a_proven_sign(
    stated: str, proven: Convention | None, words: str
) -> None:
    """As the rig file says it now, else as it was when it was proven."""
    text = f'[channels.p]\nrole = "pitch"\ncolumn = "p"\nunit = "deg"\n[tilt]\n{stated}'
    rig = read_rig(Path("rig.toml"), text.encode())
    signs = SignsDocument(
        verdict=Severity.PASS, pitch_sign=1, convention="nose-up-positive", expects=proven
    )
    filed = Filed(rig, on_file([record_of(signs, tilt=True)]), MARCH)
    entry = next(each for each in make_sheet(filed).entries if each.name == "nose-up reads as")
    assert (entry.state, entry.word) == ("ready", "nose-up-positive")
    assert words in entry.origin


@pytest.mark.parametrize(
    ("sensor", "typed"), [("logger", False), ("controller", True), ("both", True)]
)
def test_a_controller_with_a_sensor_of_its_own_is_asked_what_it_shows(
    sensor: str, typed: bool
) -> None:
    """In the command that gets the zero."""
    text = (
        f'[channels.p]\nrole = "pitch"\ncolumn = "p"\nunit = "deg"\n[tilt]\nsensor = "{sensor}"\n'
    )
    filed = Filed(read_rig(Path("rig.toml"), text.encode()), on_file([]), MARCH)
    entry = next(each for each in make_sheet(filed).entries if each.name == "level zero, pitch")
    assert ("--shown-level A --shown-turned A" in entry.origin) is typed


@pytest.mark.parametrize(
    ("decided", "words"), [("limit", "spread of the rest"), ("floor", "least share")]
)
def test_the_start_says_what_decided_it(
    tmp_path: Path, decided: Literal["limit", "floor"], words: str
) -> None:
    """The end has one reason only; and both say over how many presses, and in whose volts."""
    document = travel()
    assert document.dead_band is not None
    band = msgspec.structs.replace(document.dead_band, start_decided_by=decided)
    entries = _entries(tmp_path, msgspec.structs.replace(document, dead_band=band))
    assert entries["drive takes up at"].origin == (
        f"5 presses; the {words} decided; in the logger's volts"
    )
    assert entries["full drive from"].origin == "5 presses; in the logger's volts"


@pytest.mark.parametrize("shown", [True, False])
def test_a_zero_that_is_none_says_why(shown: bool) -> None:
    """It was not typed what a controller with its own sensor shows, or it is of one standing."""
    zero = AxisZeroFigures(reading=0.5, zero=-0.3, u=0.1, u95=0.25)
    document = LevelDocument(
        verdict=Severity.PASS, pitch=zero, method="turned", standings=4,
        shown=zero if shown else None, shown_method="single" if shown else None,
    )  # fmt: skip
    text = '[channels.p]\nrole = "pitch"\ncolumn = "p"\nunit = "deg"\n[tilt]\nsensor = "both"\n'
    rig = read_rig(Path("rig.toml"), text.encode())
    filed = Filed(rig, on_file([record_of(document, tilt=True)]), MARCH)
    entry = next(each for each in make_sheet(filed).entries if each.name == "level zero, pitch")
    assert entry.value is None
    assert ("What the controller shows on the level was not typed." in entry.origin) is not shown
    assert ("It is from a single standing" in entry.origin) is shown
