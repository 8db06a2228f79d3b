"""Cautions stand before the flow: in full once an evening, then in one line."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import msgspec
import pytest

from calib.cli.explain import page
from calib.cli.flow import now
from calib.cli.session import ask_isolation
from calib.guide import cautions
from calib.guide.cautions import CONTROL_CAUTIONS, TILT_CAUTIONS, isolation_card
from calib.guide.protocols import Card, Live, Sound
from tests.unit.evidence import Bench, bench, travel


class Reader:
    """A person who keeps the card that was shown."""

    def __init__(self) -> None:
        """Nothing shown yet."""
        self.card: Card | None = None

    def confirm_isolation(self, card: Card) -> None:
        """Keep it."""
        self.card = card

    def show(self, live: Live) -> None:
        """Nothing is shown here."""

    def sound(self, sound: Sound) -> None:
        """Nothing is heard here."""

    def leave_page(self) -> None:
        """There is no page."""

    def entered(self) -> bool:
        """No key is hit here."""
        return False

    def wait_until_ready(self, prompt: str) -> None:
        """Nothing is waited for here."""

    def answer(self, question: str, *, default: str | None = None) -> str:
        """Nothing is asked here."""
        raise AssertionError(question, default)


def shown(here: Bench, lines: tuple[str, ...]) -> tuple[str, ...]:
    """What the card of a flow with these cautions says."""
    reader = Reader()
    ask_isolation(here.rig, reader, isolation_card("work it", lines))
    assert reader.card is not None
    assert reader.card.word == "isolated"  # the word is asked for each time
    return reader.card.lines


def after_a_travel(folder: Path, hours: float) -> Bench:
    """A bench on which a travel with its cautions was judged so many hours ago."""
    here = bench(folder)
    here.now = now() - timedelta(hours=hours)
    here.keep(msgspec.structs.replace(travel(), cautions=CONTROL_CAUTIONS), "grip")
    return here


def test_the_first_flow_shows_them_in_full(tmp_path: Path) -> None:
    """Nothing on file: every sentence is there."""
    assert shown(bench(tmp_path), CONTROL_CAUTIONS) == CONTROL_CAUTIONS


def test_later_that_evening_one_line_says_how_to_read_them_again(tmp_path: Path) -> None:
    """The same cautions, an hour later."""
    (line,) = shown(after_a_travel(tmp_path, 1), CONTROL_CAUTIONS)
    assert "calib explain cautions" in line


@pytest.mark.parametrize(("hours", "lines"), [(1, TILT_CAUTIONS), (20, CONTROL_CAUTIONS)])
def test_other_cautions_and_another_day_are_shown_in_full(
    tmp_path: Path, hours: float, lines: tuple[str, ...]
) -> None:
    """Having read what a control needs says nothing of moving the machine, nor of tomorrow."""
    assert shown(after_a_travel(tmp_path, hours), lines) == lines


def test_the_page_to_read_again_holds_every_caution() -> None:
    """No sentence of any flow is missing on the page that the line names."""
    said = page("cautions")
    groups = [value for value in vars(cautions).values() if isinstance(value, tuple)]
    assert len(groups) > 8
    for line in (line for group in groups for line in group):
        assert line in said or line == cautions.DEFER
