"""Whether a logger still sends what it did, by exact numbers, at both sides of each choice."""

from __future__ import annotations

import math

import numpy as np
import pytest

from calib.checks.bench.signals import Signal, Signals
from calib.checks.bench.truth import numbers_of, renumbered_findings, scale_findings
from calib.store.conversion import to_base
from calib.store.documents.check import CheckFigures, CheckLevel
from calib.store.documents.finding import Finding
from calib.store.rig import Channel, Scale
from tests.unit.checks.bench.waves import volts_signal

THEN = [1850.0, 4100.0, 2500.0, 1300.0]


def _figures(rest: float, unit: str = "V") -> CheckFigures:
    return CheckFigures(unit=unit, rest=CheckLevel(mean=rest, sd=0.0, u=0.001, stays=1))


def _signals(now: list[float], channels: list[Channel], more: float | None = None) -> Signals:
    """What each channel sends all the time; the last reading of all may be another number."""
    by_name = {}
    for place, (value, channel) in enumerate(zip(now, channels, strict=True)):
        raw = np.full(400, value)
        if more is not None:
            raw[-1] = more
        last_code = channel.full_scale - 1.0 if channel.full_scale is not None else None
        by_name[f"c{place}"] = Signal(
            name=f"c{place}", channel=channel, unit="V", values=raw, raw=raw, step=0.0,
            last_code=last_code if channel.unit == "count" else None, place=place,
        )  # fmt: skip
    time_s = np.arange(400) / 100.0
    return Signals(time_s=time_s, arrival_s=time_s, rate_hz=100.0, by_name=by_name)


def _told(
    now: list[float],
    then: list[float],
    channels: list[Channel] | None = None,
    more: float | None = None,
) -> list[Finding]:
    """What is said of numbers against those on record, as received; in millivolts by default."""
    channels = channels or [Channel(role="other", column=0, unit="mV")] * len(now)
    rests = [
        float(to_base(channel, np.array([value]))[0])
        for channel, value in zip(channels, then, strict=True)
    ]
    known = {f"c{place}": _figures(rest) for place, rest in enumerate(rests)}
    return list(renumbered_findings(_signals(now, channels, more), known))


def _codes(*given: object) -> list[str]:
    return [each.code for each in _told(*given)]  # type: ignore[arg-type]


COUNT = Channel(role="other", column=0, unit="count", full_scale=1024.0, reference_V=5.0)


@pytest.mark.parametrize(("count", "codes"), [(2, []), (3, ["unit-changed"]),
                                              (4, ["unit-changed"])])  # fmt: skip
def test_three_channels_must_tell_the_same(count: int, codes: list[str]) -> None:
    """Two may agree by chance."""
    then = THEN[:count]
    assert _codes([3.0 * value for value in then], then) == codes


@pytest.mark.parametrize(("small", "codes"), [(2, ["codes-shifted"]), (3, [])])
def test_half_of_the_channels_must_be_far_from_the_record(small: int, codes: list[str]) -> None:
    """By a twentieth of the largest of their like: what reads little is never far from it."""
    then = [4000.0, 3000.0, *[100.0] * small]
    assert _codes([value / 2.0 for value in then], then) == codes


@pytest.mark.parametrize(
    ("pct", "apart", "codes"),
    [(5.0, 40.0, []), (5.0, 70.0, ["columns-shifted"]), (3.0, 40.0, ["columns-shifted"])],
)
def test_far_is_the_users_share_of_the_scale(pct: float, apart: float, codes: list[str]) -> None:
    """Of 1160 millivolts five per cent are 58, and three are 35."""
    then = [1160.0 - apart * place for place in range(6)]
    channel = Channel(role="other", column=0, unit="mV", limits={"renumbered_pct": pct})
    assert _codes([*then[1:], 77.0], then, [channel] * 6) == codes


@pytest.mark.parametrize(("fit", "codes"), [(3, []), (4, ["unit-changed"]), (5, ["unit-changed"])])
def test_one_explanation_fits_four_of_five(fit: int, codes: list[str]) -> None:
    """One more fault may be there, and no second one."""
    then = [4000.0, 3500.0, 3000.0, 2500.0, 2000.0]
    now = [3.0 * value if place < fit else 77.7 for place, value in enumerate(then)]
    assert _codes(now, then) == codes


@pytest.mark.parametrize(("off", "codes"), [(1.025, ["unit-changed"]), (1.035, []),
                                            (0.975, ["unit-changed"]), (0.965, [])])  # fmt: skip
