"""Noise at rest and mains in it, by exact waves: windows, neighbours, both sides of each limit."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from calib.checks.bench.hands import Ends, read_hand
from calib.checks.bench.noise import (
    Noise,
    NoiseFigures,
    explained_share,
    noise_figures,
    noise_findings,
)
from calib.store.documents.check import CheckFigures
from calib.store.documents.finding import Finding
from calib.store.rig import Channel, Role
from tests.unit.checks.bench.waves import Floats, noise, signals_of_one, volts_signal


def _quiet(count: int) -> np.ndarray:
    return np.ones(count, dtype=np.bool_)


def _line(
    hz: float, size: float, *, rate_hz: float = 1000.0, lasts_s: float = 4.0, phase: float = 0.3
) -> Floats:
    time_s = np.arange(round(lasts_s * rate_hz)) / rate_hz
    return np.asarray(size * np.cos(2.0 * np.pi * hz * time_s + phase))


@pytest.mark.parametrize(
    ("rate_hz", "block"), [(4.0, 8), (10.0, 8), (16.0, 8), (20.0, 10), (100.0, 50)]
)
def test_noise_is_that_about_the_mean_of_half_a_second_of_eight_readings_at_least(
    rate_hz: float, block: int
) -> None:
    """Turning by twice a tenth of a volt; a mean hides a block's part of it."""
    values = 1.0 + 0.1 * np.resize([1.0, -1.0], 40 * block)
    steps = np.repeat(np.arange(40.0), block)
    found = noise_figures(values + steps, _quiet(len(values)), rate_hz, 0.0)
    assert found.sd == pytest.approx(0.1 * math.sqrt(block / (block - 1.0)))


def test_rests_that_are_too_short_for_a_mean_are_used_where_there_is_nothing_else() -> None:
    """Their spread is taken together; where there is one that is long enough, that one counts."""
    values = np.resize([1.0, 3.0], 400)
    flags = np.zeros(400, dtype=np.bool_)
    flags[:40] = flags[60:100] = True
    assert noise_figures(values, flags, 100.0, 0.0).sd == pytest.approx(1.0)
    assert noise_figures(values, flags, 100.0, 0.0).hum is None
    flags[200:250] = True
    values[200:250] = 2.0
    assert noise_figures(values, flags, 100.0, 0.0).sd == 0.0
    values[210] = np.nan
    assert noise_figures(values, flags, 100.0, 0.0).sd > 0.5
    assert noise_figures(values, np.zeros(400, dtype=np.bool_), 100.0, 0.0).sd == 0.0


@pytest.mark.parametrize(("count", "rate_hz", "looked_for"), [
    (99, 100.0, False), (100, 100.0, True), (500, 2.875, False), (500, 3.0, True),
])  # fmt: skip
def test_mains_is_looked_for_in_a_second_of_rest_at_three_readings_a_second(
    count: int, rate_hz: float, looked_for: bool
) -> None:
    """At both of them themselves it is."""
    found = noise_figures(np.ones(count), _quiet(count), rate_hz, 0.001)
    assert (found.hum is not None) is looked_for


@pytest.mark.parametrize(("from_s", "seen"), [(0.0, True), (4.0, False)])
def test_the_first_four_seconds_of_the_longest_rest_are_looked_at(
    from_s: float, seen: bool
) -> None:
    """Mains wanders; and what hums elsewhere was not at rest for so long."""
    wave = _line(50.0, 0.5, lasts_s=10.0)
    wave[: round(1000 * from_s)] = 0.0
    found = noise_figures(wave, _quiet(len(wave)), 1000.0, 0.0)
    assert found.hum == pytest.approx(0.5 if seen else 0.0, abs=1e-9)
    flags = _quiet(len(wave))
    flags[4500] = False  # then the second part is the longer one
    found = noise_figures(wave, flags, 1000.0, 0.0)
    assert found.hum == pytest.approx(0.5, abs=1e-9)


