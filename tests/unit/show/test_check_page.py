from __future__ import annotations

import io

import pytest

from calib.show.console import Screen
from calib.show.history import show_history
from calib.show.views import show_view
from calib.store.documents.check import (
    ChannelCheck,
    CheckDocument,
    CheckFigures,
    CheckLevel,
    PulledWire,
)
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.printed import (
    Comparison,
    DriftFigures,
    DriftPoint,
    HistoryDocument,
    HistoryEntry,
)

HOSTILE = "thr\x1b[31mottle\u202e" + "x" * 60


def _level(mean: float) -> CheckLevel:
    return CheckLevel(mean=mean, sd=0.001, u=0.001, stays=3)


def _shown(document: CheckDocument | HistoryDocument) -> str:
    file = io.StringIO()
    screen = Screen(file, is_terminal=False)
    if isinstance(document, CheckDocument):
        show_view(document, screen)
    else:
        show_history(document, screen)
    return file.getvalue()


def _check(name: str = "throttle") -> CheckDocument:
    cause = Finding(
        code="supply-dips", severity=Severity.CAUTION, text="The supply dips.", value=11.0,
        limit=2.0, unit="%", action="Mend it.", channel="rail",
    )  # fmt: skip
    after = Finding(
        code="rest-moved", severity=Severity.FAIL, text="It moved.", channel=name,
        action="May follow from 'supply-dips' of rail: mend that first, then check again.",
    )  # fmt: skip
    figures = CheckFigures(unit="V", rest=_level(1.0), full=_level(4.0), return_s=0.12)
    return CheckDocument(
        verdict=Severity.FAIL,
        findings=(cause, after),
        channels={
            name: ChannelCheck(
                verdict=Severity.FAIL, role="control", findings=(after,), figures=figures
            ),
            "lever": ChannelCheck(verdict=Severity.PASS, role="control", figures=figures),
        },
        cannot_see=("At 50 Hz little can be seen.",),
    )


def test_the_cause_comes_before_what_follows_from_it() -> None:
    """Even where what follows is worse: the first finding is the one to mend."""
    page = _shown(_check())
    assert page.index("The supply dips.") < page.index("It moved.")
    assert "11 %, limit 2 %" in page


def test_every_channel_has_its_verdict_and_its_figures_or_what_is_odd() -> None:
    """A row a channel."""
    page = _shown(_check())
    assert "FAIL     throttle     rest moved" in page
    assert "PASS     lever        1.000 to 4.000 V   back in 0.12 s" in page
    assert "WHAT THIS LOGGER CANNOT SEE" in page


def test_pulled_wires_are_shown_with_whose_reading_it_is() -> None:
    """The logger's and the controller's are told apart."""
    found = Finding(code="broken-ground-safe", severity=Severity.PASS, text="Safe.")
    channel = ChannelCheck(verdict=Severity.PASS, role="control", findings=(found,))
    pulled = (
        PulledWire(wire="ground", low=4.8, high=4.9, settle_s=0.0, inside=0, samples=500),
        PulledWire(
            wire="signal", low=0.0, high=0.0, settle_s=0.0, inside=0, samples=1, basis="controller"
        ),
    )
    page = _shown(
        CheckDocument(verdict=Severity.PASS, channels={"throttle": channel}, pulled=pulled)
    )
    assert "ground       4.800 to 4.900 V  logger" in page
    assert "controller's display" in page
    assert "every pulled wire reads outside the travel" in page


@pytest.mark.parametrize("kind", ["check", "history"])
def test_a_hostile_name_is_neutral_and_the_page_keeps_its_width(kind: str) -> None:
    """No escape sequence reaches the terminal, no line is longer than eighty columns."""
    document: CheckDocument | HistoryDocument = _check(HOSTILE)
    if kind == "history":
        point = DriftPoint(made_at="2026-03-01T12:00:00+00:00", value=1.2, u=0.001)
        document = HistoryDocument(
            verdict=Severity.PASS,
            records=(
                HistoryEntry(
                    id="r" * 70, made_at="2026-03-01T12:00:00+00:00", command="check",
                    verdict=Severity.PASS, condition=HOSTILE, superseded=HOSTILE,
                ),
            ),
            drifts=(
                DriftFigures(
                    channel=HOSTILE, figure="rest", unit="V", points=(point, point), low=0.9,
                    high=1.1,
                ),
            ),
            compared=(
                Comparison(channel=HOSTILE, first="a" * 60, second="b" * 60, rest_shift=0.1),
            ),
        )  # fmt: skip
    page = _shown(document)
    assert "\x1b" not in page
    assert "\u202e" not in page
    assert max(len(line) for line in page.splitlines()) <= 80


def test_a_figure_beyond_its_limits_points_out_of_the_strip() -> None:
    """A drift that left its limits is drawn at the edge that it left by."""
    points = tuple(
        DriftPoint(made_at=f"2026-03-0{day}T12:00:00+00:00", value=value, u=0.001)
        for day, value in ((1, 1.0), (2, 1.05), (3, 1.2))
    )
    drift = DriftFigures(
        channel="throttle", figure="rest", unit="V", points=points, low=0.9, high=1.1,
        per_day=0.1, u_per_day=0.001, expanded_per_day=0.0127, sure=True, leaves_in_days=0.0,
    )  # fmt: skip
    page = _shown(HistoryDocument(verdict=Severity.CAUTION, records=(), drifts=(drift,)))
    assert "> " in page
    assert "outside its limits" in page
    assert "Nothing is on file yet." in page
