from __future__ import annotations

import io

import pytest

from calib.guide.protocols import Reading
from calib.guide.watching import Trace, View
from calib.show.ruler import Ruler, Zone
from calib.show.scales import scale_of
from calib.show.screen import plain_lines
from calib.show.watch import WatchEvents, watch_page
from calib.store.rig import Channel

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


CONTROL = Channel(role="control", column="a0", unit="V")
THERMISTOR = Channel(
    role="temperature", column="a1", unit="V", ntc_R25_ohm=10_000, ntc_beta_K=3950,
    pullup_ohm=10_000, pullup_V=5.0,
)  # fmt: skip
SWITCH = Channel(role="switch", column="a2", unit="V", active="low", threshold_V=2.5)
PITCH = Channel(role="pitch", column="a3", unit="deg")


def reading(name: str, value: float | None, age_s: float = 0.0) -> Reading:
    """One channel's reading, seen between 1 and 4 V."""
    return Reading(name, value, "V", 1.0, 4.0, age_s)


def page(
    *readings: Reading,
    big: str | None = None,
    rulers: bool = True,
    channel: Channel = CONTROL,
    recent: tuple[float, ...] = (1.0, 4.0, 2.5),
    size: tuple[int, int] = (80, 24),
) -> list[str]:
    """The page's rows as plain text."""
    view = View(
        traces=tuple(Trace(each, recent) for each in readings),
        samples=1234,
        rejected_lines=2,
        gaps=1,
        resets=0,
        rate_hz=100.0,
        elapsed_s=12.3,
    )
    scales = {each.channel: scale_of(channel) for each in readings}
    lines = watch_page(view, scales, {"throttle": RULER} if rulers else {}, big, size)
    return [line.plain for line in lines]


@pytest.mark.parametrize("channels", [1, 4, 10, 30])
@pytest.mark.parametrize("big", [None, "c0"])
def test_it_fits_a_plain_terminal(channels: int, big: str | None) -> None:
    """80 by 24, whatever the rig; what does not fit is said to be hidden."""
    rows = page(*(reading(f"c{number}", 2.0) for number in range(channels)), big=big)
    assert len(rows) <= 23
    assert max(map(len, rows)) <= 80
    if channels == 30 and big is None:
        assert any("more rows" in row for row in rows)


@pytest.mark.parametrize("width", [50, 62, 79])
def test_what_was_counted_is_told_whole_on_a_narrow_terminal(width: int) -> None:
    """It goes on in the next row, as the cautions do."""
    rows = page(reading("grip", 2.5), size=(width, 24))
    foot = " ".join(" ".join(rows[2:]).split())
    assert "12 s 100.0 Hz, 1234 samples, 2 rejected lines, 1 gap, 0 restarts" in foot
    assert max(map(len, rows[2:])) < width


def test_the_dead_band_is_drawn_where_it_is_known() -> None:
    """The value's arrow stands in the zones of the last good travel."""
    bar = page(reading("throttle", 2.5))[2]
    assert bar[1] == "x"
    assert "·" in bar
    assert "█▲█" in bar
    assert bar.index("▲") == pytest.approx(1 + 0.5 * 77, abs=1)


def test_the_scale_stands_still_and_its_ends_are_labelled() -> None:
    """Whatever was seen, a control's scale goes from 0 to its supply."""
    places = []
    for low in (1.0, 2.4):
        row = page(Reading("grip", 2.5, "V", low, 4.0), recent=(low, 2.5))[1]
        start, end = row.index(" 0 ") + 3, row.index(" 5 ")
        places.append((row.index("▲") - start) / (end - start - 1))
    assert places == pytest.approx([0.5, 0.5], abs=0.03)


def test_the_two_figures_at_the_right_are_named() -> None:
    """Over them stands what they are."""
    head, row = page(reading("grip", 2.5))[:2]
    assert head.split()[-2:] == ["lowest", "highest"]
    assert row.split()[-2:] == ["1.000", "4.000"]


