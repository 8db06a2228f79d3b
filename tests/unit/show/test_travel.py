from __future__ import annotations

import io

from calib.show.console import StdoutScreen
from calib.show.travel import show_travel
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.travel import DeadBand, FaultWindow, TravelDocument
from tests.unit.evidence import level


def printed(document: TravelDocument, height: int = 24) -> list[str]:
    """The lines on an 80 by 24 screen without colour."""
    file = io.StringIO()
    console = StdoutScreen(file, is_terminal=True, height=height)
    show_travel(document, console)
    return file.getvalue().splitlines()


DOCUMENT = TravelDocument(
    verdict=Severity.CAUTION,
    channel="throttle",
    presses=5,
    rest=level(0.81),
    full=level(3.72),
    dead_band=DeadBand(start=0.93, end=3.66, dead_travel_pct=6.2),
    fault_window=FaultWindow(low=0.41, high=4.3),
    findings=(
        Finding(
            code="b",
            severity=Severity.CAUTION,
            text="The rest moved by 12 mV between presses, more than the noise explains.",
            action="Look at the return spring.",
        ),
        Finding(code="a", severity=Severity.PASS, text="It springs back in 0.2 s."),
    ),
    cautions=("A caution.",) * 6,
)


def test_one_screen_holds_verdict_values_ruler_and_worst_finding() -> None:
    """The last 23 lines, which stay above the prompt, say all that a glance needs."""
    screen = "\n".join(printed(DOCUMENT)[-23:])
    for words in ("throttle", "drive takes up at", "full drive from", "0.93", "3.66", "hand off"):
        assert words in screen
    assert "logger's volts" in screen
    assert screen.rstrip().endswith("-> Look at the return spring.")


def test_an_unknown_travel_shows_no_number_to_type_in() -> None:
    """Without a dead band the page says NO VALUE in large letters and draws no zone."""
    unknown = TravelDocument(verdict=Severity.UNKNOWN, channel="throttle", rest=level(0.81))
    lines = printed(unknown, height=60)
    assert "drive takes up at" not in "\n".join(lines)
    assert sum("██" in line for line in lines) == 10  # UNKNOWN and NO VALUE, five rows each
