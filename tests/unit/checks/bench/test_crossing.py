"""One control against another, by exact readings: turns, plugs, wires, cross-talk, loads."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from calib.checks.bench.crossing import (
    cross_talk_findings,
    load_findings,
    swapped,
    track_findings,
    turns,
)
from calib.checks.bench.hands import Ends, Hand, Work, read_hand
from calib.checks.bench.signals import Signals
from calib.checks.bench.switches import SwitchFigures, Throw
from calib.controls.presses import Press
from calib.store.documents.check import CheckDocument
from calib.store.records import Record
from calib.store.rig import Channel
from tests.records import record_of
from tests.unit.checks.bench.evening import (
    CONTROL,
    REGEN_S,
    THROTTLE_S,
    TWO,
    Floats,
    checked,
    level,
    presses,
    rig,
    told,
)
from tests.unit.checks.bench.waves import flat, signals_of_all, signals_of_one, volts_signal


@pytest.mark.parametrize(
    ("leaders", "order"),
    [("aabb", "ab"), ("ab", "ab"), ("aaba", "ab"), ("abaa", "ba"), ("aba", "aba"),
     ("aabbaa", "aba"), ("aabbabb", "abb"), ("", "")],
)  # fmt: skip
def test_a_turn_is_what_was_worked_as_often_as_in_any_other_turn(leaders: str, order: str) -> None:
    """A single press among two of another was a slip, and no turn of its own."""
    assert "".join(turns([Work(name, {}) for name in leaders])) == order


ENDS = {"a": Ends(1.0, 4.0), "b": Ends(0.5, 3.5), "c": Ends(2.0, 4.5), "d": Ends(1.5, 3.0)}


@pytest.mark.parametrize(
    ("names", "order", "pair"),
    [("ab", "ab", None), ("ab", "ba", "ab"), ("ab", "bab", None), ("ab", "aab", None),
     ("abc", "bac", "ab"), ("abc", "acb", "bc"), ("abc", "cba", "ac"), ("abc", "bca", None),
     ("abcd", "badc", None), ("abc", "ca", "ac"), ("abc", "ac", None), ("abc", "b", None),
     ("ab", "", None), ("ab", "xba", "ab")],
)  # fmt: skip
def test_two_plugs_changed_places_where_two_answered_in_each_others_turn(
    names: str, order: str, pair: str | None
) -> None:
    """Just two: three, or two pairs, were worked in an order of somebody's own."""
    found = swapped(names, order, {}, {})
    assert (None if found is None else "".join(found)) == pair


@pytest.mark.parametrize(
    ("now", "then", "told"),
    [
        ({"a": "a", "b": "b"}, {"a": "b", "b": "a"}, True),
        ({"a": "a", "b": "b"}, {"a": "a", "b": "b"}, False),
        ({"a": "a", "b": "a"}, {"a": "a", "b": "a"}, False),
        ({"a": "a", "b": "b"}, {"a": "a"}, True),
        ({"a": "a"}, {"a": "a", "b": "b"}, True),
    ],
)
def test_against_a_record_each_must_fit_the_others_levels_better(
    now: dict[str, str], then: dict[str, str], told: bool
) -> None:
    """Where both fit both, it was the person; where one is not known, the order alone counts."""
    found = swapped(
        "ab",
        "ba",
        {name: ENDS[of] for name, of in now.items()},
        {name: ENDS[of] for name, of in then.items()},
    )
    assert (found is not None) is told


@pytest.mark.parametrize(
    ("first", "second", "pair"),
    [
        (Ends(0.5, 3.5), Ends(1.0, 4.0), True),
        (Ends(0.5, 4.0), Ends(1.0, 3.5), False),
        (Ends(0.625, 3.75), Ends(0.875, 3.75), True),
        (Ends(0.875, 3.75), Ends(0.625, 3.75), False),
        (Ends(0.75, 3.625), Ends(0.75, 3.875), True),
        (Ends(0.75, 3.875), Ends(0.75, 3.625), False),
        (Ends(0.25, 1.75, 2.5), Ends(0.5, 2.0, 2.5), True),
        (Ends(0.5, 2.0, 2.5), Ends(0.25, 1.75, 2.5), False),
        (Ends(0.25, 1.875, 2.5), Ends(0.5, 1.875, 2.5), True),
        (Ends(0.375, 1.75, 2.5), Ends(0.375, 2.0, 2.5), True),
        (Ends(0.0625, 0.4375, 0.625), Ends(0.125, 0.5, 0.625), True),
    ],
)
def test_levels_fit_by_rest_and_full_travel_at_the_supply_of_the_record(
    first: Ends, second: Ends, pair: bool
) -> None:
    """Both ends together; at half the supply each reads half of what it did."""
    then = {"a": Ends(1.0, 4.0, 5.0), "b": Ends(0.5, 3.5, 5.0)}
    found = swapped("ab", "ba", {"a": first, "b": second}, then)
    assert (found is not None) is pair


