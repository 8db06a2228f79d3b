"""The line, the clock and the columns of a check, by exact times, at both sides of each limit."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from calib.checks.bench.judgement import cannot_see, clock_findings, judge_check, unseen_mains_hz
from calib.checks.bench.signals import (
    Signals,
    block_means,
    copied_rows,
    signals_of,
)
from calib.measure.sliding import Run, runs_of
from calib.store.rig import Channel
from tests.unit.checks.bench.evening import (
    BRAKE,
    CONTROL,
    RAIL,
    TWO,
    Floats,
    checked,
    level,
    rig,
    told,
)
from tests.unit.checks.bench.waves import signals_of_all, signals_of_one, volts_signal
from tests.wheel_files import wheel_capture

STEP_S = 1.0 / 64.0


def _clock(
    steps: list[float], *, host: list[float] | None = None, missed_pct: float = 0.0,
    jump_s: float = 0.0625,
) -> list[tuple[str, float | None, str]]:  # fmt: skip
    """What is said of a clock whose steps, in 64ths of a second, are given; and of the host's."""
    time_s = np.cumsum([0.0, *steps]) * STEP_S
    arrival_s = time_s if host is None else np.cumsum([0.0, *host]) * STEP_S
    found = clock_findings(time_s, arrival_s, missed_pct=missed_pct, jump_s=jump_s)
    return [(each.code, each.value, each.text) for each in found]


def _codes(steps: list[float], host: list[float] | None = None, **limits: float) -> list[str]:
    return [code for code, _, _ in _clock(steps, host=host, **limits)]


USUAL = [1.0] * 100


@pytest.mark.parametrize(("long", "missed"), [(1.5, 0), (1.625, 1), (2.0, 1), (2.5, 1), (3.0, 2),
                                              (11.0, 10)])  # fmt: skip
def test_a_step_of_more_than_one_and_a_half_has_lost_a_line(long: float, missed: int) -> None:
    """As many as fit into it, to the nearest; of all that were due."""
    found = _clock([*USUAL, long, *USUAL])
    assert [code for code, _, _ in found] == (["samples-missed"] if missed else [])
    if missed:
        assert found[0][1] == pytest.approx(100.0 * missed / (202 + missed))
        assert f"{missed} of {202 + missed} samples" in found[0][2]
        assert f"at most {long / 64.0:.3g} s" in found[0][2]


def test_lost_lines_may_be_as_many_as_the_limit() -> None:
    """One of 256 that were due; and the longest step of all is told."""
    steps = [*[1.0] * 126, 2.0, *[1.0] * 127]
    assert len(steps) == 254
    share_pct = 100.0 / 256.0
    assert _codes(steps, missed_pct=share_pct) == []
    assert _codes(steps, missed_pct=0.9 * share_pct) == ["samples-missed"]
    twice = _clock([*USUAL, 5.0, *USUAL, 3.0, *USUAL])
    assert "6 of 309 samples" in twice[0][2]
    assert "at most 0.0781 s" in twice[0][2]


@pytest.mark.parametrize(
    ("ahead", "code"), [(4.0, "samples-missed"), (4.5, "clock-jumps"), (5.0, "clock-jumps"),
                        (-5.0, "samples-missed")]
)  # fmt: skip
def test_a_clock_jumped_where_the_host_saw_less_pass_by_more_than_the_limit(
    ahead: float, code: str
) -> None:
    """A step of six, of which the host saw what is left; four are the limit of 62.5 ms."""
    found = _clock([*USUAL, 6.0, *USUAL], host=[*USUAL, 6.0 - ahead, *USUAL])
    assert [each for each, _, _ in found] == [code]
    if code == "clock-jumps":
        assert found[0][1] == ahead * STEP_S
        assert "jumped 1 times" in found[0][2]


