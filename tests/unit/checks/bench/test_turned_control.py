"""A control that reads high at rest, or works backwards since the record; and how it comes back."""

from __future__ import annotations

import numpy as np
import pytest

from calib.store.documents.check import CheckDocument
from calib.store.documents.finding import Severity
from tests.records import record_of
from tests.unit.checks.bench.evening import (
    CONTROL,
    REGEN_S,
    THROTTLE_S,
    Floats,
    checked,
    presses,
    rig,
    told,
)

ONE = CONTROL.format("throttle", "a0")
TURNED = ("reversed", "which-end-is-rest", "direction-changed", "ended-in-hand")


def _said(document: CheckDocument, channel: str = "throttle") -> list[str]:
    """What is said of the way round of a control."""
    return [e.code for e in document.findings if e.code in TURNED and e.channel == channel]


def _reversed() -> Floats:
    """Two presses, 120 readings each nearer to full travel; 100 stand just in the middle."""
    press = [np.linspace(4.0, 1.0, 30), np.full(100, 1.0), np.linspace(1.0, 4.0, 10)]
    half = [np.linspace(4.0, 2.5, 30), np.full(70, 2.5), np.linspace(2.5, 4.0, 10)]
    rest = np.full(300, 4.0)
    ways = np.concatenate([rest, *press, rest, *press, rest, *half])
    return np.concatenate([ways, np.full(2000 - len(ways), 4.0)])


@pytest.mark.parametrize(("limit_pct", "code"), [(11.9, "which-end-is-rest"), (12.0, "reversed")])
def test_which_end_is_rest_is_asked_by_the_time_at_what_looks_like_full_travel(
    limit_pct: float, code: str
) -> None:
    """Nearer to full travel than to rest; what is in the middle is at neither."""
    about = rig(f"{ONE}limits = {{pressed_pct = {limit_pct}}}\n")
    document = checked(about, a0=_reversed())
    assert _said(document) == [code]
    if code == "which-end-is-rest":
        found = told(document, code)
        assert found is not None
        assert (found.value, found.limit, found.unit) == (12.0, limit_pct, "%")
        assert "is reversed or it was held" in found.text
        assert "for 12 % of the time" in found.text


@pytest.mark.parametrize("span_V", [0.25, 0.5, 3.0])
def test_a_control_that_reads_higher_when_it_is_pressed_is_not_reversed(span_V: float) -> None:
    """However small its travel, and however long it was held."""
    held = presses(1.0, 1.0 + span_V, (4.0,))
    held[500:1700] = 1.0 + span_V
    held[1700:1710] = np.linspace(1.0 + span_V, 1.0, 10)
    for volts in (presses(1.0, 1.0 + span_V, THROTTLE_S), held):
        assert _said(checked(rig(ONE), a0=volts)) == []


def test_a_control_that_was_reversed_on_record_may_stay_so() -> None:
    """It is as it was built; and it is told where it reads the other way since."""
    span_V = 0.75
    up, down = presses(1.0, 1.0 + span_V, THROTTLE_S), presses(1.0 + span_V, 1.0, THROTTLE_S)
    for then, now, said in ((down, down, []), (down, up, ["direction-changed"]),
                            (up, down, ["direction-changed"]), (up, up, [])):  # fmt: skip
        earlier = record_of(checked(rig(ONE), a0=then))
        assert _said(checked(rig(ONE), a0=now, earlier=earlier)) == said


def test_held_at_first_against_the_record_is_said_in_its_own_words() -> None:
    """It may work backwards since the record: with a record nobody would say reversed."""
    earlier = record_of(checked(rig(ONE), a0=presses(1.0, 4.0, THROTTLE_S)))
    held = presses(1.0, 4.0, (16.0,))
    held[:300] = 4.0
    held[300:310] = np.linspace(4.0, 1.0, 10)
    found = told(checked(rig(ONE), a0=held, earlier=earlier), "which-end-is-rest")
    assert found is not None
    assert found.severity is Severity.UNKNOWN
    assert "works backwards since the record" in found.text


TRACKS = (
    CONTROL.format("throttle", "a0") + 'second_track = "second"\n' + CONTROL.format("second", "a1")
)


def test_a_second_track_that_reads_low_when_pressed_is_as_it_was_built() -> None:
    """Many second tracks fall as the first one rises; where they turned since the record, told."""
    first = presses(1.0, 4.0, THROTTLE_S)
    falls, rises = presses(4.0, 1.0, THROTTLE_S), presses(1.0, 4.0, THROTTLE_S)
    alone = checked(rig(TRACKS), a0=first, a1=falls)
    assert _said(alone, "second") == []
    assert told(alone, "tracks-agree", "second") is not None
    same = checked(rig(TRACKS), a0=first, a1=falls, earlier=record_of(alone))
    assert _said(same, "second") == []
    turned = checked(rig(TRACKS), a0=first, a1=rises, earlier=record_of(alone))
    assert _said(turned, "second") == ["direction-changed"]


def test_a_second_track_may_have_any_span() -> None:
    """A span of 1 V is short for a control, and usual for its second track."""
    document = checked(
        rig(TRACKS), a0=presses(1.0, 2.0, THROTTLE_S), a1=presses(0.5, 1.0, THROTTLE_S)
    )
    assert told(document, "span-short", "throttle") is not None
    assert told(document, "span-short", "second") is None


@pytest.mark.parametrize("starts_s", [5.45, 10.0])
def test_the_way_back_of_a_control_ends_where_another_one_is_pressed(starts_s: float) -> None:
    """What its neighbour lifts it by, soon after it came home, is no slow return of its own."""
    about = rig(ONE + CONTROL.format("regen", "a1"))
    lifted = presses(1.0, 4.0, (4.0,)) + presses(0.0, 0.45, (starts_s,))
    document = checked(about, a0=lifted, a1=presses(1.0, 4.0, (starts_s,)))
    figures = document.channels["throttle"].figures
    assert figures is not None
    assert figures.return_s == pytest.approx(0.09, abs=0.03)
    assert told(document, "return-slow", "throttle") is None


@pytest.mark.parametrize(("ends_V", "ended"), [(1.0, False), (4.0, True)])
def test_a_control_that_is_in_the_hand_when_it_ends_is_still_compared(
    ends_V: float, ended: bool
) -> None:
    """Its rest moved by a tenth of the span since the record, and that is told as well."""
    earlier = record_of(checked(rig(ONE), a0=presses(1.0, 4.0, REGEN_S)))
    volts = presses(1.3, 4.0, (4.0, 8.0))
    volts[1800:1830] = np.linspace(1.3, max(ends_V, 1.3), 30)
    volts[1830:] = max(ends_V, 1.3)
    document = checked(rig(ONE), a0=volts, earlier=earlier)
    assert (told(document, "ended-in-hand", "throttle") is not None) is ended
    assert told(document, "rest-moved", "throttle") is not None
