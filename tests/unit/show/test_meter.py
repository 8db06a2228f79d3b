from __future__ import annotations

import io

import msgspec

from calib.show.console import Screen
from calib.show.glyphs import large
from calib.show.views import show_view
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.meter import MeterDocument

TRUED = MeterDocument(
    verdict=Severity.PASS,
    channel="throttle",
    gain=1.0055,
    offset_V=-0.008,
    from_V=1.12,
    to_V=4.07,
    findings=(Finding(code="trued", severity=Severity.PASS, text="Trued.", value=0.008, unit="V"),),
)


def printed(document: MeterDocument) -> list[str]:
    """The lines on an 80 by 24 screen without colour."""
    file = io.StringIO()
    show_view(document, Screen(file, is_terminal=True, height=24))
    return file.getvalue().splitlines()


def test_the_large_figure_is_how_well_the_volts_are_known_now() -> None:
    """Not gain and offset, which nobody types: they are small print."""
    rows = printed(TRUED)
    label = next(index for index, row in enumerate(rows) if "trued, at 2.6 V" in row)
    assert large("±16 mV", 77)[0] in rows[label + 1]
    assert any("1.0055" in row for row in rows[label + 6 :])


def test_what_is_not_trued_has_no_large_figure() -> None:
    """Under unknown stands the cause, and no number in large letters."""
    unknown = msgspec.structs.replace(TRUED, verdict=Severity.UNKNOWN)
    assert not any("trued, at" in row for row in printed(unknown))
