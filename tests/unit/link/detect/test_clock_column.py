from __future__ import annotations

import numpy as np
import pytest

from calib.link.detect.clock import ClockColumn, find_clock, unit_of_name

RATE_HZ = 100.0
ARRIVAL_S = 5.0 + np.arange(300) / RATE_HZ
RNG = np.random.default_rng(4)
REST = 512.0 + RNG.integers(-1, 2, 300)


def _find(*columns: np.ndarray, names: tuple[str, ...] = ()) -> ClockColumn | None:
    arrival_s = ARRIVAL_S[: len(columns[0])]
    names = names or tuple(f"c{n}" for n in range(len(columns)))
    return find_clock(np.column_stack(columns), arrival_s, names)


@pytest.mark.parametrize(("unit", "per_s"), [("s", 1.0), ("ms", 1e3), ("us", 1e6)])
def test_the_unit_is_told_by_the_pace(unit: str, per_s: float) -> None:
    """A column that counts 1, 1000 or 1000000 a second is a clock in that unit."""
    clock = _find(REST, (ARRIVAL_S + 7.0) * per_s)
    assert clock is not None
    assert (clock.index, clock.unit, clock.unit_from) == (1, unit, "pace")
    assert clock.pace_hz == pytest.approx(per_s, rel=0.01)


def test_bursts_do_not_hide_a_clock() -> None:
    """Lines that a busy computer reads every 0.2 s still show the clock."""
    ragged_s = np.ceil(ARRIVAL_S / 0.2) * 0.2
    clock = find_clock(np.column_stack([ARRIVAL_S * 1e3]), ragged_s, ("c0",))
    assert clock is not None
    assert clock.unit == "ms"


@pytest.mark.parametrize("modulus", [2**16, 2**32, 10**6])
def test_a_wrap_is_told_where_it_is_seen(modulus: int) -> None:
    """The counter's width is that at which it was seen to start again."""
    clock = _find((ARRIVAL_S * 1e3 - 6500.0) % modulus)
    assert clock is not None
    assert (clock.wrap, clock.unit) == (modulus, "ms")


def test_no_wrap_is_claimed_of_a_restart() -> None:
    """A board that started again shows no width of a counter."""
    counts = np.concatenate([np.arange(80), np.arange(220)]) * 10.0 + 123457.0
    counts[80:] -= 123457.0
    clock = _find(counts)
    assert clock is not None
    assert (clock.wrap, clock.unit) == (None, "ms")


def test_name_and_pace_that_differ_are_told() -> None:
    """The name's unit is taken, and the pace that speaks against it is given."""
    clock = _find(ARRIVAL_S * 20e3, names=("t_ms",))
    assert clock is not None
    assert (clock.unit, clock.unit_from) == ("ms", "name")
    assert clock.pace_hz == pytest.approx(20e3)


def test_a_pace_of_no_unit_gives_none() -> None:
    """What counts 32768 a second is a clock in a unit of its own: nothing is guessed."""
    clock = _find(np.round(ARRIVAL_S * 32768))
    assert clock is not None
    assert clock.unit is None


def test_a_count_of_lines_is_no_clock() -> None:
    """Rising by one a line at 100 lines a second is no unit of time."""
    assert _find(np.arange(300.0)) is None


def test_a_count_of_lines_at_1_kHz_is_doubted() -> None:
    """At 1000 lines a second a count of lines looks like milliseconds, and that is said."""
    arrival_s = np.arange(1500) / 1e3
    clock = find_clock(np.arange(1500.0)[:, None], arrival_s, ("c0",))
    assert clock is not None
    assert clock.by_one


@pytest.mark.parametrize(
    "values",
    [
        REST,
        np.full(300, 512.0),
        500.0 + ARRIVAL_S + REST - 512.0,
        np.clip(ARRIVAL_S * 300, 1800, 2100),
    ],
    ids=["rest", "constant", "drift", "slow press"],
)
def test_signals_are_no_clock(values: np.ndarray) -> None:
    """Rest, a dead wire, a drift and a slow press do not rise evenly."""
    assert _find(values) is None


def test_too_little_is_no_clock() -> None:
    """Half a second cannot tell a pace."""
    assert _find(ARRIVAL_S[:50] * 1e3) is None


def test_a_file_tells_the_unit_by_name_alone() -> None:
    """Without arrival there is no pace; the name still speaks."""
    unknown_s = np.full(300, np.nan)
    values = (ARRIVAL_S * 1e6)[:, None]
    named = find_clock(values, unknown_s, ("t_us",))
    nameless = find_clock(values, unknown_s, ("c0",))
    assert named is not None
    assert (named.unit, named.unit_from) == ("us", "name")
    assert nameless is not None
    assert (nameless.unit, nameless.unit_from) == ("us", "steps")


@pytest.mark.parametrize(
    ("counts", "name", "unit"),
    [
        (10.0 * np.arange(300), "t", "ms"),
        (0.5 * np.arange(300) // 1, "time", "ms"),
        (0.01 * np.arange(300), "t", "s"),
        (1e4 * np.arange(300), "Time", "us"),
        (np.arange(300) // 50 * 1.0, "t", "s"),
        (1.7145e9 + 0.01 * np.arange(300), "timestamp", "s"),
        (1.7145e12 + 10.0 * np.arange(300), "timestamp", "ms"),
        (np.repeat(40.0 * np.arange(75), 4), "t", "ms"),
        (0.5 * np.arange(300), "t", None),
        (1.0 * np.arange(300), "t", None),
    ],
)
def test_a_files_clock_is_known_by_its_name_and_its_steps(
    counts: np.ndarray, name: str, unit: str | None
) -> None:
    """Steps that make an ordinary logger in one unit only tell it; others are asked for."""
    clock = find_clock(np.column_stack([REST, counts]), np.full(300, np.nan), ("a", name))
    assert clock is not None
    assert (clock.index, clock.unit) == (1, unit)


@pytest.mark.parametrize("name", ["count", "samples", "distance"])
def test_a_files_other_columns_are_no_clock(name: str) -> None:
    """What only rises, and is not called a time, is no clock."""
    counts = 128.0 * np.arange(300)
    assert find_clock(np.column_stack([counts]), np.full(300, np.nan), (name,)) is None


def test_a_wall_clock_is_the_clock() -> None:
    """A column of dates or times of day in words needs no unit and no even steps."""
    clock = find_clock(np.column_stack([REST, REST]), ARRIVAL_S, ("a", "b"), {1})
    assert clock is not None
    assert (clock.index, clock.unit) == (1, "text")


@pytest.mark.parametrize(
    ("name", "unit"),
    [("t_ms", "ms"), ("time (us)", "us"), ("millis", "ms"), ("micros", "us"), ("time_s", "s"),
     ("brakes", None), ("a0", None), ("t", None)],
)  # fmt: skip
def test_unit_of_a_name(name: str, unit: str | None) -> None:
    """A unit stands at the end of a name, apart from it."""
    assert unit_of_name(name) == unit
