from __future__ import annotations

import html
import re
from pathlib import Path

import pytest

from calib.checks.travel.judgement import judge_travel
from calib.checks.travel.numbers import TravelSettings
from calib.errors import NoDataError
from calib.show.report import DRAWINGS, write_report
from calib.store.capture import read_capture
from calib.store.records import supersede
from tests.unit.evidence import NOON, Bench, bench, pressed, write_capture


def measured(folder: Path) -> tuple[Bench, Path]:
    """A bench whose grip was measured from a capture on disk."""
    here = bench(folder)
    path = write_capture(here, pressed())
    document = judge_travel(read_capture(path), here.rig, "grip", TravelSettings(), ("Mind it.",))
    here.keep(document, "grip")
    return here, path


def page_of(here: Bench) -> str:
    """The report as text."""
    path = write_report(here.folder, here.filed, here.folder / "report.html")
    return path.read_text(encoding="utf-8")


def test_the_report_gives_values_plots_cautions_and_provenance(tmp_path: Path) -> None:
    """Settings, a signal, a histogram, a ruler, the caution and the capture's hash are there."""
    here, path = measured(tmp_path)
    page = html.unescape(page_of(here))
    for words in (
        "drive takes up at",
        "Signal of grip against time",
        "Readings of grip at rest",
        "Travel in volts",
        "Mind it.",
        read_capture(path).sha256,
        here.rig.sha256,
    ):
        assert words in page


def test_what_was_not_measured_has_no_number_in_the_report(tmp_path: Path) -> None:
    """The lever was never measured, and the sheet in the report says so."""
    here, _ = measured(tmp_path)
    page = page_of(here)
    rows = re.findall(r"<tr><th scope=\"row\">lever: .*?</tr>", page)
    assert len(rows) == 4
    for row in rows:
        assert "not measured" in row
        assert not re.search(r"\d\.\d+ V", row)


def test_the_policy_names_the_one_style_and_nothing_else(tmp_path: Path) -> None:
    """No script, no inline style, no address of any other place."""
    here, _ = measured(tmp_path)
    page = page_of(here)
    assert "default-src 'none'; style-src 'sha256-" in html.unescape(page)
    assert "<script" not in page
    assert " style=" not in page
    assert not re.search(r"(?:src|href)=\"(?!#)", page)
    assert "http://" not in page.replace("http://www.w3.org", "")


@pytest.mark.parametrize(
    ("change", "words"), [("delete", "no longer on disk"), ("edit", "changed")]
)
def test_a_capture_that_is_gone_or_changed_is_not_drawn(
    tmp_path: Path, change: str, words: str
) -> None:
    """The record still stands in the report; its signal does not, and the page says why."""
    here, path = measured(tmp_path)
    if change == "delete":
        path.unlink()
    else:
        path.write_bytes(path.read_bytes() + b"99,99,1,1\r\n")
    page = page_of(here)
    assert words in page
    assert "Signal of grip against time" not in page


def test_a_folder_that_was_moved_is_still_drawn(tmp_path: Path) -> None:
    """Captures are found by name beside the records, wherever the folder lies now."""
    old = tmp_path / "old"
    old.mkdir()
    measured(old)
    moved = old.rename(tmp_path / "new")
    assert "Signal of grip against time" in page_of(Bench(moved))


def test_a_superseded_record_is_listed_with_its_reason_and_not_shown(tmp_path: Path) -> None:
    """Evidence is never deleted, and never counts once it was taken back."""
    here, _ = measured(tmp_path)
    record = here.filed.records[0]
    supersede(tmp_path, record.id, "the cable was caught", now=NOON)
    page = page_of(here)
    assert "superseded: the cable was caught" in page
    assert "Signal of grip against time" not in page


def test_an_empty_folder_gives_a_report_that_claims_nothing(tmp_path: Path) -> None:
    """Nothing measured: the page is whole and its verdict is UNKNOWN."""
    page = page_of(bench(tmp_path))
    assert "UNKNOWN" in page
    assert "v-pass" not in page.split("</style>")[1]


def test_a_place_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    """The error names the file and the way out."""
    here = bench(tmp_path)
    (tmp_path / "wall").write_text("x", encoding="utf-8")
    with pytest.raises(NoDataError, match="cannot be written"):
        write_report(tmp_path, here.filed, tmp_path / "wall" / "report.html")


def test_the_drawings_of_the_wiring_are_in_the_report(tmp_path: Path) -> None:
    """Isolation, pins, tap, divider and ground, in the page's own style."""
    page = page_of(bench(tmp_path))
    for name in DRAWINGS:
        assert f'id="{name}-t"' in page
    assert page.count("<style>") == 1