@pytest.mark.parametrize("line_hz", [50.0, 60.0, 100.0, 120.0])
@pytest.mark.parametrize("size", [0.25, 2.0])
def test_a_line_is_read_with_its_amplitude_and_its_share_of_the_noise(
    line_hz: float, size: float
) -> None:
    """A wave alone is all of it; beside one of the same size elsewhere it is half."""
    wave = _line(line_hz, size)
    found = noise_figures(wave, _quiet(4000), 1000.0, 0.0)
    assert found.hum_hz == line_hz
    assert found.hum == pytest.approx(size)
    assert found.hum_share == pytest.approx(1.0)
    assert found.stands_out
    both = noise_figures(wave + _line(330.0, size), _quiet(4000), 1000.0, 0.0)
    assert both.hum_hz == line_hz
    assert both.hum == pytest.approx(size)
    assert both.hum_share == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("line_hz", "rate_hz"), [(50.0, 100.0), (60.0, 120.0), (100.0, 200.0), (120.0, 240.0)]
)
def test_a_line_at_half_the_rate_is_read_once(line_hz: float, rate_hz: float) -> None:
    """Both halves of the spectrum fall together there; its phase decides what is seen of it."""
    wave = _line(line_hz, 0.5, rate_hz=rate_hz, phase=0.0)
    found = noise_figures(wave, _quiet(len(wave)), rate_hz, 0.0)
    assert found.hum == pytest.approx(0.5)
    assert found.hum_share == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("rate_hz", "at_half"), [(101.0, True), (101.25, True), (101.5, False), (104.0, False)]
)
def test_a_line_is_at_half_the_rate_within_two_of_its_steps(rate_hz: float, at_half: bool) -> None:
    """Of a quarter of a hertz; farther off it is one line of its own."""
    wave = _line(50.0, 0.5, rate_hz=rate_hz, phase=0.0)
    found = noise_figures(wave, _quiet(len(wave)), rate_hz, 0.0)
    assert found.hum is not None
    assert (found.hum < 0.4) is at_half


@pytest.mark.parametrize(
    ("hz", "read"), [(49.5, 1.0), (49.25, 0.5), (49.0, 0.0), (50.5, 1.0), (50.75, 0.5), (51.0, 0.0)]
)
def test_mains_may_be_half_a_hertz_off(hz: float, read: float) -> None:
    """Two steps of the spectrum; a third one shows half of it, and from there on nothing."""
    found = noise_figures(_line(hz, 1.0), _quiet(4000), 1000.0, 0.0)
    assert found.hum == pytest.approx(read, abs=1e-3)


@pytest.mark.parametrize(("rate_hz", "looked_for"), [(51.4, False), (51.5, True), (48.6, False),
                                                     (48.5, True)])  # fmt: skip
def test_a_line_that_lands_within_one_and_a_half_hertz_of_nought_is_a_level(
    rate_hz: float, looked_for: bool
) -> None:
    """50 Hz read at nearly 50 Hz; at that distance itself it is still a line."""
    wave = _line(50.0, 1.0, rate_hz=rate_hz, lasts_s=4.0)
    found = noise_figures(wave, _quiet(len(wave)), rate_hz, 0.0)
    assert (found.hum_hz == 50.0 and found.hum is not None and found.hum > 0.9) is looked_for


@pytest.mark.parametrize(("sizes", "line_hz"), [((0.5, 0.25), 50.0), ((0.25, 0.5), 60.0)])
def test_the_strongest_line_is_told(sizes: tuple[float, float], line_hz: float) -> None:
    """Whichever comes first."""
    wave = _line(50.0, sizes[0]) + _line(60.0, sizes[1])
    found = noise_figures(wave, _quiet(4000), 1000.0, 0.0)
    assert found.hum_hz == line_hz
    assert found.hum == pytest.approx(0.5)


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize(("size", "stands_out"), [(1.4, False), (1.9, False), (2.1, True),
                                                  (3.0, True)])  # fmt: skip
def test_a_line_stands_out_from_four_times_its_twenty_neighbours_on_each_side(
    side: int, size: float, stands_out: bool
) -> None:
    """From the fifth step on: where one side has 1 and the other nothing, half of it is usual."""
    wave = _line(50.0, size)
    for off in range(5, 27):
        wave += _line(50.0 + side * off / 4.0, 1.0, phase=0.5 * np.pi * off)
    found = noise_figures(wave, _quiet(4000), 1000.0, 0.0)
    assert found.hum == pytest.approx(size, rel=1e-3)
    assert found.stands_out is stands_out


