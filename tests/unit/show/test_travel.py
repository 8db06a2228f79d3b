from __future__ import annotations

import io

import msgspec
import pytest

from calib.show.console import Screen
from calib.show.views import show_view
from calib.store.acts import Acts
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.travel import DeadBand, FaultWindow, TravelDocument
from tests.unit.evidence import level


def printed(document: TravelDocument, height: int = 24) -> list[str]:
    """The lines on an 80 by 24 screen without colour."""
    file = io.StringIO()
    console = Screen(file, is_terminal=True, height=height)
    show_view(document, console)
    return file.getvalue().splitlines()


DOCUMENT = TravelDocument(
    verdict=Severity.CAUTION,
    channel="throttle",
    acts="drive",
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


@pytest.mark.parametrize("verdict", [Severity.UNKNOWN, Severity.FAIL])
def test_without_a_good_verdict_the_cause_comes_first_and_no_number_is_to_be_typed(
    verdict: Severity,
) -> None:
    """The first line under the verdict is the cause, the next what to do; no value, no ruler.

    Even where the document still holds a dead band, as a record of long ago may.
    """
    cause = Finding(code="c", severity=verdict, text="It sticks.", action="Free the cable.")
    bad = msgspec.structs.replace(DOCUMENT, verdict=verdict, findings=(cause, *DOCUMENT.findings))
    lines = printed(bad, height=60)
    assert lines[6].endswith("It sticks.")
    assert lines[7].strip() == "-> Free the cable."
    page = "\n".join(lines)
    for words in ("0.93", "3.66", "0.41", "4.30", "takes up", "hand off"):
        assert words not in page
    assert sum("██" in line for line in lines) == 5  # the verdict's five rows and nothing else
    assert "  rest         0.810 V" in page  # what is known all the same, in small print


@pytest.mark.parametrize(
    ("acts", "words"),
    [
        ("drive", ("drive takes up at", "full drive from", " drive ")),
        ("brake", ("braking starts at", "full braking from", " braking ")),
        (None, ("takes up at", "full from", " in use ")),
    ],
)
def test_a_control_is_worded_by_what_it_does(acts: Acts | None, words: tuple[str, ...]) -> None:
    """A lever that brakes never reads as one that drives, and what nobody stated is not guessed."""
    page = "\n".join(printed(msgspec.structs.replace(DOCUMENT, acts=acts), height=60))
    for word in (*words, "hand off", "end of travel"):
        assert word in page
    assert ("drive takes up" in page) is (acts == "drive")
    assert ("is not stated" in page) is (acts is None)


def test_what_was_taken_from_the_name_is_called_assumed() -> None:
    """The page says so in words."""
    assumed = msgspec.structs.replace(DOCUMENT, acts="brake", acts_assumed=True)
    assert "that it brakes is assumed from its name" in "\n".join(printed(assumed, height=60))
