"""What a converter gets wrong, and what a line drops, at both sides of each limit."""

from __future__ import annotations

import numpy as np
import pytest

from calib.checks.bench.converter import (
    Standstill,
    clipped_findings,
    copies,
    is_frozen,
    stuck_bit,
)
from calib.checks.bench.dropouts import Reach, drop_out_findings, find_drop_outs
from tests.unit.checks.bench.evening import (
    LASTS_S,
    REGEN_S,
    THROTTLE_S,
    Floats,
    checked,
    level,
    presses,
    rig,
    told,
)
from tests.unit.checks.bench.waves import counted_signal, flat, volts_signal

COUNTS = 'unit = "count"\nfull_scale = 1024\nreference_V = 5.0\n'
COUNTED = '[channels.{}]\nrole = "{}"\ncolumn = "{}"\n' + COUNTS


@pytest.mark.parametrize(
    ("repeats", "count", "frozen"),
    [(0.9, 196, False), (0.9, 197, True), (0.5, 29, False), (0.5, 30, True), (0.0, 19, False),
     (0.0, 20, True)],
)  # fmt: skip
def test_a_run_is_frozen_where_its_chance_is_below_one_in_a_billion(
    repeats: float, count: int, frozen: bool
) -> None:
    """Readings that repeat with probability p run for n with p to the n; 20 are the least."""
    signal = counted_signal(np.full(3000, 300.0))
    assert is_frozen(signal, Standstill(30.0, count, repeats), None) is frozen
    assert is_frozen(signal, Standstill(30.0, count, float("nan")), repeats) is frozen


@pytest.mark.parametrize(("run_s", "frozen"), [(1.99, False), (2.0, True)])
def test_nothing_is_frozen_within_two_seconds(run_s: float, frozen: bool) -> None:
    """However many readings a quick logger sends meanwhile."""
    signal = counted_signal(np.full(3000, 300.0))
    assert is_frozen(signal, Standstill(run_s, 2000, 0.5), None) is frozen


def test_of_two_shares_of_repeats_the_lower_counts() -> None:
    """The noise of the record or of the rest of the capture, whichever moved it more."""
    signal = counted_signal(np.full(3000, 300.0))
    still = Standstill(30.0, 100, 0.97)
    assert not is_frozen(signal, still, None)
    assert not is_frozen(signal, still, 0.9)
    assert is_frozen(signal, still, 0.8)


@pytest.mark.parametrize(("bit", "value"), [(1, 0), (1, 1), (2, 0), (3, 1), (9, 0)])
def test_a_stuck_bit_is_named_down_to_the_last_but_one(bit: int, value: int) -> None:
    """One that never changes below others that do, while the lowest changes."""
    codes = np.floor(500.0 + 480.0 * np.sin(np.linspace(0.0, 120.0, 6000))).astype(np.int64)
    mask = 1 << bit
    stuck = (codes & ~mask) | (mask if value else 0)
    found = stuck_bit(stuck.astype(np.float64), least_range=16)
    # beside the ninth the whole sweep stays on one side: nothing crosses it
    assert found == (None if bit == 9 else (bit, value))


@pytest.mark.parametrize(("clipped", "pct"), [(49, None), (50, 50.0), (75, 75.0)])
@pytest.mark.parametrize("code", [0.0, 1023.0])
def test_a_plateau_clips_from_half_of_its_readings_on(
    clipped: int, pct: float | None, code: float
) -> None:
    """At the first or at the last code, in per cent of the plateau."""
    plateau = np.full(100, 512.0)
    plateau[:clipped] = code
    found = next(clipped_findings(counted_signal(plateau), plateau, where="there"), None)
    assert (None if found is None else found.value) == pct