@pytest.mark.parametrize(("ahead", "code"), [(32.0, "samples-missed"), (33.0, "clock-jumps")])
def test_a_long_step_is_a_jump_where_half_of_it_is_one(ahead: float, code: str) -> None:
    """Of a second: what the host saw pass was lost."""
    assert _codes([*USUAL, 64.0, *USUAL], [*USUAL, 64.0 - ahead, *USUAL]) == [code]


@pytest.mark.parametrize(("back", "codes"), [(-4.0, []), (-4.5, ["clock-jumps"])])
def test_a_clock_that_goes_back_by_more_than_the_limit_jumped(
    back: float, codes: list[str]
) -> None:
    """By less it is jitter of the stamps; the worst of several is told, whichever way it went."""
    assert _codes([*USUAL, back, *USUAL]) == codes
    if codes:
        host = [*USUAL, 1.0, *USUAL, 1.0, *USUAL]
        for worst in (6.0, 12.0):
            found = _clock([*USUAL, -9.0, *USUAL, worst, *USUAL], host=host)
            assert [code for code, _, _ in found] == codes
            assert found[0][1] == max(9.0, worst - 1.0) * STEP_S
            assert "jumped 2 times" in found[0][2]


@pytest.mark.parametrize(("late", "code"), [(19, "samples-missed"), (21, "clock-jumps")])
@pytest.mark.parametrize("before", [True, False])
def test_the_clocks_are_compared_by_the_middle_of_forty_readings_on_each_side(
    late: int, code: str, before: bool
) -> None:
    """The host saw the twenty lines that were lost, and was late by twelve beside them.

    It looks like a jump only where it was so for more than half of those readings.
    """
    steps = [*USUAL, 21.0, *USUAL]
    host = list(steps)
    if before:
        host[100 - late] += 12.0
        host[100] -= 12.0
    else:
        host[100] -= 12.0
        host[100 + late] += 12.0
    assert _codes(steps, host) == [code]


def test_near_its_beginning_the_clock_is_compared_with_what_there_is() -> None:
    """One reading before the leap is enough, and one after it."""
    assert _codes([21.0, *USUAL], [1.0, *USUAL]) == ["clock-jumps"]
    assert _codes([*USUAL, 21.0], [*USUAL, 1.0]) == ["clock-jumps"]


def test_a_host_that_gives_no_times_of_its_own_says_nothing_of_jumps() -> None:
    """All at once, or none at all: then a long step is what was lost."""
    steps = [*USUAL, 21.0, *USUAL]
    assert _codes(steps, [0.0] * len(steps)) == ["samples-missed"]
    time_s = np.cumsum([0.0, *steps]) * STEP_S
    unknown = np.full(len(time_s), math.nan)
    (found,) = clock_findings(time_s, unknown, missed_pct=0.0, jump_s=0.0625)
    assert found.code == "samples-missed"


@pytest.mark.parametrize(
    ("steps", "codes"),
    [([640.0], []), ([1.0, 4.0], ["samples-missed"]), ([0.0, 0.0, 5.0], []), ([], []),
     ([1.0, 1.0, 1.0, 4.0], ["samples-missed"])],
)  # fmt: skip
def test_a_usual_step_needs_two_that_pass(steps: list[float], codes: list[str]) -> None:
    """One step alone is the usual one, however long; stamps that stand still have none."""
    assert _codes(steps) == codes


@pytest.mark.parametrize(("short", "said"), [(False, False), (True, True)])
def test_a_check_takes_five_seconds_at_least(short: bool, said: bool) -> None:
    """At that length itself it is one: 320 steps of a 64th."""
    volts = np.full(320 if short else 321, 1.0)
    found = told(checked(rig(), a0=volts, a1=volts, rate_hz=64.0), "too-short")
    assert (found is not None) is said
    if found is not None:
        assert (found.value, found.limit) == (319.0 / 64.0, 5.0)


