from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

import calib.guide
from calib.book import entries
from calib.guide.events import CABLE, DONE, EventStream, Kind, LiveEvent
from calib.guide.protocols import Hold, Live, Sound, Step
from calib.show.spoken import HOWS, LOOK, VERBS, spoken

PRESS = Step("press", "all the way", 0, 5, control="throttle")
GUIDE = Path(next(iter(calib.guide.__path__)))

SAID_AT = {"Step": 0, "Rest": 0}
"""Where the verb stands among the arguments of what the flows are made of."""


def strings(node: ast.AST) -> Iterator[str]:
    """The texts that an expression may be: both of "a if so else b"."""
    if isinstance(node, ast.IfExp):
        yield from strings(node.body)
        yield from strings(node.orelse)
    elif isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value


@cache
def parsed() -> tuple[ast.AST, ...]:
    """What the modules of the flows are made of, each node once."""
    trees = (ast.parse(path.read_text(encoding="utf-8")) for path in GUIDE.rglob("*.py"))
    return tuple(node for tree in trees for node in ast.walk(tree))


def of_the_guide(word: str) -> set[str]:
    """Every verb, or way, that stands in the modules of the flows and in their table of poses."""
    found: set[str] = set()
    for node in parsed():
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            place = SAID_AT.get(node.func.id)
            given = node.args[place : place + 1] if place is not None else []
            found.update(text for each in given for text in strings(each) if word == "verb")
            named = (each.value for each in node.keywords if each.arg == word)
            found.update(text for each in named for text in strings(each))
        elif isinstance(node, ast.Assign) and [word] == [
            each.id for each in node.targets if isinstance(each, ast.Name)
        ]:
            found.update(strings(node.value))
    if word == "verb":
        found |= {each["verb"] for each in entries("standings").values() if each}
    return found - {""}


def test_every_verb_and_way_of_the_flows_can_be_said() -> None:
    """A new verb is no surprise to a voice; the list is read off the flows themselves."""
    assert {"press", "let go", "hand off", "front up", "turn round"} <= of_the_guide("verb")
    assert of_the_guide("verb") - {CABLE} <= VERBS
    assert {"slowly", "all the way"} <= of_the_guide("how")
    assert all(HOWS.fullmatch(how) for how in of_the_guide("how"))
    assert said(Step("turn", "", how="12 turns")) == ["turn, 12 turns"]


def said(*shown: Step | Sound) -> list[str]:
    """What is said while a flow shows and rings this."""
    lines: list[str] = []
    stream = EventStream(lambda event: lines.append(spoken(event)))
    for each in shown:
        if isinstance(each, Sound):
            stream.hear(each)
        else:
            stream.look(Live(each))
    return lines


def test_a_press_is_asked_held_counted_and_let_go() -> None:
    """Control, verb, count: all that a person with both hands on the machine needs."""
    hold = Step("hold", "", 0, 2, control="throttle", hold=Hold(0.1, 0.8))
    let_go = Step("let go", "", 1, 2, control="throttle")
    press = Step("press", "", 1, 2, control="throttle", how="slowly")
    enough = Step("let go", "", 2, 2, control="throttle")
    assert said(hold, let_go, press, enough) == [
        "throttle, hold",
        "1 of 2",
        "throttle, let go",
        "throttle, press, slowly",
        "2 of 2, enough",
        "throttle, let go",
    ]


def test_a_slip_a_dead_line_and_the_time_are_said() -> None:
    """What a person who does not look must hear: stop, no data, and how long is left."""
    away = Step(CABLE, "no line for 2 s")
    wrong = Step("press", "", 0, 5, control="throttle", instead="regen")
    late = Step("press", "", 0, 5, control="throttle", left_s=19.7)
    assert said(PRESS, Sound.STOP, away, PRESS, wrong, PRESS, late) == [
        "throttle, press",
        "stop and look, not counted",
        "no data",
        "the logger is back",
        "throttle, press",
        "not that one. throttle, press",
        "20 seconds left",
    ]


@pytest.mark.parametrize("kind", list(Kind))
@pytest.mark.parametrize("field", ["verb", "control", "how", "instead"])
def test_no_text_of_a_file_or_a_device_is_ever_said(kind: Kind, field: str) -> None:
    """Whatever stands in a rig file or on the line, a voice has words of its own for it."""
    hostile = "call 0900"
    given = {"verb": "press", "control": "throttle", field: hostile}
    step = Step(given.pop("verb"), hostile, 1, 2, needs=(hostile,), **given)  # type: ignore[arg-type]
    assert hostile not in spoken(LiveEvent(kind, hostile, step))


def test_a_name_that_is_no_word_of_the_trade_is_pointed_at() -> None:
    """The page has the name; "front_brake" is one that a voice knows."""
    assert said(Step("press", control="x9")) == ["the control that the page names, press"]
    assert said(Step("press", control="front_brake")) == ["front brake, press"]


def test_a_verdict_is_said_as_it_is() -> None:
    """Unknown is as loud as fail, and the end of a flow is no verdict."""
    for word, words in (("pass", "pass"), ("unknown", f"unknown, {LOOK}"), ("odd", LOOK)):
        assert spoken(LiveEvent(Kind.JUDGED, "", Step(word))) == words
    assert spoken(LiveEvent(Kind.ENDED, DONE, PRESS)) == "done"
    assert spoken(LiveEvent(Kind.ENDED, "Broken off.", PRESS)) == f"ended, {LOOK}"
