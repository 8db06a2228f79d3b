"""What is said aloud of an event: words of ours alone, never a text of a device or a file.

A name of a rig file is said where it is a word of the trade, and is otherwise "the control that
the page names".
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Final

from calib.guide.events import CABLE, DONE, Kind, LiveEvent
from calib.guide.protocols import Step

VERBS: Final = frozenset({
    "bounce", "flex", "front up", "hand off", "hands off", "hold", "lay down", "lean left",
    "lean right", "let go", "press", "rear up", "record", "set", "shake", "sit", "stand still",
    "turn", "turn back", "turn round", "upright", "watch",
})  # fmt: skip
"""Every verb of the flows; a test reads them off the guide's own modules."""

HOWS: Final = re.compile(r"all the way|once more|quickly|slowly|\d{1,4} turns")

NAMES: Final = frozenset({
    "brake", "clutch", "front brake", "grip", "lever", "pedal", "pitch", "rear brake", "regen",
    "roll", "thumb", "throttle", "wheel",
})  # fmt: skip
"""Own choice: names of hand controls and sensors that a rig file is likely to have."""

VERDICTS: Final = {
    "pass": "pass", "caution": "caution, look at the page",
    "unknown": "unknown, look at the page", "fail": "fail, look at the page",
}  # fmt: skip

LOOK: Final = "look at the page"


def spoken(event: LiveEvent) -> str:
    """What a voice says of an event; empty where a voice would only be in the way."""
    return _SAID[event.kind](event)


def asked(step: Step) -> str:
    """What is asked for: the control, the verb, the way."""
    if step.verb == CABLE:
        return "no data"
    words = [_name(step) if step.control else "", step.verb if step.verb in VERBS else LOOK]
    return ", ".join(filter(None, [*words, step.how if HOWS.fullmatch(step.how) else ""]))


def _name(step: Step) -> str:
    words = step.control.casefold().replace("_", " ").replace("-", " ")
    return words if words in NAMES | VERBS else "the control that the page names"


def _prompted(step: Step) -> str:
    verb = step.verb.casefold()
    return f"{verb}, then the keyboard" if verb in VERBS else "look at the keyboard"


_SAID: Final[dict[Kind, Callable[[LiveEvent], str]]] = {
    Kind.ASKED: lambda event: asked(event.step),
    Kind.HOLDING: lambda event: asked(event.step),
    Kind.COUNTED: lambda event: f"{event.step.done} of {event.step.wanted}",
    Kind.UNCOUNTED: lambda _: "stop and look, not counted",
    Kind.ENOUGH: lambda event: f"{event.step.done} of {event.step.wanted}, enough",
    Kind.INSTEAD: lambda event: f"not that one. {asked(event.step)}",
    Kind.SILENT: lambda _: "no data",
    Kind.BACK: lambda _: "the logger is back",
    Kind.LEFT: lambda event: f"{event.step.left_s or 0.0:.0f} seconds left",
    Kind.MOVES: lambda event: f"{_name(event.step)} moves",
    Kind.RESTS: lambda _: "",
    Kind.PROMPTED: lambda event: _prompted(event.step),
    Kind.ENDED: lambda event: "done" if event.text == DONE else "ended, look at the page",
    Kind.JUDGED: lambda event: VERDICTS.get(event.step.verb, LOOK),
}