def test_without_a_supply_levels_are_taken_as_they_are() -> None:
    """One that reads nought is none to divide by."""
    then = {"a": Ends(1.0, 4.0, 5.0), "b": Ends(0.5, 3.5, 5.0)}
    for supply_V in (None, 0.0):
        crossed = {"a": Ends(0.5, 3.5, supply_V), "b": Ends(1.0, 4.0, supply_V)}
        assert swapped("ab", "ba", crossed, then) is not None
    bare = {"a": Ends(1.0, 4.0), "b": Ends(0.5, 3.5)}
    crossed = {"a": Ends(0.5, 3.5, 2.5), "b": Ends(1.0, 4.0, 2.5)}
    assert swapped("ab", "ba", crossed, bare) is not None


@pytest.mark.parametrize("recorded", [False, True])
def test_swapped_plugs_are_told_of_both_and_by_what_is_known(recorded: bool) -> None:
    """With a record each reads what the other did; without one they may have been asked late."""
    about = rig(TWO)
    throttle, lever = presses(1.0, 4.0, THROTTLE_S), presses(0.5, 4.0, REGEN_S)
    earlier = record_of(checked(about, a0=throttle, a1=lever)) if recorded else None
    crossed = checked(about, a0=lever, a1=throttle, earlier=earlier)
    for name, other in (("throttle", "regen"), ("regen", "throttle")):
        found = told(crossed, "channels-swapped", name)
        assert found is not None
        assert f"When {name} was to be worked {other} moved" in found.text
        assert ("reads on record" in found.text) is recorded


TRACKS = {
    "first": CONTROL.format("throttle", "a0") + 'second_track = "second"\n',
    "second": CONTROL.format("second", "a1"),
}


@pytest.mark.parametrize("order", [("first", "second"), ("second", "first")])
def test_two_tracks_are_told_of_the_second_whichever_comes_first(order: tuple[str, str]) -> None:
    """And never as a swapped plug, a joined wire, or cross-talk."""
    about = rig("".join(TRACKS[each] for each in order))
    share = presses(0.0, 1.0, THROTTLE_S)
    wrong = share.copy()
    wrong[480:510] -= 0.25
    for second, code in ((share, "tracks-agree"), (wrong, "tracks-disagree")):
        document = checked(about, a0=1.0 + 3.0 * share, a1=0.5 + 1.5 * second)
        found = [each for each in document.findings if each.code.startswith("tracks")]
        assert [(each.code, each.channel) for each in found] == [(code, "second")]
        assert not {"one-wire", "cross-talk", "signal-open"} & {e.code for e in document.findings}


def test_what_is_missing_of_a_track_is_no_disagreement() -> None:
    """A drop-out at rest is told by itself."""
    share = presses(0.0, 1.0, THROTTLE_S)
    tracks = [volts_signal(1.0 + 3.0 * share, "a"), volts_signal(0.5 + 1.5 * share, "b")]
    signals = signals_of_all(tracks, 100.0)
    first, second = (read_hand(signals, each, None, None) for each in tracks)
    gone = first.volts.copy()
    gone[900:950] = np.nan
    ends = {"a": Ends(1.0, 4.0), "b": Ends(0.5, 2.0)}
    (found,) = track_findings(signals, replace(first, volts=gone), second, ends)
    assert (found.code, found.value) == ("tracks-agree", 0.0)
    for known in ("a", "b"):
        assert list(track_findings(signals, first, second, {known: ends[known]})) == []


def _joined(document: CheckDocument) -> list[tuple[str, str | None]]:
    """What is said of two controls that move together."""
    codes = ("one-wire", "cross-talk", "signal-open", "multiplexer-stuck")
    return [(each.code, each.channel) for each in document.findings if each.code in codes]


BOTH_S = (*THROTTLE_S, *REGEN_S)