@pytest.mark.parametrize(("limit_pct", "said"), [(12.5, False), (12.25, True)])
def test_samples_may_be_repeated_as_often_as_the_limit(limit_pct: float, said: bool) -> None:
    """An eighth of the 800 after the first, each with its time."""
    order = np.sort(np.concatenate([np.arange(701), np.arange(0, 700, 7)]))
    assert len(order) == 801
    about = rig(CONTROL.format("throttle", "a0") + f"limits = {{repeated_pct = {limit_pct}}}\n")
    volts = 1.0 + 0.01 * np.resize([0.0, 1.0, 2.0], 701)
    capture = wheel_capture((np.arange(701) / 64.0)[order], a0=volts[order])
    found = told(judge_check(capture, about, ()), "samples-repeated")
    assert (found is not None) is said
    if found is not None:
        assert (found.value, found.limit) == (12.5, 12.25)


def test_a_column_that_is_not_there_is_told_and_so_is_a_missing_record() -> None:
    """A column of nothing but missing numbers is not there either."""
    about = rig(TWO + RAIL)
    document = checked(about, a0=level(1.0), v=level(math.nan))
    missing = [each.channel for each in document.findings if each.code == "column-missing"]
    assert missing == ["regen", "rail"]
    assert told(document, "no-record") is not None


@pytest.mark.parametrize(
    ("rate_hz", "lines_hz"),
    [
        (50.0, (50.0, 100.0)),
        (60.0, (60.0, 120.0)),
        (100.0, (50.0, 100.0)),
        (120.0, (60.0, 120.0)),
        (200.0, (100.0,)),
        (1000.0, ()),
        (48.5, (120.0,)),
        (48.625, (50.0,)),
        (103.0, ()),
        (102.875, (50.0,)),
        (97.0, ()),
        (97.125, (50.0,)),
        (98.5, (50.0,)),
        (98.625, (50.0, 100.0)),
    ],
)
def test_mains_is_unseen_within_one_and_a_half_hertz_of_a_level_or_of_half_the_rate(
    rate_hz: float, lines_hz: tuple[float, ...]
) -> None:
    """Where it lands on nought, or its phase decides; at that distance itself it is seen."""
    assert unseen_mains_hz(rate_hz) == lines_hz


def _blind(rate_hz: float, *roles: str, bounce_ms: float = 5.0) -> str:
    """All that is said of what a logger cannot see at a rate."""
    values = np.ones(4)
    given = [
        volts_signal(
            values,
            role,
            channel=Channel(role=role, column=role, unit="V", limits={"bounce_ms": bounce_ms}),  # type: ignore[arg-type]
        )
        for role in roles
    ]
    signals = signals_of_all(given, 1.0) if given else signals_of_one(volts_signal(values), 1.0)
    return "\n".join(cannot_see(replace(signals, rate_hz=rate_hz)))


@pytest.mark.parametrize(("bounce_ms", "said"), [(46.875, False), (46.75, True)])
def test_three_readings_within_a_chatter_are_enough_to_see_it(bounce_ms: float, said: bool) -> None:
    """At 64 Hz they take 46.875 ms; without a switch nobody asks."""
    assert ("switch's chatter" in _blind(64.0, "switch", bounce_ms=bounce_ms)) is said
    assert "switch's chatter" not in _blind(64.0, "other", bounce_ms=bounce_ms)
    if said:
        assert "shorter than 47 ms" in _blind(64.0, "switch", bounce_ms=bounce_ms)
        assert "it takes 64 Hz to judge 46.75 ms" in _blind(64.0, "switch", bounce_ms=bounce_ms)


@pytest.mark.parametrize(("rate_hz", "said"), [(100.0, False), (99.0, True), (10.0, True)])
def test_a_contact_that_opens_for_a_hundredth_of_a_second_is_seen_at_a_hundred_hertz(
    rate_hz: float, said: bool
) -> None:
    """At less, as much as from one reading to the next can be missed."""
    words = f"less than {1000.0 / rate_hz:.0f} ms"
    assert (words in _blind(rate_hz, "other")) is said