def test_a_number_fits_within_three_hundredths(off: float, codes: list[str]) -> None:
    """Of what is foretold of it: rests move a little from evening to evening."""
    assert _codes([3.0 * 1850.0 * off, 12300.0, 7500.0, 3900.0], THEN) == codes


@pytest.mark.parametrize(
    ("then", "codes"), [(8.0, ["codes-shifted"]), (9.0, []), (12.0, []), (16.0, [])]
)
def test_whole_numbers_of_two_and_less_are_not_compared(then: float, codes: list[str]) -> None:
    """They are rounded down: a quarter of eight is two, and whatever is read there says nothing."""
    known = [4000.0, 2000.0, 1000.0, then, then, then]
    assert _codes([1000.0, 500.0, 250.0, 7.0, 7.0, 7.0], known) == codes


@pytest.mark.parametrize(("off", "codes"), [(0.0, ["codes-shifted"]), (1.0, ["codes-shifted"]),
                                            (2.0, [])])  # fmt: skip
def test_whole_numbers_may_be_a_whole_one_off(off: float, codes: list[str]) -> None:
    """Where they are small: a quarter of 24 is six."""
    known = [4000.0, 2000.0, 24.0, 24.0]
    assert _codes([1000.0, 500.0, 6.0 - off, 6.0 - off], known) == codes
    assert _codes([1000.5, 500.0, 6.0 - off, 6.0 - off], known) == (codes if off == 0.0 else [])


PLACES = [4000.0, 3600.0, 3200.0, 2800.0, 2400.0, 2000.0, 1600.0, 1200.0]


@pytest.mark.parametrize("by", [-4, -3, -2, -1, 1, 2, 3, 4])
def test_columns_stand_off_by_three_places_at_most(by: int) -> None:
    """To the right where each reads what the one after it read; farther nobody moves them."""
    now = [
        PLACES[place + by] if 0 <= place + by < len(PLACES) else 77.0
        for place in range(len(PLACES))
    ]
    found = _told(now, PLACES)
    if abs(by) == 4:
        assert found == []
        return
    assert [(each.code, each.value, each.limit) for each in found] == [
        ("columns-shifted", float(by), 0.0)
    ]
    assert f"the channel {abs(by)} to the {'right' if by > 0 else 'left'} of it" in found[0].text


@pytest.mark.parametrize(
    ("count", "wrong", "told"), [(3, 0, False), (4, 0, True), (6, 1, True), (6, 2, False)]
)
def test_columns_stand_off_where_four_of_five_pairs_fit(count: int, wrong: int, told: bool) -> None:
    """And three at least: of four columns that are shifted by one there are three pairs."""
    then = PLACES[:count]
    now = [*then[1:], 77.0]
    now[:wrong] = [99.0] * wrong
    assert (_codes(now, then) == ["columns-shifted"]) is told


@pytest.mark.parametrize(("off", "told"), [(110.0, True), (130.0, False)])
def test_a_column_fits_within_three_hundredths_of_the_scale(off: float, told: bool) -> None:
    """Of 4000 millivolts."""
    now = [PLACES[1] + off, PLACES[2] - off, PLACES[3], 77.0]
    assert (_codes(now, PLACES[:4]) == ["columns-shifted"]) is told


@pytest.mark.parametrize("bits", range(1, 10))
@pytest.mark.parametrize("up", [True, False])
def test_one_to_eight_bits_are_told_as_shifted_codes(bits: int, up: bool) -> None:
    """Down, or up where the low bits are empty."""
    channels = [Channel(role="other", column=0, unit="count", full_scale=2.0**20, reference_V=5.0)]
    then = [512.0 * value for value in (300.0, 200.0, 400.0, 250.0)]
    factor = 2.0**bits if up else 2.0**-bits
    found = _told([factor * value for value in then], then, channels * 4)
    assert [each.value for each in found] == [pytest.approx(factor, rel=1e-3)]
    assert (found[0].code == "codes-shifted") is (bits < 9)
    assert found[0].limit == 1.0
    if bits < 9:
        assert f"shifted {'up' if up else 'down'} by {bits} bits" in found[0].text