def _square(size: float) -> Floats:
    return 500.0 + size * (np.arange(4000, dtype=np.float64) // 500.0 % 2.0)


@pytest.mark.parametrize(("moved", "copied"), [(62.0, False), (66.0, True)])
def test_two_inputs_copy_only_where_they_moved_by_a_sixteenth_of_the_range(
    moved: float, copied: bool
) -> None:
    """1023 sixteenths are 63.9 codes; two equal rests prove nothing."""
    assert copies(counted_signal(_square(moved)), counted_signal(_square(moved))) is copied


@pytest.mark.parametrize(
    ("off", "share", "copied"), [(2.0, 1.0, True), (4.0, 1.0, False), (10.0, 0.04, True),
                                 (20.0, 0.04, False)]
)  # fmt: skip
def test_copies_differ_by_a_code_and_a_fiftieth_of_the_way(
    off: float, share: float, copied: bool
) -> None:
    """Of 100 codes that is 3: as the usual difference, and as the spread of all of them."""
    first = _square(100.0)
    second = first.copy()
    second[: round(4000 * share)] += off
    assert copies(counted_signal(first), counted_signal(second)) is copied


@pytest.mark.parametrize(
    ("roles", "copied"),
    [
        (("control", "control"), None),
        (("control", "other"), "second"),
        (("other", "control"), "second"),
        (("other", "other"), "second"),
    ],
)
def test_two_inputs_that_read_alike_are_a_stuck_multiplexer_but_for_two_controls(
    roles: tuple[str, str], copied: str | None
) -> None:
    """Two controls may also be joined by a wire, which is judged by how they move."""
    about = rig(COUNTED.format("first", roles[0], "a0") + COUNTED.format("second", roles[1], "a1"))
    counts = np.floor(presses(200.0, 800.0, (*THROTTLE_S, *REGEN_S)))
    found = told(checked(about, a0=counts, a1=counts), "multiplexer-stuck")
    assert (None if found is None else found.channel) == copied
    if copied is None:
        assert told(checked(about, a0=counts, a1=counts), "one-wire") is not None


@pytest.mark.parametrize(("stands_V", "glitch_pct", "dropped"), [
    (1.28, 10.0, True), (1.32, 10.0, False), (1.14, 2.0, True), (1.16, 2.0, False),
])  # fmt: skip
def test_a_leap_starts_near_rest_to_be_a_drop_out(
    stands_V: float, glitch_pct: float, dropped: bool
) -> None:
    """Within the limit for a glitch, or within a twentieth of the span where that is more."""
    volts = flat(stands_V, 3.0, 1000.0)
    volts[1000:1020] = 2.9
    reach = Reach(rest_V=1.0, sd_V=0.002, span_V=3.0, direction=1, top_known=True)
    found = find_drop_outs(volts, reach, rate_hz=1000.0, glitch_pct=glitch_pct)
    assert bool(found) is dropped


@pytest.mark.parametrize(
    ("level_V", "supply_V", "code"),
    [
        (4.9, None, "drop-outs-high"),
        (4.2, None, "drop-outs"),
        (3.2, 3.3, "drop-outs-high"),
        (3.2, 5.0, "drop-outs"),
        (0.2, None, "drop-outs-low"),
        (0.2, 3.3, "drop-outs"),
    ],
)
def test_a_drop_out_is_high_or_low_by_the_supply_or_else_by_five_volts(
    level_V: float, supply_V: float | None, code: str
) -> None:
    """A lost ground reads the supply, whatever that is; where none is logged it is 5 V."""
    volts = flat(1.0, 3.0, 1000.0)
    volts[1000:1020] = level_V
    reach = Reach(rest_V=1.0, sd_V=0.002, span_V=2.0, direction=1, top_known=True)
    drops = find_drop_outs(volts, reach, rate_hz=1000.0, glitch_pct=10.0)
    time_s = np.arange(len(volts)) / 1000.0
    (found,) = drop_out_findings(volts_signal(volts), drops, time_s, 1.0, supply_V)
    assert found.code == code


def test_an_input_that_stands_at_the_end_of_the_converter_is_pinned() -> None:
    """At the first code it is at ground, at the last at the supply; one code off it is neither."""
    about = rig(COUNTED.format("height", "other", "a0"))
    codes = {
        code: [each.code for each in checked(about, a0=level(code, LASTS_S)).findings]
        for code in (0.0, 1.0, 1022.0, 1023.0)
    }
    assert "signal-at-ground" in codes[0.0]
    assert "signal-at-supply" in codes[1023.0]
    for code in (1.0, 1022.0):
        assert not {"signal-at-ground", "signal-at-supply"} & set(codes[code])