@cache
def _apart(span_V: float) -> Record:
    """What is on record of both controls, each worked for itself over so many volts."""
    rest_V = 1.0 if span_V > 0.0 else 4.5
    throttle = presses(rest_V, rest_V + span_V, THROTTLE_S)
    lever = presses(rest_V, rest_V + span_V, REGEN_S)
    return record_of(checked(rig(TWO), a0=throttle, a1=lever))


@pytest.mark.parametrize("rest_V", [1.0, 4.5])
@pytest.mark.parametrize(("moved_V", "code"), [(0.75, "one-wire"), (0.734375, "cross-talk")])
def test_wires_are_joined_from_a_quarter_of_each_others_movement_on(
    rest_V: float, moved_V: float, code: str
) -> None:
    """Of 3 V that is 0.75 V, up or down; a shared ground would have to carry amperes for it."""
    way = 1.0 if rest_V == 1.0 else -1.0
    first = presses(rest_V, rest_V + 3.0 * way, BOTH_S)
    second = presses(rest_V, rest_V + moved_V * way, BOTH_S)
    document = checked(rig(TWO), a0=first, a1=second)
    assert {each for each, _ in _joined(document)} == {code}
    if code == "one-wire":
        found = told(document, "one-wire")
        assert found is not None
        assert (found.value, found.limit) == (25.0, 25.0)


@pytest.mark.parametrize("way", [1.0, -1.0])
@pytest.mark.parametrize(
    ("moves_V", "said"),
    [
        ((2.5, 1.0), [("one-wire", "throttle")]),
        ((2.6, 1.3), [("signal-open", "regen")]),
        ((1.3, 2.6), [("signal-open", "throttle")]),
        ((2.6, 2.6), [("signal-open", "regen")]),
    ],
)
def test_a_control_that_still_reaches_its_span_leads_and_the_other_is_open(
    way: float, moves_V: tuple[float, float], said: list[tuple[str, str]]
) -> None:
    """From 85 % of 3 V on; a bridge between two wires halves what each shows of its own."""
    base_V = 1.0 if way > 0.0 else 4.5
    first, second = (presses(base_V, base_V + moved_V * way, BOTH_S) for moved_V in moves_V)
    document = checked(rig(TWO), a0=first, a1=second, earlier=_apart(3.0 * way))
    assert _joined(document) == said
    if moves_V == (2.6, 1.3):
        found = told(document, "signal-open", "regen")
        assert found is not None
        assert found.value == pytest.approx(50.0)
        assert "follows throttle by 50 %" in found.text


def test_nobody_leads_without_a_record() -> None:
    """However far one of them goes."""
    first, second = presses(0.5, 4.5, BOTH_S), presses(0.5, 2.5, BOTH_S)
    assert _joined(checked(rig(TWO), a0=first, a1=second)) == [("one-wire", "throttle")]


def test_one_press_of_its_own_parts_a_control_from_its_neighbour() -> None:
    """Then what they do together otherwise is cross-talk, of the one that is not worked."""
    first = presses(1.0, 4.0, THROTTLE_S)
    second = presses(1.0, 4.0, REGEN_S) + presses(0.0, 1.0, THROTTLE_S)
    assert _joined(checked(rig(TWO), a0=first, a1=second)) == [("cross-talk", "regen")]


def _hand(name: str = "regen", *, span_V: float = 4.0, sd_V: float = 0.0, **about: object) -> Hand:
    channel = Channel(role="control", column="a0", unit="V", **about)  # type: ignore[arg-type]
    signal = volts_signal(flat(1.0, 10.0, 100.0), name, channel=channel)
    hand = read_hand(signals_of_one(signal, 100.0), signal, None, Ends(1.0, 1.0 + span_V))
    return replace(hand, head_sd_V=sd_V)


def _works(*moves_V: float) -> list[Work]:
    """Works of the throttle in which the lever moved so far, and one of the lever itself."""
    mine = [Work("throttle", {"throttle": 3.0, "regen": moved_V}) for moved_V in moves_V]
    return [*mine, Work("regen", {"throttle": 0.0, "regen": 4.0})]


@pytest.mark.parametrize(("moved_V", "told"), [(0.125, False), (0.140625, True), (-0.125, False),
                                               (-0.140625, True)])  # fmt: skip