@pytest.mark.parametrize(
    ("roles", "said"),
    [(("control",), True), (("control", "supply"), False), (("supply",), False),
     (("other",), False)],
)  # fmt: skip
def test_without_a_logged_supply_a_control_may_seem_to_move(
    roles: tuple[str, ...], said: bool
) -> None:
    """Where there is a control at all."""
    assert ("No supply is logged" in _blind(1000.0, *roles)) is said


def test_without_a_rate_nothing_quick_is_seen() -> None:
    """And nothing more is said; at any rate at all there is more to say."""
    assert _blind(0.0, "control").count("\n") == 0
    assert "rate of the readings is not known" in _blind(0.0, "control")
    assert "rate of the readings is not known" not in _blind(0.5, "control")
    assert "50, 100 Hz looks like" in _blind(50.0, "other")


def _signals(count: int, **columns: Floats) -> Signals:
    text = "".join(
        f'[channels.{name}]\nrole = "other"\ncolumn = "{name}"\nunit = "V"\n' for name in columns
    )
    return signals_of(wheel_capture(np.arange(count) / 64.0, **columns), rig(text))


@pytest.mark.parametrize(("missing", "kept"), [(10, 90), (11, 100)])
def test_a_channel_comes_less_often_where_more_than_a_tenth_is_missing(
    missing: int, kept: int
) -> None:
    """Then its last reading is held; of the others a line that lacks one is left out."""
    often, seldom = np.arange(100.0), np.arange(100.0)
    seldom[5 : 5 + missing] = np.nan
    signals = _signals(100, often=often, seldom=seldom)
    assert len(signals.time_s) == kept
    values = signals.by_name["seldom"].values.tolist()
    held = [*range(5), *[4] * missing, *range(5 + missing, 100)]
    assert values == (held if kept == 100 else [*range(5), *range(15, 100)])
    assert signals.by_name["often"].values.size == kept


def test_before_its_first_reading_a_channel_holds_that_one() -> None:
    """There is none before it."""
    seldom = np.full(100, np.nan)
    seldom[[20, 60]] = 2.0, 3.0
    values = _signals(100, often=np.arange(100.0), seldom=seldom).by_name["seldom"].values
    assert values.tolist() == [2.0] * 60 + [3.0] * 40


@pytest.mark.parametrize(
    ("pattern", "share", "left_out"),
    [
        ([0, 0, 1, 1, 2], 0.4, False),
        ([0, 0, 1, 1, 2, 2, 3, 3, 4, 5], 0.4, False),
        ([0, 0, 1, 1], 0.5, True),
        ([0, 0, 1, 1, 2, 2, 3, 3, 4, 4], 0.5, True),
        ([0, 0, 0, 1], 0.0, False),
        ([0, 0, 0, 1, 1], 0.4, False),
        ([0, 0, 1, 1, 1, 2, 2, 3, 3, 3], 0.4, False),
        ([0, 0, 0, 1, 1, 2, 2, 3, 3, 3, 4, 4], 0.4167, True),
    ],
)
def test_samples_are_copies_where_they_repeat_more_than_twice_as_often_as_across_two(
    pattern: list[int], share: float, left_out: bool
) -> None:
    """Every sample comes twice beyond four tenths of copies; then they are left out."""
    rounds = 60
    values = np.concatenate([np.array(pattern) + 10.0 * turn for turn in range(rounds)])
    values = np.append(values, -1.0)
    flags, found = copied_rows([values], np.arange(len(values)) / 100.0)
    assert found == pytest.approx(share, abs=2e-3)
    assert bool(flags.any()) is left_out
    if left_out:
        assert flags.tolist() == [False, *(values[1:] == values[:-1]).tolist()]


@pytest.mark.parametrize(("count", "flagged"), [(2, []), (3, [2])])
def test_three_samples_are_the_least_in_which_one_is_sent_again(
    count: int, flagged: list[int]
) -> None:
    """With its time and with every column; one that differs in one of them is another."""
    time_s = np.array([0.0, 0.0, 0.0][-count:]) + np.array([0.0, 1.0, 1.0][-count:])
    same = np.array([1.0, 2.0, 2.0][-count:])
    assert np.flatnonzero(copied_rows([same, same], time_s)[0]).tolist() == flagged
    other = same.copy()
    other[-1] += 1.0
    assert not copied_rows([same, other], time_s)[0].any()
    assert not copied_rows([], time_s)[0].any()
    if flagged:
        assert copied_rows([same, same], time_s)[1] == 0.5


