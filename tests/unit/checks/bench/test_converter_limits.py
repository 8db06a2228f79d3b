"""What a converter gets wrong, by exact codes, at both sides of each of its own choices."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from calib.checks.bench.converter import (
    Standstill,
    clipped_findings,
    clipped_pct,
    copies,
    is_clipped,
    is_frozen,
    pinned_findings,
    standstill,
    stuck_bit,
    stuck_bit_findings,
)
from calib.checks.bench.signals import Signal
from calib.store.documents.finding import Severity
from calib.store.rig import Channel
from tests.unit.checks.bench.waves import Floats, counted_signal, volts_signal


@pytest.mark.parametrize(
    ("raw", "count", "elsewhere"),
    [
        ([7.0] * 50 + list(range(20)), 50, math.nan),
        ([7.0] * 50 + list(range(21)), 50, 0.0),
        (list(range(21)) + [7.0] * 50, 50, 0.0),
        ([7.0] * 50 + [0.0, 0.0, 1.0, 1.0] * 10 + [2.0], 50, 0.5),
        ([7.0] * 50, 50, math.nan),
        ([1.0, 2.0] * 20, 1, 0.0),
        ([5.0], 1, math.nan),
    ],
)
def test_the_longest_standstill_is_parted_from_what_repeats_elsewhere(
    raw: list[float], count: int, elsewhere: float
) -> None:
    """From twenty readings elsewhere on; without them nobody knows what the channel does."""
    still = standstill(np.array(raw), 50.0)
    assert (still.count, still.run_s) == (count, count / 50.0)
    assert still.repeats_elsewhere == pytest.approx(elsewhere, nan_ok=True)
    assert standstill(np.array(raw), 0.0).run_s == 0.0
    assert standstill(np.array(raw), 0.5).run_s == 2.0 * count


@pytest.mark.parametrize(
    ("repeats", "count", "frozen"),
    [(0.98, 2000, True), (0.981, 2000, False), (0.0, 20, True), (0.0, 19, False),
     (0.25, 15, False), (0.25, 20, True), (math.nan, 2000, False)],
)  # fmt: skip
def test_what_hardly_ever_changes_is_not_frozen(repeats: float, count: int, frozen: bool) -> None:
    """Where more than 98 of 100 readings repeat the one before, any run of them is usual."""
    signal = counted_signal(np.full(100, 300.0))
    assert is_frozen(signal, Standstill(30.0, count, repeats), None) is frozen
    assert is_frozen(signal, Standstill(30.0, count, math.nan), repeats) is frozen
    assert is_frozen(volts_signal(np.ones(9)), Standstill(30.0, count, repeats), None) is frozen


@pytest.mark.parametrize(("code", "at_an_end"), [(0.0, True), (1.0, False), (1022.0, False),
                                                 (1023.0, True)])  # fmt: skip
def test_what_mostly_stands_at_an_end_of_the_converter_is_pinned_and_not_frozen(
    code: float, at_an_end: bool
) -> None:
    """There nothing can move; a channel in volts has no end that anybody knows."""
    counts = np.full(101, code)
    counts[:50] = 500.0
    signal = counted_signal(counts)
    assert is_frozen(signal, Standstill(30.0, 1000, 0.5), None) is not at_an_end
    found = list(pinned_findings(signal))
    assert [each.code for each in found] == (
        [] if not at_an_end else ["signal-at-ground" if code == 0.0 else "signal-at-supply"]
    )
    for each in found:
        assert (each.value, each.unit) == ((code + 0.5) * 5.0 / 1024.0, "V")
    assert list(pinned_findings(volts_signal(counts))) == []


def _sweep(low: int, high: int, turns: int = 4, step: int = 1) -> Floats:
    """Every code from one to the other and back, again and again."""
    up = np.arange(low, high + 1, step, dtype=np.float64)
    return np.tile(np.concatenate([up, up[-2:0:-1]]), turns)


def _without(codes: Floats, bit: int, value: int) -> Floats:
    whole = codes.astype(np.int64)
    mask = 1 << bit
    return ((whole & ~mask) | (mask * value)).astype(np.float64)


@pytest.mark.parametrize("value", [0, 1])
@pytest.mark.parametrize("bit", [1, 2, 3, 4, 5])
def test_each_bit_that_stands_still_within_the_range_is_named(bit: int, value: int) -> None:
    """With a step of five codes a reading, so that some dozens of readings move."""
    codes = _sweep(256, 447, turns=12, step=3)
    assert stuck_bit(_without(codes, bit, value), least_range=64) == (bit, value)
    assert stuck_bit(codes, least_range=64) is None


@pytest.mark.parametrize(("least", "known"), [(182.0, True), (183.0, True), (184.0, False)])
def test_a_bit_is_looked_for_from_a_range_on(least: float, known: bool) -> None:
    """A reading that hardly moves shows few of its bits; at that range itself it is looked at."""
    codes = _without(_sweep(256, 447, turns=12), 3, 0)  # up to 439
    assert (stuck_bit(codes, least_range=least) is not None) is known


@pytest.mark.parametrize(
    "raw",
    [[], [5.0], [0.5, 600.0] * 50, [-1.0, 600.0] * 50],
)
def test_what_is_no_code_has_no_bits(raw: list[float]) -> None:
    """Less than two, fractions, or below nought."""
    assert stuck_bit(np.array(raw), least_range=0.0) is None


def test_a_bit_above_the_range_stands_still_and_is_sound() -> None:
    """What never crosses it cannot change it."""
    assert stuck_bit(_sweep(0, 255, turns=8), least_range=16) is None
    assert stuck_bit(_sweep(768, 1023, turns=8), least_range=16) is None


def test_few_readings_on_the_move_prove_nothing() -> None:
    """Half of the codes are left out: of 30 readings that none fell there is one in a billion."""
    for moving, known in ((24, False), (40, True)):
        codes = np.repeat(_without(_sweep(0, 252, turns=1, step=9), 5, 0)[:moving], 20)
        codes = np.concatenate([codes, np.full(50, codes[-1])])
        assert (stuck_bit(codes, least_range=16) is not None) is known


def test_a_stuck_bit_is_told_with_its_worth_in_volts() -> None:
    """Bit 5 of a 5 V converter of 1024 codes is 156 mV; a channel in volts has none."""
    codes = _without(_sweep(256, 447, turns=12, step=3), 5, 1)
    (found,) = stuck_bit_findings(counted_signal(codes))
    assert (found.value, found.limit, found.unit) == (32.0 * 5.0 / 1024.0, 0.0, "V")
    assert "bit 5" in found.text.lower()
    assert list(stuck_bit_findings(volts_signal(codes))) == []


@pytest.mark.parametrize(("codes", "known"), [(1024, True), (65536, False)])
def test_a_control_must_move_by_a_sixty_fourth_of_the_range_to_show_its_bits(
    codes: int, known: bool
) -> None:
    """192 codes of 1024, and of 65536 less than that."""
    counts = _without(_sweep(256, 447, turns=12, step=3), 3, 0)
    assert bool(list(stuck_bit_findings(counted_signal(counts, codes=codes)))) is known


@pytest.mark.parametrize(
    ("plateau", "pct"),
    [([0.0, 5.0, 5.0, 5.0], 25.0), ([1023.0, 1024.0, 5.0, 5.0], 50.0), ([-1.0, 0.0], 100.0),
     ([1.0, 1022.0], 0.0), ([], 0.0)],
)  # fmt: skip
def test_what_is_at_the_first_or_last_code_or_beyond_is_clipped(
    plateau: list[float], pct: float
) -> None:
    """In per cent of the plateau; in volts nobody knows where the converter ends."""
    signal = counted_signal(np.full(4, 500.0))
    assert clipped_pct(signal, np.array(plateau)) == pct
    assert clipped_pct(volts_signal(np.ones(4)), np.array(plateau)) == 0.0
    assert is_clipped(signal, np.array(plateau)) is (pct >= 50.0)
    found = list(clipped_findings(signal, np.array(plateau), where="there"))
    assert [each.severity for each in found] == ([Severity.FAIL] if pct >= 50.0 else [])


def _square(size: float, count: int = 4000) -> Floats:
    return 100.0 + size * (np.arange(count, dtype=np.float64) // 500.0 % 2.0)


@pytest.mark.parametrize(("moved", "copied"), [(63.0, False), (64.0, True)])
def test_a_sixteenth_of_the_range_itself_is_moved(moved: float, copied: bool) -> None:
    """The last code is 1024, of which that is 64."""
    signals = [counted_signal(_square(moved), codes=1025) for _ in range(2)]
    assert copies(*signals) is copied


@pytest.mark.parametrize(("off", "copied"), [(2.75, True), (3.0, False), (-2.75, True),
                                             (-3.0, False)])  # fmt: skip
def test_copies_differ_by_less_than_a_code_and_a_fiftieth_of_the_way(
    off: float, copied: bool
) -> None:
    """Of a hundred codes that is three, up or down."""
    assert copies(counted_signal(_square(100.0)), counted_signal(_square(100.0) + off)) is copied


@pytest.mark.parametrize(("spread", "copied"), [(2.9, True), (3.1, False)])
def test_copies_scatter_by_less_than_that_too(spread: float, copied: bool) -> None:
    """A twenty-fifth of the readings lies five times as far off on the mean of all."""
    first = counted_signal(_square(100.0))
    second = _square(100.0)
    second[::25] += spread / math.sqrt(0.04 * 0.96)
    assert copies(first, counted_signal(second)) is copied


def test_every_reading_of_a_short_capture_is_compared() -> None:
    """Two that agree in every other reading alone are no copies; of a long one some will do."""
    first = _square(100.0)
    second = first.copy()
    second[1::2] = 700.0
    assert not copies(counted_signal(first), counted_signal(second))
    long = _square(100.0, 8000)
    other = long.copy()
    other[1::2] = 700.0
    assert copies(counted_signal(long), counted_signal(other))


def test_only_inputs_of_one_converter_can_copy() -> None:
    """Of two converters that count to another end, or where one is sent in volts, nobody knows."""
    counts = _square(100.0)
    first = counted_signal(counts)
    volts: Signal = replace(first, last_code=None)
    channel = Channel(role="control", column="a1", unit="count", full_scale=4096.0)
    wider = replace(first, channel=channel, last_code=4095.0)
    assert copies(first, counted_signal(counts))
    for a, b in ((first, volts), (volts, first), (volts, volts), (first, wider), (wider, first)):
        assert not copies(a, b)


def test_the_channel_that_moved_more_says_what_is_usual() -> None:
    """On record it changed with every other reading: what hardly ever changes tonight is frozen."""
    signal = counted_signal(np.full(100, 300.0))
    assert is_frozen(signal, Standstill(30.0, 100, 0.99), 0.5)
    assert is_frozen(signal, Standstill(30.0, 100, 0.5), 0.99)


@pytest.mark.parametrize(("step", "found"), [(1, None), (2, (5, 0))])
def test_a_reading_is_on_the_move_beyond_a_two_hundredth_of_the_range(
    step: int, found: tuple[int, int] | None
) -> None:
    """Of 200 codes: what creeps by one each time is at rest, and proves nothing."""
    codes = _without(_sweep(256, 456, turns=1, step=step), 5, 0)
    assert stuck_bit(codes, least_range=16) == found


def test_a_bit_as_large_as_the_range_is_named() -> None:
    """From 228 to 300 without bit 7 it reads from 100 to 127 and from 256 on."""
    codes = _without(_sweep(228, 300, turns=12, step=3), 7, 0)
    assert stuck_bit(codes, least_range=16) == (7, 0)


def test_a_single_sweep_passes_all_of_the_way() -> None:
    """Each part of it once is enough."""
    codes = _without(np.arange(0.0, 256.0, 7.0), 5, 0)
    assert stuck_bit(codes, least_range=16) == (5, 0)


@pytest.mark.parametrize(("parts", "found"), [(11, None), (12, (5, 0)), (16, (5, 0))])
def test_three_quarters_of_the_way_must_have_been_passed(
    parts: int, found: tuple[int, int] | None
) -> None:
    """Of 256 codes without bit 5 it is 16 parts of 8 codes: one that jumps passes few of them."""
    way = [code for code in range(0, 256, 8) if not code & 32]
    seen = [*way[: parts // 2], *way[len(way) - (parts - parts // 2) :]]
    codes = np.array([*seen, *(code + 3 for code in seen), 256] * 12, dtype=np.float64)
    assert stuck_bit(codes, least_range=16) == found


@pytest.mark.parametrize(("share", "copied"), [(0.01, False), (0.03, True), (0.97, True),
                                               (0.99, False)])  # fmt: skip
def test_what_was_touched_for_less_than_a_fiftieth_is_no_movement(
    share: float, copied: bool
) -> None:
    """At either end of it."""
    counts = np.full(1000, 300.0)
    counts[: round(1000 * share)] = 700.0
    assert copies(counted_signal(counts), counted_signal(counts)) is copied