def _noise(
    now: NoiseFigures,
    then: CheckFigures | None = None,
    span: float = 0.0,
    *,
    role: Role = "control",
    unit: str = "V",
    **limits: float,
) -> Noise:
    channel = Channel(role=role, column="a", unit="V", limits=limits)
    signal = volts_signal(np.ones(4), "a", channel=channel)
    return Noise(replace(signal, unit=unit), now, then, span)


@pytest.mark.parametrize(
    ("hum", "then", "hums"),
    [(0.015625, None, False), (0.0234375, None, True), (0.03125, 0.015625, False),
     (0.0390625, 0.015625, True), (0.0390625, 0.0, True)],
)  # fmt: skip
def test_a_channel_hums_beyond_a_size_and_beyond_twice_what_is_on_record(
    hum: float, then: float | None, hums: bool
) -> None:
    """At both of them themselves it does not yet; the size is the user's own, 15.625 mV."""
    now = NoiseFigures(0.1, hum, 50.0, stands_out=True)
    figures = None if then is None else CheckFigures(unit="V", hum=then)
    assert _noise(now, figures, hum_mV=15.625).hums is hums
    unknown = CheckFigures(unit="V", hum=None)
    assert _noise(now, unknown, hum_mV=15.625).hums is (hum > 0.015625)
    assert not _noise(now, figures, hum_mV=15.625, unit="degC").hums
    hidden = NoiseFigures(0.1, hum, 50.0, stands_out=False)
    assert not _noise(hidden, figures, hum_mV=15.625).hums
    assert not _noise(NoiseFigures(0.1, None, None, stands_out=True)).hums


@pytest.mark.parametrize(("then", "ratio"), [(None, None), (0.0, None), (0.25, 2.0), (2.0, 0.25)])
def test_noise_is_held_against_the_record_where_that_has_any(
    then: float | None, ratio: float | None
) -> None:
    """A record of no noise is none to divide by."""
    assert _noise(NoiseFigures(0.5), CheckFigures(unit="V", noise=then)).ratio == ratio
    assert _noise(NoiseFigures(0.5)).ratio is None


@pytest.mark.parametrize(
    ("role", "sd", "span", "grown"),
    [("control", 0.03125, 3.125, False), ("control", 0.0390625, 3.125, True),
     ("supply", 0.03125, 3.125, False), ("supply", 0.0390625, 3.125, True),
     ("other", 0.5, 3.125, False), ("control", 0.5, 0.0, False), ("control", 0.5, 0.5, True)],
)  # fmt: skip
def test_without_a_record_noise_may_be_a_hundredth_of_the_span(
    role: Role, sd: float, span: float, grown: bool
) -> None:
    """Of a control or of a supply; of anything else nobody knows what is much."""
    assert _noise(NoiseFigures(sd), None, span, role=role).grown is grown


@pytest.mark.parametrize(("count", "share"), [(15, 0.0), (16, 0.0), (17, 1.0)])
def test_sixteen_differences_show_a_common_cause(count: int, share: float) -> None:
    """Fewer agree by chance; a cause that turns the other way round explains as much."""
    cause = np.random.default_rng(3).normal(size=100)
    flags = np.arange(100) < count
    for way in (1.0, -2.0):
        assert explained_share(way * cause, cause, flags) == pytest.approx(share)
        gone = way * cause
        gone[3] = np.nan
        assert explained_share(gone, cause, flags) == 0.0
        assert explained_share(cause, gone, flags) == 0.0


