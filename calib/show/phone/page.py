"""What a phone shows at one moment, as the JSON that its page reads: texts neutral, places shares.

The page itself only puts texts into their places: what is said, and how, is decided here.
"""

from __future__ import annotations

from dataclasses import replace

import msgspec

from calib.errors import CalibError
from calib.guide.events import CABLE, DONE, LiveEvent
from calib.guide.protocols import Live, Reading, Step
from calib.show.live import figure_of, fresh_value, freshness, how_of, place_of, seen_ends
from calib.show.ruler import SUPPLY_V
from calib.show.view import View, behind
from calib.store.text import neutral

NAME_CHARS, TEXT_CHARS, LONGEST_CHARS = 24, 160, 400
MOST_NEEDS, MOST_VALUES = 3, 12


class Value(msgspec.Struct, frozen=True, kw_only=True):
    """One channel.

    Attributes:
        name: Its name.
        text: Its value with its unit, or since when there is none.
        fresh: Whether the value can be believed.
        place: Where it lies between the ends of its scale, 0 to 1; None where there is none.
        seen: Where the lowest and the highest that was seen lie.
        ends: What stands at the two ends.
    """

    name: str
    text: str
    fresh: bool
    place: float | None = None
    seen: tuple[float, float] = (0.0, 0.0)
    ends: tuple[str, str] = ("", "")


class Page(msgspec.Struct, frozen=True, kw_only=True):
    """All that is on the page.

    Attributes:
        state: Which of its looks it has: "live", "alarm", "keyboard", "result" or "ended".
        verb: The loud words: what to do, or the verdict.
        control: What the verb is about.
        count: How many are counted, "2 of 5".
        how: In which way, or what is left of a hold.
        instead: What was worked in place of it.
        detail: A sentence.
        place: Which step of how many.
        hold: How far a hold is, 0 to 1; None where there is none.
        needs: What is still needed, or what to do about a finding.
        left: When it ends as broken off, where nobody works.
        values: The channels.
        figures: The large figures of a result: label and number.
        small: What came so far.
    """

    state: str = "live"
    verb: str = ""
    control: str = ""
    count: str = ""
    how: str = ""
    instead: str = ""
    detail: str = ""
    place: str = ""
    hold: float | None = None
    needs: tuple[str, ...] = ()
    left: str = ""
    values: tuple[Value, ...] = ()
    figures: tuple[tuple[str, str], ...] = ()
    small: str = ""


START = Page(state="keyboard", verb="wait", detail="calib is getting ready: look at its terminal.")

_FOUR = "Four are looking on already. This page tries again by itself."
FULL = Page(state="ended", verb="full", detail=_FOUR)


def live_page(live: Live, since_s: float) -> Page:
    """A flow that runs.

    Args:
        live: What the flow said last.
        since_s: How long ago that was, s: it makes every value older.
    """
    step = live.step
    readings = live.readings[:MOST_VALUES]
    return Page(
        state="alarm" if step.instead or step.verb == CABLE else "live",
        verb=neutral(step.verb, TEXT_CHARS),
        control=neutral(step.control, NAME_CHARS),
        count="" if step.wanted is None else f"{step.done} of {step.wanted}",
        how=neutral(how_of(step), TEXT_CHARS),
        instead=neutral(step.instead, NAME_CHARS),
        detail=neutral(step.detail, TEXT_CHARS),
        place=place_of(step),
        hold=_held(step),
        needs=tuple(neutral(each, TEXT_CHARS) for each in step.needs[:MOST_NEEDS]),
        left="" if step.left_s is None else f"{step.left_s:.0f} s left, then it ends",
        values=tuple(_value(replace(each, age_s=each.age_s + since_s)) for each in readings),
        small=f"{live.elapsed_s:.0f} s, {live.samples} samples, {live.rejected_lines} rejected",
    )


def _held(step: Step) -> float | None:
    hold = step.hold
    if hold is None or hold.wanted_s <= 0.0:
        return None
    return min(1.0, hold.done_s / hold.wanted_s)


def _value(reading: Reading) -> Value:
    name = neutral(reading.channel, NAME_CHARS)
    value = fresh_value(reading)
    if value is None:
        return Value(name=name, text=freshness(reading), fresh=False)
    text = figure_of(reading, value)
    low, high = seen_ends(reading, value)
    left, right = (0.0, max(SUPPLY_V, high)) if reading.unit == "V" else (low, high)
    if not right > left:
        return Value(name=name, text=text, fresh=True)
    place, first, last = ((each - left) / (right - left) for each in (value, low, high))
    place, seen = min(max(place, 0.0), 1.0), (max(first, 0.0), min(last, 1.0))
    unit = behind(reading.unit)
    ends = (f"{left:.2f}{unit}", f"{right:.2f}{unit}")
    return Value(name=name, text=text, fresh=True, place=place, seen=seen, ends=ends)


def prompt_page(event: LiveEvent) -> Page:
    """Something is wanted at the keyboard."""
    verb, detail = neutral(event.step.verb, TEXT_CHARS), neutral(event.text, LONGEST_CHARS)
    return Page(state="keyboard", verb=verb, how="at the keyboard", detail=detail)


def ended_page(text: str) -> Page:
    """A flow that is over, and not judged yet."""
    verb = "done" if text == DONE else "ended"
    return Page(state="ended", verb=verb, detail=neutral(text, LONGEST_CHARS))


def error_page(error: CalibError) -> Page:
    """A command that could not do its work."""
    what, hint = neutral(error.what, LONGEST_CHARS), neutral(error.hint, LONGEST_CHARS)
    return Page(state="ended", verb="stopped", detail=what, needs=(hint,))


def result_page(view: View) -> Page:
    """A verdict: its figures, the weightiest finding and what to do about it."""
    worst = next(iter(view.findings), None)
    return Page(
        state="result" if view.verdict.is_good else "alarm",
        verb=view.verdict.value,
        control=neutral(view.about, TEXT_CHARS),
        detail="" if worst is None else neutral(worst.text, LONGEST_CHARS),
        needs=(neutral(worst.action, LONGEST_CHARS),) if worst and worst.action else (),
        figures=tuple(
            (neutral(each.label, TEXT_CHARS), neutral(each.text, NAME_CHARS)) for each in view.large
        ),
    )
