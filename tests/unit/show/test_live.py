from __future__ import annotations

import io

import pytest
from rich.console import Console

from calib.guide.cautions import FOOTER
from calib.guide.protocols import Live, Reading, Step
from calib.show.glyphs import large
from calib.show.live import PAGE_ROWS, live_page

PRESS = Step("press", "all the way, hold for a second", done=2, wanted=5, needs=("full presses",))


def rows(live: Live, *, flash: bool = False) -> list[str]:
    """The page on a plain 80 by 24 terminal."""
    file = io.StringIO()
    console = Console(file=file, width=80, height=24, no_color=True)
    console.print(live_page(live, flash=flash))
    return file.getvalue().splitlines()


def reading(age_s: float = 0.0, name: str = "throttle", unit: str = "V") -> Reading:
    """A control in the middle of its travel."""
    return Reading(name, 2.31, unit, low=0.81, high=3.7, age_s=age_s)


def test_the_verb_and_its_count_are_the_largest_words() -> None:
    """PRESS 2/5 in five rows, readable from two metres."""
    shown = rows(Live(step=PRESS, readings=(reading(),)))
    assert [row.strip() for row in shown[:5]] == [row.strip() for row in large("PRESS 2/5", 78)]


@pytest.mark.parametrize("count", [1, 2, 5, 9, 30])
def test_the_page_fits_a_plain_terminal_whatever_it_shows(count: int) -> None:
    """Many channels give way; the verb, the footer and what is needed never do."""
    readings = tuple(reading(name=f"channel {number}", unit="deg") for number in range(count))
    shown = rows(Live(step=PRESS, readings=readings))
    assert len(shown) <= PAGE_ROWS
    assert max(map(len, shown)) <= 80
    text = "\n".join(shown)
    assert FOOTER in text
    assert "still needed: full presses" in text


def test_a_single_control_in_volts_stands_on_a_ruler() -> None:
    """Its arrow is under the bar, the volts that were seen so far are marked."""
    shown = "\n".join(rows(Live(step=PRESS, readings=(reading(),))))
    assert "▲" in shown
    assert "0.81" in shown
    assert "3.70" in shown
    assert "fresh" in shown


@pytest.mark.parametrize(
    "dead", [reading(age_s=1.3), Reading("throttle", None, "V")], ids=["stale", "never"]
)
def test_a_dead_line_looks_dead(dead: Reading) -> None:
    """No old value is shown as if it were live: NO DATA takes its place, in letters as large."""
    shown = rows(Live(step=PRESS, readings=(dead,)))
    text = "\n".join(shown)
    assert "▲" not in text
    assert "fresh" not in text
    assert large("no data", 78)[0].strip() in text
    several = "\n".join(rows(Live(step=PRESS, readings=(dead, reading(name="regen")))))
    assert "NO DATA" in several


def test_the_beat_stands_when_the_logger_stands() -> None:
    """The walking dot follows the logger's clock, not the screen's."""
    first = rows(Live(step=PRESS, readings=(reading(),), elapsed_s=3.0))
    same = rows(Live(step=PRESS, readings=(reading(),), elapsed_s=3.0))
    later = rows(Live(step=PRESS, readings=(reading(),), elapsed_s=3.3))
    assert first == same
    assert first != later


def test_a_count_flashes_the_verb() -> None:
    """The screen changes too, for bells are often muted."""
    file = io.StringIO()
    console = Console(file=file, width=80, force_terminal=True, color_system="standard")
    console.print(live_page(Live(step=PRESS), flash=True))
    assert "\x1b[1;7m" in file.getvalue()
