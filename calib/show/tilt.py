"""The tilt sensor: its level zero, its sign, a push, a rest, and poses of an accelerometer."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from calib.show.console import Text
from calib.show.view import (
    Fact,
    Figure,
    Sources,
    Table,
    View,
    figures,
    known,
    number,
    percent,
    spread_text,
    tables,
)
from calib.store.documents.tilt import (
    AxisZeroFigures,
    LevelDocument,
    PosesDocument,
    SignsDocument,
    StillDocument,
    SurgeDocument,
)

HOW = {
    "single": "one standing",
    "turned": "turned end for end",
    "typed-slope": "the floor's slope was typed",
}
CLAIMS = {"full": "bias + scale", "bias": "bias only", "none": "nothing"}
BAR_CHARS = 44
MOST_ROWS = 10
_ANSWERS = {True: "yes", False: "NO", None: None}

PICTURE_CHARS: Final = 74
REAR_AT: Final = 16
FRONT_AT: Final = 56
ROWS_PER_DEG: Final = 1.6
MOST_RISE: Final = 3.0
_WHEEL: Final = ("╭───╮", "│ · │", "╰───╯")
_LEVELS: Final = "▁▂▃▄▅▆▇█"

_Row = list[str]


def level_view(document: LevelDocument) -> View:
    """What is shown of a level zero."""
    count = f"{document.standings} standings, " if document.standings > 1 else ""
    pitch, good = document.pitch, document.verdict.is_good
    named = (("pitch", pitch), ("roll", document.roll), ("shown", document.shown))
    axes = [(name, axis) for name, axis in named if axis is not None]
    return View(
        document,
        about=f"level zero: {count}{HOW[document.method]}",
        right=f"{document.basis}'s degrees",
        title="Level zero",
        figures=()
        if pitch is None
        else figures(
            ("level reads", pitch.zero, "+.2f", "deg"),
            ("give or take (95 %)", pitch.u95, ".2f", "deg"),
        ),
        facts=tuple(fact for name, axis in axes for fact in _axis(name, axis, good=good)),
        sources=tuple(Sources(name, "°", axis.budget) for name, axis in axes if axis.budget),
        picture=() if pitch is None or not good else _standing(pitch),
    )


def _axis(name: str, axis: AxisZeroFigures, *, good: bool) -> Iterator[Fact]:
    """What is known of one axis; its zero only where it may be built upon."""
    if good:
        yield Fact(name, f"level reads {axis.zero:+.2f}°{spread_text(axis.u95, 2)}")
    yield from known(
        (f"{name}, as it stood", f"{axis.reading:+.2f}°"),
        (f"{name}, floor", number(axis.floor_slope, 2, "°", axis.expanded(axis.floor_slope_u))),
        ("rider's tilt", number(axis.rider_tilt, 2, "°", axis.expanded(axis.rider_tilt_u))),
    )


def _standing(pitch: AxisZeroFigures) -> list[Text]:
    """Two wheels on the floor line as it was in the first standing."""
    slope = pitch.floor_slope
    if slope is None:
        words = "the floor's slope is not known, and is in the zero"
    else:
        end = "front" if slope >= 0 else "rear"
        floor = f"{abs(slope):.2f} ± {pitch.expanded(pitch.floor_slope_u) or 0.0:.2f} degrees"
        words = f"floor {floor} (95 %), {end} higher (drawn steeper)"
    above = f"here the sensor reads {pitch.reading:+.2f}; truly level it reads {pitch.zero:+.2f}"
    return _two_wheels(slope, words, above)


def signs_view(document: SignsDocument) -> View:
    """What is shown of a proof of sign."""
    return View(
        document,
        about="sign of the tilt sensor",
        right=f"{document.basis}'s degrees",
        title="Sign, axis and scale of the tilt sensor",
        figures=_sign(document),
        facts=known(
            ("it counts", document.convention if document.verdict.is_good else None),
            ("the controller expects", document.expects),
            ("pitch answers to the nose alone", _ANSWERS[document.axis_ok]),
            ("measured over true angle", number(document.scale_ratio, 2, "")),
            ("gravity over what it must be", number(document.gravity_ratio, 3, "")),
            ("share of a lean in pitch", percent(document.cross_share)),
            ("turned about the upright axis", number(document.yaw_deg, 1, "°")),
            ("accelerometer", document.mounting),
            ("late by", number(document.lag_s, 2, "s")),
        ),
        tables=_poses(document),
        picture=_nose_up(document) if document.verdict.is_good else (),
    )


def _sign(document: SignsDocument) -> tuple[Figure, ...]:
    if document.convention is None:
        return ()
    way = Figure("nose up, reading goes", "up" if document.pitch_sign == 1 else "down", "")
    scale = (f"of what the {document.scale_against} says", document.scale_ratio, ".2f", "")
    return (way, *figures(scale))


def _poses(document: SignsDocument) -> tuple[Table, ...]:
    """What each pose read; the change of roll only where something shows it."""
    columns = 4 if any(each.roll_change is not None for each in document.poses) else 3
    head = ("pose", "pitch", "change of pitch", "change of roll")
    rows = (
        (
            each.pose,
            f"{each.pitch:+.2f}°",
            f"{each.pitch_change:+.2f}°",
            number(each.roll_change, 2, "°") or "not read",
        )
        for each in document.poses
    )
    return tables(head[:columns], tuple(row[:columns] for row in rows))


def _nose_up(document: SignsDocument) -> list[Text]:
    front = next((pose for pose in document.poses if pose.pose == "front raised"), None)
    if front is None or document.expected_deg is None:
        return []
    expects = f"the controller expects: {document.expects or 'not known'}"
    moved = f"the reading moved by {front.pitch_change:+.1f} degrees"
    above = f"nose up by {document.expected_deg:.1f}; {moved}"
    return _two_wheels(0.0, expects, above, block_rows=1)


def surge_view(document: SurgeDocument) -> View:
    """What is shown of a shake fore and aft."""
    launched = document.launch_false_pitch_deg
    launch = "" if launched is None else f"a launch at {document.launch_m_s2:.1f} m/s²"
    return View(
        document,
        about="false pitch of a push",
        title="Push read as tilt",
        figures=figures(
            ("shaken, it showed", document.false_pitch_deg, ".1f", "deg"),
            (launch, launched, ".1f", "deg"),
        ),
        facts=known(
            ("tells tilt from push", _ANSWERS[document.fused]),
            ("false pitch in the shake", number(document.false_pitch_deg, 1, "°")),
            ("false pitch in a launch", number(launched, 1, "°")),
            ("launch assumed", number(document.launch_m_s2, 1, "m/s²")),
            ("strength of the shake", number(document.shake_g, 2, "g")),
            ("rate of the shake", number(document.shake_hz, 1, "Hz")),
            ("share of a bare accelerometer's", percent(document.gain)),
        ),
    )


def still_view(document: StillDocument) -> View:
    """What is shown of a rest."""
    unit, drift, name = document.unit, document.drift_per_h, document.channel or "pitch"
    return View(
        document,
        about=f"{name} at rest",
        right=f"{document.hold_s or 0.0:.0f} s of rest",
        title=f"Noise and drift of {name}",
        figures=figures(
            ("average for", document.average_s, ".3g", "s"),
            ("drift an hour", drift, "+.2g", unit),
        ),
        facts=known(
            ("noise of one reading", number(document.noise, 4, unit)),
            ("average over", number(document.average_s, 1, "s")),
            ("drift", number(drift, 4, f"{unit}/h", document.drift_expanded_per_h)),
            ("late by", number(document.lag_s, 2, "s")),
        ),
        more=_curve_lines(document) if document.verdict.is_good else (),
    )


def _curve_lines(document: StillDocument) -> list[Text]:
    """Averages of each length and how far one differs from the next, as bars."""
    if not document.sigma:
        return []
    stride = max(1, math.ceil(len(document.sigma) / MOST_ROWS))
    tau, sigma = document.tau_s[::stride], document.sigma[::stride]
    most = max(sigma)
    lines = [Text("  averaged for    differs from the next by (Allan deviation)")]
    for seconds, spread in zip(tau, sigma, strict=True):
        bar = "▆" * max(1, round(BAR_CHARS * spread / most)) if most > 0 else ""
        lines.append(Text(f"  {seconds:10.3g} s  {spread:9.2g} {document.unit:<4} {bar}"))
    return lines


def poses_view(document: PosesDocument) -> View:
    """What is shown of an accelerometer trued by poses."""
    terms = _terms(document) if document.verdict.is_good else ()
    return View(
        document,
        about="accelerometer trued by poses",
        right=f"{document.distinct} different poses",
        title="Accelerometer trued by still poses",
        figures=(Figure("the poses support", CLAIMS[document.claim], ""),),
        facts=known(
            ("poses", f"{document.poses}, {document.distinct} of them different"),
            ("uncertainty of the bias", number(document.u, 4, "g")),
            ("|g| off before", number(document.raw_rms_g, 4, "g")),
            ("|g| off after", number(document.rms_g, 4, "g")),
        ),
        tables=terms,
        notes=(
            "Written to the rig file; earlier tilt evidence is now stale."
            if terms
            else "The rig file is left as it was.",
        ),
    )


def _terms(document: PosesDocument) -> tuple[Table, ...]:
    """Bias of each axis, and its row of the matrix where that is claimed; none without a bias."""
    if document.bias is None:
        return ()
    matrix = document.matrix or ((), (), ())
    rows = tuple(
        (axis, f"{offset:+.4f} g", *(f"{term:+.4f}" for term in terms))
        for axis, offset, terms in zip("xyz", document.bias, matrix, strict=True)
    )
    head = ("axis", "bias", "from x", "from y", "from z")
    return tables(head[: len(rows[0])], rows)


def _two_wheels(
    floor_deg: float | None, floor_words: str, bubble_words: str, *, block_rows: int = 0
) -> list[Text]:
    """The machine from its left side, in rows of at most 75 columns; the floor is drawn steeper.

    The front wheel is on the right. Where the floor's slope is not known, its line is broken.

    Args:
        floor_deg: Slope of the floor, front higher positive; None where it is not known.
        floor_words: What is written under the floor line.
        bubble_words: What is written above the machine.
        block_rows: Rows of plank under the front wheel; 0 for none.
    """
    rise = max(-MOST_RISE, min(MOST_RISE, ROWS_PER_DEG * (floor_deg or 0.0)))
    rear, front = max(-rise, 0.0), max(rise, 0.0)
    # From the foot upward: the floor, three rows of wheel, and one that stays free.
    grid = [[" "] * PICTURE_CHARS for _ in range(5 + math.ceil(max(rear, front)) + block_rows)]
    _draw_floor(grid, rear, front, known=floor_deg is not None)
    for at, lift in ((REAR_AT, rear), (FRONT_AT, front + block_rows)):
        for offset, part in enumerate(reversed(_WHEEL)):
            _put(grid[-2 - round(lift) - offset], at - 2, part)
    for row in range(block_rows):
        _put(grid[-2 - round(front) - row], FRONT_AT - 4, "▓" * 9)
    _draw_frame(grid, rear, front + block_rows)
    names = " " * (REAR_AT - 2) + "rear".ljust(FRONT_AT - REAR_AT) + "front"
    drawn = [row for row in grid if "".join(row).strip()]
    rows = ["".join(row) for row in (bubble_words.center(PICTURE_CHARS), *drawn, names)]
    return [Text(f" {row.rstrip()}") for row in (*rows, floor_words.center(PICTURE_CHARS))]


def _draw_floor(grid: list[_Row], rear: float, front: float, *, known: bool) -> None:
    """The floor line, in eighths of a row."""
    slope = (front - rear) / (FRONT_AT - REAR_AT)
    for column in range(4, PICTURE_CHARS - 4):
        if known or column % 4 <= 1:
            eighths = round(8 * (rear + slope * (column - REAR_AT)))
            row, part = divmod(max(0, eighths), 8)
            grid[-1 - row][column] = _LEVELS[part]


def _draw_frame(grid: list[_Row], rear: float, front: float) -> None:
    """The machine between the axles."""
    start, stop = REAR_AT + 4, FRONT_AT - 4
    for column in range(start, stop + 1):
        share = (column - start) / (stop - start)
        grid[-3 - round(rear + (front - rear) * share)][column] = "═"


def _put(row: _Row, at: int, text: str) -> None:
    """Put a text into a row."""
    row[at : at + len(text)] = text