@pytest.mark.parametrize(("count", "left_out"), [(110, False), (150, True)])
def test_a_leap_of_more_than_eight_deviations_says_nothing_of_a_common_cause(
    count: int, left_out: bool
) -> None:
    """One reading of many that stands out makes them: of 110 differences seven, of 150 nine."""
    cause = noise(count, 0.01)
    leap = cause.copy()
    leap[count // 2] += 100.0
    for a, b in ((leap, cause), (cause, leap)):
        found = explained_share(a, b, _quiet(count))
        assert (found > 0.9) is left_out


def test_what_never_changes_explains_nothing_and_is_explained_by_nothing() -> None:
    """Neither of two; and it is nothing to divide by."""
    moving, still = noise(100, 1.0), np.full(100, 2.0)
    assert explained_share(moving, still, _quiet(100)) == 0.0
    assert explained_share(still, moving, _quiet(100)) == 0.0


def _told(*given: tuple[str, Role, NoiseFigures]) -> list[tuple[str, str | None]]:
    noises = {}
    for name, role, now in given:
        signal = volts_signal(np.ones(10), name, channel=Channel(role=role, column=name, unit="V"))
        noises[name] = Noise(signal, now, CheckFigures(unit="V", noise=0.01, hum=0.001), 5.0)
    return [(each.code, each.channel) for each in noise_findings(noises, (), _quiet(10))]


def test_mains_on_several_channels_is_told_of_each_even_where_it_is_little_of_the_noise() -> None:
    """On one alone it must be most of it; what else grew is told as grown."""
    little = NoiseFigures(0.06, 0.05, 50.0, stands_out=True, hum_share=0.25)
    grown, sound = NoiseFigures(0.06), NoiseFigures(0.01)
    assert _told(("a", "control", little), ("b", "control", sound)) == [("noise-grown", "a")]
    assert _told(("a", "control", little), ("b", "control", little), ("c", "other", grown)) == [
        ("hum-common", "a"), ("hum-common", "b"), ("noise-grown", "c"),
    ]  # fmt: skip
    assert _told(("v", "supply", little), ("b", "control", sound)) == [
        ("supply-noise", "v"), ("noise-grown", "v"),
    ]  # fmt: skip


def test_hum_is_told_with_its_line_and_how_many_others_hum() -> None:
    """In millivolts, against the limit."""
    hum = NoiseFigures(0.06, 0.05, 60.0, stands_out=True, hum_share=0.9)
    noises = {name: _noise(hum) for name in "abc"}
    found: list[Finding] = list(noise_findings(noises, (), _quiet(4)))
    assert [(each.code, each.value, each.limit) for each in found] == [
        ("hum-common", 50.0, 10.0)
    ] * 3
    assert "60 Hz" in found[0].text
    assert "2 other" in found[0].text
    (alone,) = noise_findings({"a": _noise(hum)}, (), _quiet(4))
    assert (alone.code, alone.value, alone.limit) == ("hum", 50.0, 10.0)


def test_too_much_noise_without_a_record_is_told_in_per_cent_of_the_span() -> None:
    """Against the limit that the user gives for it."""
    (found,) = noise_findings({"a": _noise(NoiseFigures(0.125), None, 2.0)}, (), _quiet(4))
    assert (found.code, found.value, found.limit) == ("noise-high", 6.25, 1.0)


@pytest.mark.parametrize(("own", "follows"), [(0.03, True), (0.12, False), (0.2, False)])
def test_a_supply_s_noise_names_who_follows_it(own: float, follows: bool) -> None:
    """Whoever hangs on it and takes most of its noise from it."""
    rail = 5.0 + noise(2000, 0.1, 1)
    rail_signal = volts_signal(rail, "rail", channel=Channel(role="supply", column="v", unit="V"))
    hands = []
    for name, supply in (("throttle", "rail"), ("regen", None)):
        channel = Channel(role="control", column=name, unit="V", supply=supply)
        signal = volts_signal(rail + noise(2000, own, 2), name, channel=channel)
        hands.append(read_hand(signals_of_one(signal, 100.0), signal, None, Ends(5.0, 9.0)))
    noises = {"rail": Noise(rail_signal, NoiseFigures(0.1), None, 5.0)}
    (found,) = noise_findings(noises, hands, _quiet(2000))
    assert found.code == "supply-noise"
    assert ("throttle" in found.text) is follows
    assert "regen" not in found.text
    assert ("the channels that it feeds" in found.text) is not follows


@pytest.mark.parametrize(("rate_hz", "count"), [(51.5, 52), (100.0, 400), (1000.0, 4000)])
def test_a_level_is_no_hum(rate_hz: float, count: int) -> None:
    """However high it is, and however near to it a line would land."""
    found = noise_figures(np.full(count, 5.0), _quiet(count), rate_hz, 0.0)
    assert found.hum == pytest.approx(0.0, abs=1e-9)
    assert not found.stands_out