def test_readings_are_found_by_time() -> None:
    """From one time up to but without another; the mean leaves out what is missing."""
    values = np.arange(64.0)
    values[10] = np.nan
    signals = signals_of_one(volts_signal(values), 64.0)
    assert signals.run(0.125, 0.25) == Run(8, 16)
    assert len(signals.run(0.125, 0.25)) == 8
    assert signals.mean(values, 0.125, 0.1875) == 9.0 + 1.0 / 3.0
    assert math.isnan(signals.mean(values, 0.15625, 0.171875))
    assert math.isnan(signals.mean(values, 5.0, 6.0))
    flags = signals.within([(0.125, 0.25), (0.5, 0.53125)])
    assert np.flatnonzero(flags).tolist() == [*range(8, 16), 32, 33]


@pytest.mark.parametrize(("lasts_s", "count"), [(0.5, 32), (0.0, 1), (0.02, 1), (0.024, 2)])
def test_a_time_holds_the_nearest_count_of_readings_and_one_at_least(
    lasts_s: float, count: int
) -> None:
    """At 64 Hz."""
    assert signals_of_one(volts_signal(np.ones(4)), 64.0).samples_in(lasts_s) == count


def test_means_of_blocks_leave_out_a_last_part() -> None:
    """Of one reading each they are the readings."""
    values = np.arange(7.0)
    assert block_means(values, 1).tolist() == values.tolist()
    assert block_means(values, 2).tolist() == [0.5, 2.5, 4.5]
    assert block_means(values, 8).tolist() == []
    flags = np.array([True, True, False, True, False, False, True])
    assert runs_of(flags) == [Run(0, 2), Run(3, 4), Run(6, 7)]
    assert runs_of(np.zeros(3, dtype=np.bool_)) == []


@pytest.mark.parametrize(("count", "rate_hz"), [(1, 0.0), (2, 64.0), (5, 64.0)])
def test_a_rate_needs_two_readings(count: int, rate_hz: float) -> None:
    """One alone has none."""
    assert _signals(count, a=np.arange(float(count))).rate_hz == rate_hz


def test_a_channel_in_counts_has_a_last_code_and_another_none() -> None:
    """One less than its codes; and each has its column's place."""
    about = rig(
        '[channels.a]\nrole = "other"\ncolumn = "x"\nunit = "count"\nfull_scale = 1024\n'
        'reference_V = 5.0\n[channels.b]\nrole = "other"\ncolumn = "y"\nunit = "V"\n' + BRAKE
    )
    values = np.arange(100.0)
    signals = signals_of(wheel_capture(values / 64.0, y=values, x=values, s=values), about)
    by_name = signals.by_name
    assert [(each.last_code, each.place) for each in by_name.values()] == [
        (1023.0, 1), (None, 0), (None, 2),
    ]  # fmt: skip
    assert [each.name for each in signals.with_role("other")] == ["a", "b"]


@pytest.mark.parametrize("start_s", [0.0, 100.0])
def test_a_check_lasts_from_its_first_reading_to_its_last(start_s: float) -> None:
    """Whenever it began."""
    capture = wheel_capture(start_s + np.arange(300) / 64.0, a0=np.ones(300), a1=np.ones(300))
    found = told(judge_check(capture, rig(), ()), "too-short")
    assert found is not None
    assert found.value == 299.0 / 64.0


def test_too_few_samples_are_no_copies() -> None:
    """Nor are those of no column."""
    two = np.array([1.0, 1.0])
    assert copied_rows([two], np.array([0.0, 0.0]))[1] == 0.0
    assert copied_rows([], np.arange(9.0))[1] == 0.0