def test_cross_talk_is_beyond_a_share_of_its_span(moved_V: float, told: bool) -> None:
    """Of the control that nobody works, by the user's limit of 3.125 % of 4 V, either way."""
    lever = _hand(limits={"cross_talk_pct": 3.125})
    found = list(cross_talk_findings(_works(moved_V), _hand("throttle"), lever, 100.0))
    assert [(each.value, each.limit) for each in found] == ([(3.515625, 3.125)] if told else [])
    for each in found:
        assert f"moves by {1000.0 * moved_V:+.0f} mV" in each.text


@pytest.mark.parametrize(
    ("moves_V", "rate_hz", "noise_V"),
    [((1.0,), 100.0, 0.2), ((1.0,) * 4, 100.0, 0.1), ((1.0,), 400.0, 0.1), ((1.0,), 4.0, 1.0),
     ((1.0,), 1.0, 2.0**0.5), ((1.0,), 0.0, 2.0**0.5)],
)  # fmt: skip
def test_cross_talk_is_beyond_four_deviations_of_the_difference_of_two_means(
    moves_V: tuple[float, ...], rate_hz: float, noise_V: float
) -> None:
    """Each is over half a second of each press, and over one reading at least."""
    lever = _hand(sd_V=0.25)
    for share, beyond in ((0.99, False), (1.01, True)):
        works = _works(*(share * noise_V * each for each in moves_V))
        found = list(cross_talk_findings(works, _hand("throttle"), lever, rate_hz))
        assert bool(found) is beyond


def test_of_several_presses_the_middle_movement_counts_and_the_ground_is_reckoned() -> None:
    """By Ohm's law, where the rig file says what flows while the other is worked."""
    works = _works(0.25, 0.125, 3.0)
    (found,) = cross_talk_findings(works, _hand("throttle", current_A=2.5), _hand(), 100.0)
    assert found.value == 6.25
    assert "If 2.5 A flow then" in found.text
    assert "about 0.1 ohm" in found.text
    (found,) = cross_talk_findings(works, _hand("throttle"), _hand(), 100.0)
    assert "flow then" not in found.text
    assert list(cross_talk_findings(_works(), _hand("throttle"), _hand(), 100.0)) == []


def _load(
    volts: Floats,
    *held_s: tuple[float, float],
    pressed_s: tuple[float, float] | None = None,
    sd_V: float = 0.0,
    current_A: float | None = None,
    **limits: float,
) -> list[tuple[float | None, str]]:
    """What is said of a control at 100 Hz while a load is on: the shift in millivolts, words."""
    channel = Channel(role="control", column="a0", unit="V", limits=limits)
    signal = volts_signal(volts, channel=channel)
    signals: Signals = signals_of_one(signal, 100.0)
    hand = replace(read_hand(signals, signal, None, Ends(1.0, 4.0)), head_sd_V=sd_V, presses=())
    if pressed_s is not None:
        leave_s, back_s = pressed_s
        hand = replace(hand, presses=(Press(leave_s, leave_s, back_s, back_s),))
    about = Channel(role="switch", column="s", unit="V", current_A=current_A)
    throws = [
        throw
        for on_s, off_s in held_s
        for throw in (Throw(on_s, 1, 0.0, on=True), Throw(off_s, 1, 0.0, on=False))
    ]
    brake = volts_signal(volts, "brake", channel=about)
    found = load_findings(
        signals, hand, brake, SwitchFigures(starts_on=False, throws=tuple(throws))
    )
    return [(each.value, each.text) for each in found]


def _lifted(*held_s: tuple[float, float], by_V: float = 0.0625) -> Floats:
    volts = flat(1.0, 15.0, 100.0)
    for on_s, off_s in held_s:
        volts[round(100 * on_s) : round(100 * off_s)] += by_V
    return volts


@pytest.mark.parametrize(
    ("pressed_s", "judged"),
    [((6.5, 8.0), False), ((6.6, 8.0), True), ((3.0, 4.5), False), ((3.0, 4.4), True),
     ((5.2, 5.8), False), ((3.0, 8.0), False)],
)  # fmt: skip
def test_a_load_is_judged_where_the_control_was_not_worked_within_six_tenths(
    pressed_s: tuple[float, float], judged: bool
) -> None:
    """Of a second before it went on and after it went off."""
    assert bool(_load(_lifted((5.0, 6.0)), (5.0, 6.0), pressed_s=pressed_s)) is judged


@pytest.mark.parametrize(("shift_mV", "told"), [(15.625, False), (17.578125, True),
                                                (-15.625, False), (-17.578125, True)])  # fmt: skip
