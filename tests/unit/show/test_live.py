from __future__ import annotations

from dataclasses import replace

import pytest

from calib.guide.cautions import FOOTER
from calib.guide.protocols import Hold, Live, Reading, Step
from calib.show.glyphs import half_large, large
from calib.show.live import live_page

PRESS = Step(
    "press", "all the way", done=2, wanted=5, needs=("full presses",), control="throttle"
)  # fmt: skip
SIZES = [(80, 24), (40, 12), (132, 50), (80, 12), (40, 24)]


def rows(live: Live, size: tuple[int, int] = (80, 24), *, flash: bool = False) -> list[str]:
    """The page on a terminal, a plain one of 80 by 24 unless said."""
    return [line.cropped(size[0]).plain for line in live_page(live, size, flash=flash)]


def reading(age_s: float = 0.0, name: str = "throttle", unit: str = "V") -> Reading:
    """A control in the middle of its travel."""
    return Reading(name, 2.31, unit, low=0.81, high=3.7, age_s=age_s)


def test_control_verb_and_count_are_the_largest_words() -> None:
    """THROTTLE PRESS 2/5 in five rows, readable from two metres."""
    shown = rows(Live(step=PRESS, readings=(reading(),)))
    loud = large("throttle press 2/5", 78)
    assert len(loud) == 5
    assert [row.strip() for row in shown[:5]] == [row.strip() for row in loud]


def test_a_long_name_gives_way_to_the_verb() -> None:
    """Where both do not fit in large letters the name stands in a row of its own."""
    named = replace(PRESS, control="throttle_of_the_left")
    shown = rows(Live(step=named, readings=(reading(),)))
    assert shown[0].strip() == "THROTTLE_OF_THE_LEFT"
    assert [row.strip() for row in shown[1:6]] == [row.strip() for row in large("press 2/5", 78)]


def test_in_which_way_and_what_is_left_are_large_too() -> None:
    """Slowly, and the rest of a hold, stand under the verb in letters of three rows."""
    for step, words in (
        (replace(PRESS, how="slowly"), "slowly"),
        (replace(PRESS, verb="hold", hold=Hold(0.4, 1.0)), "0.6 s"),
    ):
        shown = rows(Live(step=step, readings=(reading(),)))
        second = half_large(words, 78)
        assert len(second) == 3
        assert [row.strip() for row in shown[5:8]] == [row.strip() for row in second]


def test_a_hold_is_a_row_that_fills() -> None:
    """What is left of it is written beside it."""
    step = replace(PRESS, verb="hold", hold=Hold(0.25, 1.0))
    (row,) = [row for row in rows(Live(step=step)) if "left" in row]
    assert "0.8 of 1.0 s left" in row
    assert 0.2 < row.count("█") / (row.count("█") + row.count("░")) < 0.3


def test_the_wrong_control_is_the_loudest_word() -> None:
    """NOT REGEN in the large line, reversed; what is asked for stays under it."""
    step = replace(PRESS, instead="regen")
    shown = rows(Live(step=step, readings=(reading(),)))
    assert [row.strip() for row in shown[:5]] == [row.strip() for row in large("not regen", 78)]
    under = half_large("throttle press 2/5", 78)
    assert [row.strip() for row in shown[5:8]] == [row.strip() for row in under]


def test_the_step_is_counted_among_all() -> None:
    """Step X of N stands at the end of the detail's row, however narrow the terminal."""
    for size in SIZES:
        text = "\n".join(rows(Live(replace(PRESS, place=(3, 7)), (reading(),)), size))
        assert "step 3 of 7" in text


def test_the_time_that_is_left_is_shown() -> None:
    """Before a flow ends as broken off the page says so."""
    text = "\n".join(rows(Live(replace(PRESS, left_s=12.0), (reading(),))))
    assert "12 s left" in text


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("count", [1, 2, 5, 9, 30])
def test_the_page_fits_whatever_it_shows(count: int, size: tuple[int, int]) -> None:
    """Many channels give way; verb, control, count and a value never do."""
    readings = tuple(reading(name=f"channel {number}", unit="deg") for number in range(count))
    shown = rows(Live(replace(PRESS, how="slowly", hold=Hold(0.2, 1.0)), readings), size)
    assert len(shown) < size[1]
    assert max(map(len, shown)) <= min(size[0], 80)
    assert "channel 0" in "\n".join(shown)


def test_a_plain_terminal_shows_footer_and_needs() -> None:
    """On 80 by 24 nothing has to give way."""
    text = "\n".join(rows(Live(step=PRESS, readings=(reading(),))))
    assert FOOTER in text
    assert "! full presses" in text


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


def test_what_is_no_number_is_said_in_a_word() -> None:
    """A switch is OFF in the letters in which a voltage stands."""
    live = Live(Step("press", control="brake"), (replace(reading(name="brake"), words="off"),))
    assert any(large("off", 78)[0] in row for row in rows(live))


def test_a_count_flashes_the_verb() -> None:
    """The screen changes too, for bells are often muted."""
    first = live_page(Live(step=PRESS), flash=True)[0]
    assert "\x1b[1;7m" in first.ansi(colour=False)