@pytest.mark.parametrize(
    ("now", "more", "codes"),
    [
        ([400.0, 600.0, 500.0, 800.0], None, ["codes-shifted"]),
        ([401.0, 601.0, 501.0, 801.0], None, []),
        ([400.0, 600.0, 500.0, 801.0], None, []),
        ([402.0, 602.0, 502.0, 802.0], None, ["codes-shifted"]),
        ([401.0, 601.0, 501.0, 801.0], 1023.0, []),
        ([401.0, 601.0, 501.0, 801.0], 1024.0, ["codes-shifted"]),
    ],
)
def test_codes_are_shifted_up_where_the_low_bits_are_empty_or_they_go_beyond_the_last(
    now: list[float], more: float | None, codes: list[str]
) -> None:
    """Of every channel; one that is beyond, once, is enough."""
    assert _codes(now, [200.0, 300.0, 250.0, 400.0], [COUNT] * 4, more) == codes


@pytest.mark.parametrize(("more", "codes"), [(1023.0, []), (1024.0, ["unit-changed"])])
def test_counts_come_in_another_unit_only_where_they_go_beyond_the_last_code(
    more: float, codes: list[str]
) -> None:
    """Three times as much may be three times the volts; of what is not counted nobody can tell."""
    then = [100.0, 200.0, 300.0, 250.0]
    now = [3.0 * value for value in then]
    assert _codes(now, then, [COUNT] * 4, more) == codes
    assert _codes(now, then) == ["unit-changed"]


@pytest.mark.parametrize(
    ("factor", "words"),
    [(5000.0 / 1024.0, "millivolts instead of counts"), (5.0 / 1024.0, "volts instead of counts")],
)
def test_counts_that_come_in_volts_are_named_so(factor: float, words: str) -> None:
    """By the reference and the codes of the rig file."""
    then = [200.0, 300.0, 250.0, 400.0]
    (found,) = _told([factor * (value + 0.5) for value in then], then, [COUNT] * 4)
    assert (found.code, found.value) == ("unit-changed", factor)
    assert f"in {words}" in found.text


@pytest.mark.parametrize(("factor", "told"), [(1.75, False), (1.85, True), (0.57, False),
                                              (0.54, True)])  # fmt: skip
def test_another_unit_is_a_factor_of_one_and_eight_tenths(factor: float, told: bool) -> None:
    """Or one over it: 5 V for 3.3 V is a reference, and no unit."""
    share = Channel(role="other", column=0, unit="percent", reference_V=5.0)
    for channels in (None, [share] * 4):
        found = _codes([factor * value for value in THEN], THEN, channels)
        assert (found == ["unit-changed"]) is told


def test_counts_alone_tell_of_the_converters_codes() -> None:
    """What another part sends as millivolts stays as it was."""
    channels = [COUNT] * 3 + [Channel(role="other", column=0, unit="mV")] * 3
    then = [200.0, 300.0, 400.0, 3000.0, 3500.0, 4000.0]
    now = [100.0, 150.0, 200.0, 3000.0, 3500.0, 4000.0]
    assert _codes(now, then, channels) == ["codes-shifted"]


def test_a_number_stands_on_the_scale_of_the_largest_of_its_like() -> None:
    """In counts of the last code; what was nought on record has none and is left out."""
    channels = [
        Channel(role="other", column=0, unit="mV"),
        Channel(role="other", column=0, unit="mV"),
        COUNT,
        Channel(role="other", column=0, unit="V"),
        Channel(role="switch", column=0, unit="mV"),
    ]
    rests = [1.85, -4.1, 2.5, 0.0, 1.0]
    known = {f"c{place}": _figures(rest) for place, rest in enumerate(rests)}
    found = numbers_of(_signals([1.0] * 5, channels), known)
    assert [each.scale for each in found] == [4100.0, 4100.0, 1023.0]
    assert found[0].then == pytest.approx(1850.0)
    assert found[2].then == pytest.approx(2.5 * 1024.0 / 5.0 - 0.5)
    assert numbers_of(_signals([1.0] * 5, channels), {}) == []


def test_numbers_come_in_the_order_of_their_columns() -> None:
    """Not in that of the rig file."""
    signals = _signals([1.0, 2.0], [Channel(role="other", column=0, unit="mV")] * 2)
    first, second = signals.by_name.values()
    turned = Signals(
        time_s=signals.time_s, arrival_s=signals.time_s, rate_hz=100.0,
        by_name={"c1": second, "c0": first},
    )  # fmt: skip
    known = {"c0": _figures(0.5), "c1": _figures(0.25)}
    assert [each.now for each in numbers_of(turned, known)] == [1.0, 2.0]