def test_a_load_may_lift_a_ground_up_to_the_limit_itself(shift_mV: float, told: bool) -> None:
    """Up or down; by the user's limit."""
    volts = _lifted((5.0, 6.0), by_V=shift_mV / 1000.0)
    found = _load(volts, (5.0, 6.0), ground_shift_mV=15.625)
    assert [value for value, _ in found] == ([shift_mV] if told else [])


@pytest.mark.parametrize(
    ("held_s", "noise_V"),
    [
        (((5.0, 6.0),), 0.2),  # 50 readings
        (((5.0, 5.32),), 0.25),  # 32 readings
        (((3.0, 4.0), (8.0, 9.0)), 0.02**0.5),  # 100 readings
    ],
)
def test_the_noise_of_a_shift_is_that_of_half_a_second_of_each_hold(
    held_s: tuple[tuple[float, float], ...], noise_V: float
) -> None:
    """Four standard deviations of the difference of two means of them."""
    for share, beyond in ((0.99, False), (1.01, True)):
        volts = _lifted(*held_s, by_V=share * noise_V)
        assert bool(_load(volts, *held_s, sd_V=0.25)) is beyond


def test_the_middle_shift_of_several_holds_counts_and_the_ground_is_reckoned() -> None:
    """62.5 mV at 2.5 A are 0.025 ohm; what was held too briefly or has nothing beside it is out."""
    volts = _lifted((3.0, 4.0), (6.0, 7.0)) + _lifted((9.0, 10.0), by_V=3.0) - 1.0
    held_s = ((3.0, 4.0), (6.0, 7.0), (9.0, 10.0))
    ((value, text),) = _load(volts, *held_s, current_A=2.5)
    assert value == 62.5
    assert "while brake is on" in text
    assert "With 2.5 A that is about 0.025 ohm" in text
    ((_, text),) = _load(volts, *held_s)
    assert "ohm" not in text
    brief = _lifted((5.0, 5.16), by_V=1.0)
    assert _load(brief, (5.0, 5.16)) == []
    assert _load(_lifted((0.0, 15.0)), (0.0, 15.0)) == []


def test_a_load_is_told_of_a_check() -> None:
    """A brake lamp's current lifts both controls by 30 mV while the switch is on."""
    brake = '[channels.brake]\nrole = "switch"\ncolumn = "s"\nunit = "V"\ncurrent_A = 2.0\n'
    lifted = 0.03125 * np.concatenate([level(0.0, 15.0), level(1.0, 2.0), level(0.0, 3.0)])
    document = checked(
        rig(TWO + brake),
        a0=presses(1.0, 4.0, THROTTLE_S) + lifted,
        a1=presses(1.0, 4.0, REGEN_S) + lifted,
        s=160.0 * lifted,
    )
    for name in ("throttle", "regen"):
        found = told(document, "shared-ground", name)
        assert found is not None
        assert found.value == pytest.approx(31.25)


def test_a_load_is_held_against_the_mean_of_before_and_after() -> None:
    """A rest that moved meanwhile, by an eighth of a volt, makes half of it a shift."""
    volts = _lifted((5.0, 6.0), by_V=0.25)
    volts[600:] += 0.125
    ((value, _),) = _load(volts, (5.0, 6.0))
    assert value == 187.5


def test_the_noise_of_a_mean_itself_is_no_cross_talk() -> None:
    """At 4 Hz half a second holds two readings: four deviations of 0.25 V are 1 V."""
    lever = _hand(sd_V=0.25)
    assert list(cross_talk_findings(_works(1.0), _hand("throttle"), lever, 4.0)) == []
    assert list(cross_talk_findings(_works(1.0625), _hand("throttle"), lever, 4.0))


@pytest.mark.parametrize(
    ("moved_V", "said"),
    [(2.125, ("signal-open", "regen")), (2.109375, ("one-wire", "throttle"))],
)
def test_eighty_five_per_cent_of_its_span_itself_leads(
    moved_V: float, said: tuple[str, str]
) -> None:
    """Of 2.5 V on record that is 2.125 V."""
    at_s = (4.0, 8.0, 12.0)
    first, second = presses(1.0, 1.0 + moved_V, at_s), presses(1.0, 2.0, at_s)
    assert _joined(checked(rig(TWO), a0=first, a1=second, earlier=_apart(2.5))) == [said]
