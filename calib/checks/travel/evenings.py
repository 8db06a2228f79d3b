"""Several evenings of one control: which records are evenings, and what is said of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from calib.controls.evenings import (
    LEAST_EVENINGS,
    Evening,
    evening_limits,
    evening_of,
    sd_of_evenings,
)
from calib.controls.travel import LevelMeasurement
from calib.store.documents import said
from calib.store.documents.travel import LevelFigures, TravelDocument
from calib.store.records import Record

APART = timedelta(hours=6)
"""Own choice: what is measured within this time is one evening, at one temperature of the place."""

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def evenings_before(
    found: Sequence[tuple[Record, TravelDocument]], tonight: datetime, condition: str | None
) -> tuple[TravelDocument, ...]:
    """The newest document of each evening before tonight, oldest first.

    Args:
        found: Good records of the control under the rig's inputs as they are now, oldest first.
        tonight: When tonight's capture was measured.
        condition: What the person says of tonight; other conditions are other evenings.
    """
    evenings: list[tuple[datetime, TravelDocument]] = []
    for record, document in found:
        if record.condition != condition or tonight - record.when < APART:
            continue
        if evenings and record.when - evenings[-1][0] < APART:
            evenings.pop()
        evenings.append((record.when, document))
    return tuple(document for _, document in evenings)


def over_evenings(
    rest: LevelMeasurement, full: LevelMeasurement, earlier: Sequence[TravelDocument]
) -> tuple[LevelMeasurement, LevelMeasurement]:
    """Tonight's levels with limits that hold for the next evening, where there are enough."""
    rests = _evenings([document.rest for document in earlier])
    fulls = _evenings([document.full for document in earlier])
    if min(len(rests), len(fulls)) + 1 < LEAST_EVENINGS:
        return rest, full
    return (
        replace(rest, limits=evening_limits(rest, rests)),
        replace(full, limits=evening_limits(full, fulls)),
    )


def evening_findings(rest: LevelMeasurement, earlier: Sequence[TravelDocument]) -> said.Findings:
    """For which evenings the limit holds."""
    evenings = [*_evenings([document.rest for document in earlier]), evening_of(rest.spread)]
    count = len(evenings)
    if rest.limits.method != "evenings":
        yield said.passes(
            "this-evening",
            float(count),
            float(LEAST_EVENINGS),
            in_words=_in_words(count),
            is_or_are="is" if count == 1 else "are",
        )
        return
    moved_V = sd_of_evenings(evenings)
    in_words = _in_words(count).capitalize()
    yield said.passes("evenings", moved_V, In_words=in_words, mV=1000.0 * moved_V)


def _evenings(levels: Sequence[LevelFigures | None]) -> list[Evening]:
    """One end of the travel on the evenings on file."""
    return [
        Evening(
            mean_V=level.mean,
            stays=level.plateaus,
            sd_means_V=math.hypot(
                level.sd_between,
                level.sd_within * math.sqrt(level.plateaus / max(level.n_effective, 1.0)),
            ),
            sd_within_V=level.sd_within,
            dof_within=max(1.0, level.n_effective - level.plateaus),
        )
        for level in levels
        if level is not None and level.plateaus > 1
    ]


def _in_words(count: int) -> str:
    return _NUMBERS[count] if count < len(_NUMBERS) else str(count)
