from __future__ import annotations

import io

import pytest
from rich.console import Console

from calib.guide.protocols import Reading
from calib.guide.watching import Trace, View
from calib.show.ruler import Ruler, Zone
from calib.show.watch import watch_page

RULER = Ruler(
    zones=(
        Zone("broken wire", 0.0, 0.5),
        Zone("hand off", 0.5, 1.1),
        Zone("drive", 1.1, 4.0),
        Zone("end of travel", 4.0, 4.5),
        Zone("broken wire", 4.5, 5.0),
    ),
    marks_V=(1.1, 4.0),
)


def reading(name: str, value: float | None, age_s: float = 0.0) -> Reading:
    """One channel's reading between 1 and 4 V."""
    return Reading(name, value, "V", 1.0, 4.0, age_s)


def page(*readings: Reading, big: str | None = None, rulers: bool = True) -> list[str]:
    """The page's rows as plain text."""
    view = View(
        traces=tuple(Trace(each, (1.0, 4.0, 2.5)) for each in readings),
        samples=1234,
        rejected_lines=2,
        gaps=1,
        resets=0,
        rate_hz=100.0,
        elapsed_s=12.3,
    )
    console = Console(file=io.StringIO(), width=80, color_system=None, legacy_windows=False)
    with console.capture() as captured:
        console.print(watch_page(view, {"throttle": RULER} if rulers else {}, big))
    return captured.get().splitlines()


@pytest.mark.parametrize("channels", [1, 4, 10, 30])
@pytest.mark.parametrize("big", [None, "c0"])
def test_it_fits_a_plain_terminal(channels: int, big: str | None) -> None:
    """80 by 24, whatever the rig; what does not fit is said to be hidden."""
    rows = page(*(reading(f"c{number}", 2.0) for number in range(channels)), big=big)
    assert len(rows) <= 23
    assert max(map(len, rows)) <= 80
    if channels == 30 and big is None:
        assert any("more rows" in row for row in rows)


def test_the_dead_band_is_drawn_where_it_is_known() -> None:
    """The value's arrow stands in the zones of the last good travel."""
    bar = page(reading("throttle", 2.5))[1]
    assert bar[1] == "x"
    assert "·" in bar
    assert "█▲█" in bar
    assert bar.index("▲") == pytest.approx(1 + 0.5 * 77, abs=1)


def test_a_dead_line_looks_dead() -> None:
    """A value that is no longer fresh is not shown as a value."""
    rows = page(reading("throttle", 2.5, age_s=3.0), rulers=False)
    assert "NO DATA for 3.0 s" in rows[0]
    assert "2.500" not in rows[0]
    assert "██" in page(reading("throttle", 2.5, age_s=3.0), big="throttle")[2]


def test_one_channel_is_shown_in_figures_of_ten_rows() -> None:
    """Readable from three metres."""
    rows = page(reading("throttle", 2.5), big="throttle")
    tall = [row for row in rows if "████" in row and "▓" not in row]
    assert len(tall) == 10


def test_a_hostile_name_cannot_break_the_page() -> None:
    """Escape sequences in a channel's name are shown, not obeyed."""
    assert not any("\x1b" in row for row in page(reading("a\x1b[2Jb", 2.0), rulers=False))