BENT = Channel(
    role="other",
    column=0,
    unit="V",
    scale=Scale(
        gain=1.0,
        offset_V=0.0,
        u_gain=0.0,
        u_offset_V=0.0,
        cov=0.0,
        date="2026-03-01",
        curve=((0.0, 0.0, 0.0), (1.0, 1.0, 0.0), (5.0, 4.0, 0.0)),
    ),
)


@pytest.mark.parametrize(
    ("channel", "rest", "sent"),
    [
        (Channel(role="other", column=0, unit="degF"), 10.0, 50.0),
        (Channel(role="other", column=0, unit="mV"), 1.5, 1500.0),
        (BENT, 3.25, 4.0),
        (BENT, 0.0, 0.0),
    ],
)  # fmt: skip
def test_what_was_sent_is_told_from_what_was_kept(
    channel: Channel, rest: float, sent: float
) -> None:
    """Back through unit and truing, near enough where a curve bends."""
    others = [Channel(role="other", column=0, unit=channel.unit)]
    signals = _signals([1.0, 1.0], [channel, *others])
    found = numbers_of(signals, {"c0": _figures(rest), "c1": _figures(2.0)})
    assert found[0].then == pytest.approx(sent, abs=0.01)


RAIL = Channel(role="supply", column="v", unit="V", limits={"scale_moved_pct": 3.125})


def _scaled(
    rail: tuple[float, float], *others: tuple[float | None, float | None]
) -> list[float | None]:
    """What is said of a supply and of channels that do not hang on it, by then and now."""
    names = [f"o{place}" for place in range(len(others))]
    pairs = {"rail": rail, **dict(zip(names, others, strict=True))}
    then = {name: _figures(pair[0]) for name, pair in pairs.items() if pair[0] is not None}
    now = {name: _figures(pair[1]) for name, pair in pairs.items() if pair[1] is not None}
    signals = [volts_signal(np.ones(4), name) for name in names]
    rail_signal = volts_signal(np.ones(4), "rail", channel=RAIL)
    found = scale_findings(rail_signal, signals, now, then)
    return [each.value for each in found if each.limit == 3.125 and each.channel == "rail"]


@pytest.mark.parametrize(
    ("now_V", "told"),
    [(5.15625, 3.125), (5.15, None), (4.84375, -3.125), (4.85, None), (5.0, None)],
)
def test_a_reference_moved_by_the_limit_itself_is_told(now_V: float, told: float | None) -> None:
    """Up or down, where all else moved alike."""
    found = _scaled((5.0, now_V), (2.0, 2.0 * now_V / 5.0))
    assert found == ([] if told is None else [pytest.approx(told)])


@pytest.mark.parametrize(
    ("others", "told"),
    [
        (((4.0, 4.25),), True),
        (((4.0, 4.125),), True),
        (((4.0, 4.109375),), False),
        (((4.0, 4.375),), True),
        (((4.0, 4.390625),), False),
        (((4.0, 4.25), (2.0, 2.0)), False),
        (((4.0, 4.25), (2.0, None), (None, 2.0)), True),
        (((2.0, None),), False),
        ((), False),
        (((0.203125, 0.2158203125),), True),
        (((0.2, 0.2125),), True),
        (((0.1875, 0.19921875),), False),
    ],
)
def test_all_that_does_not_hang_on_it_moved_within_half_as_much(
    others: tuple[tuple[float | None, float | None], ...], told: bool
) -> None:
    """A sixteenth; what is not known or reads less than 0.2 V says nothing, and one must."""
    assert _scaled((4.0, 4.25), *others) == ([6.25] if told else [])


def test_without_the_supply_on_record_its_scale_is_not_known() -> None:
    """Or with one that read next to nothing."""
    assert _scaled((0.125, 0.25), (2.0, 4.0)) == []
    assert list(scale_findings(volts_signal(np.ones(4), "rail", channel=RAIL), [], {}, {})) == []
    assert math.isclose(_scaled((4.0, 8.0), (2.0, 4.0))[0] or 0.0, 100.0)


@pytest.mark.parametrize(("first", "codes"), [(550.0, ["codes-shifted"]), (500.0, [])])
def test_one_channel_beyond_the_last_code_is_enough(first: float, codes: list[str]) -> None:
    """1101 of 1023; what stays within it may be what the sensors give tonight."""
    then = [first, 300.0, 250.0, 400.0]
    assert _codes([2.0 * value + 1.0 for value in then], then, [COUNT] * 4) == codes
