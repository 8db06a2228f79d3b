from __future__ import annotations

import re

import numpy as np
import pytest

from calib.show.report.plots import Labels, LevelLine, envelope, histogram_plot, signal_plot

LABELS = Labels("d1", "A <title>", "It says.", "volts")


def test_a_single_spike_survives_dropping_points() -> None:
    """A glitch of one sample in a minute at 1 kHz is still drawn."""
    values = np.zeros(60_000)
    values[31_234] = 4.9
    time_s, shown = envelope(np.arange(60_000) / 1e3, values)
    assert len(shown) < 3000
    assert np.nanmax(shown) == pytest.approx(4.9)
    assert time_s[np.nanargmax(shown)] == pytest.approx(31.234)


def test_nothing_is_joined_across_a_gap() -> None:
    """Between the stretches before and after a gap stands a NaN."""
    _, shown = envelope(np.arange(10.0), np.arange(10.0), [4])
    assert np.isnan(shown[4])
    assert shown[3] == pytest.approx(3)
    assert shown[5] == pytest.approx(4)


def test_few_points_are_drawn_as_they_are() -> None:
    """Nothing is dropped where there is nothing to gain."""
    _, shown = envelope(np.arange(50.0), np.arange(50.0))
    assert np.array_equal(shown[:-1], np.arange(50.0))


def test_a_plot_holds_no_style_no_script_and_its_text_as_text() -> None:
    """The page's policy forbids inline style; text stays text for readers and search."""
    shown = signal_plot(
        LABELS,
        np.arange(100) / 10,
        np.sin(np.arange(100)),
        spans=[(0, 1)],
        levels=[LevelLine(0.5, "takes $up$ at <b>")],
    )
    assert "style=" not in shown
    assert "<style" not in shown
    assert "<script" not in shown
    assert "takes $up$ at &lt;b&gt;" in shown
    assert "A &lt;title&gt;" in shown


def test_two_plots_of_one_page_share_no_id() -> None:
    """Each drawing's ids begin with its name, so that no clip of one cuts the other."""
    first = histogram_plot(LABELS, np.arange(50.0), [])
    second = histogram_plot(Labels("d2", "B", "It says.", "volts"), np.arange(50.0), [])
    ids = [set(re.findall(r'id="([^"]+)"', shown)) for shown in (first, second)]
    assert ids[0]
    assert not ids[0] & ids[1]
    for shown in (first, second):
        used = set(re.findall(r'url\(#([^)]+)\)|href="#([^"]+)"', shown))
        known = set(re.findall(r'id="([^"]+)"', shown))
        assert {part for pair in used for part in pair if part} <= known


@pytest.mark.parametrize("values", [(1.10, 1.12), (1.10, 1.19), (1.18, 1.22)])
def test_words_of_a_histogram_stay_on_the_paper(values: tuple[float, float]) -> None:
    """They lean back from the right edge where they would run over it, and stand above the bars."""
    words = ("limit of one reading", "braking starts at")
    levels = [LevelLine(value, word) for value, word in zip(values, words, strict=True)]
    shown = histogram_plot(LABELS, np.linspace(1.0, 1.2, 50), levels)
    width_pt = float(re.findall(r'viewBox="0 0 ([\d.]+)', shown)[0])
    for word in words:
        (tag,) = re.findall(rf"<text([^>]*)>{word}</text>", shown)
        x = float(re.findall(r'(?:translate\(| x=")([\d.]+)', tag)[0])
        room = 0.0 if "end" in tag else len(word) * 8 * 0.5
        assert x + room <= width_pt


def test_words_of_levels_stand_beside_the_axes_where_no_trace_runs() -> None:
    """Beyond the right end of the time axis, and apart from each other."""
    levels = [LevelLine(1.0, "braking starts at"), LevelLine(1.02, "full braking from")]
    shown = signal_plot(LABELS, np.arange(100) / 10, np.linspace(1.0, 4.0, 100), levels=levels)
    places = []
    for level in levels:
        (tag,) = re.findall(rf"<text([^>]*)>{level.words}</text>", shown)
        x, y = re.findall(r'(?:translate\(| x=")([\d.]+)[ ,"]+(?:y=")?([\d.]+)', tag)[0]
        places.append((float(x), float(y)))
    right_pt = (118.0 - 27.0) / 25.4 * 72
    assert all(x >= right_pt for x, _ in places)
    assert abs(places[0][1] - places[1][1]) > 8