def test_what_moved_stands_out_and_what_rests_stands_still() -> None:
    """A mark for who moved; noise about one value shows one and the same row."""
    moving = page(reading("grip", 2.5), recent=(1.0, 4.0))[1]
    assert moving.startswith("»grip")
    assert "━" in moving
    noise = (1.10, 1.11, 1.10, 1.11)
    rests = {page(reading("grip", value), recent=noise)[1] for value in (1.10, 1.11)}
    assert len(rests) == 1
    assert "»" not in rests.pop()


def test_temperatures_are_in_degrees_and_switches_in_words() -> None:
    """Nobody reads a thermistor's volts; low volts are a hot one, so the extremes change places."""
    warm = page(Reading("motor", 2.5, "V", 2.0, 3.0), channel=THERMISTOR, recent=(2.5, 2.5))[1]
    assert "25.0 degC" in warm
    assert " -20 " in warm
    assert " 150 " in warm
    low, high = (float(word) for word in warm.split()[-2:])
    assert low < 25.0 < high
    for volts, word in ((0.1, "on"), (4.9, "off")):
        row = page(reading("brake", volts), channel=SWITCH, recent=(volts,))[1]
        assert row.split()[1] == word


def test_a_value_beyond_the_scale_points_out_of_it() -> None:
    """No arrow is drawn where the value is not."""
    assert "►" in page(Reading("pitch", 44.0, "deg"), channel=PITCH, recent=(44.0,))[1]
    assert "◄" in page(Reading("pitch", -44.0, "deg"), channel=PITCH, recent=(-44.0,))[1]


def test_a_dead_line_looks_dead() -> None:
    """A value that is no longer fresh is not shown as a value."""
    rows = page(reading("throttle", 2.5, age_s=3.0), rulers=False)
    assert "NO DATA for 3.0 s" in rows[1]
    assert "2.500" not in rows[1]
    assert "██" in page(reading("throttle", 2.5, age_s=3.0), big="throttle")[2]
    for big in (None, "throttle"):
        rows = page(reading("throttle", 2.5, age_s=3.0), big=big)
        assert not any("▲" in row for row in rows if "last 6 s" not in row)


def test_one_channel_is_shown_in_figures_of_ten_rows() -> None:
    """Readable from three metres."""
    rows = page(reading("throttle", 2.5), big="throttle")
    tall = [row for row in rows if "████" in row and "▓" not in row]
    assert len(tall) == 10


def test_a_hostile_name_cannot_break_the_page() -> None:
    """Escape sequences in a channel's name are shown, not obeyed."""
    assert not any("\x1b" in row for row in page(reading("a\x1b[2Jb", 2.0), rulers=False))


@pytest.mark.parametrize("big", [None, "grip"])
def test_in_a_small_window_name_and_value_stay_readable(big: str | None) -> None:
    """40 by 12: what gives way is the scale, not what is read."""
    rows = page(reading("grip", 2.5), reading("lever", 1.5), big=big, size=(40, 12))
    assert len(rows) <= 11
    shown = " ".join(row[:39] for row in rows)
    assert "grip" in shown
    assert ("██" if big else "2.500 V") in shown


def lines(*values: tuple[float, ...], age_s: float = 0.0) -> list[str]:
    """What is written of a control whose last seconds were these, one view after the other."""
    file = io.StringIO()
    write = WatchEvents({"grip": scale_of(CONTROL)}, [plain_lines(file)])
    for recent in values:
        trace = Trace(reading("grip", recent[-1], age_s), recent)
        write(View((trace,), 10, 0, 0, 0, 100.0, 1.0))
    return file.getvalue().splitlines()


def test_a_watch_without_a_page_says_who_moves_and_where_it_rests() -> None:
    """One line an event: what goes on as it was is not said again."""
    assert lines((1.1, 1.1), (1.1, 1.11), (1.1, 2.5), (2.5, 4.0), (1.1, 1.1)) == [
        "  grip: 1.100 V.",
        "  grip: moves.",
        "  grip: 1.100 V, went through 1.100 V to 4.000 V.",
    ]


def test_a_watch_without_a_page_says_that_no_data_comes() -> None:
    """Once, and no value that is no longer fresh."""
    assert lines((2.5,), (2.5,), age_s=3.0) == ["  grip: no data."]
