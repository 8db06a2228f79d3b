"""Several evenings of one control: which records are evenings, the limits over them, the words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from calib.controls.travel import LevelMeasurement
from calib.measure.distributions import normal_quantile
from calib.measure.spread import LevelSpread
from calib.measure.tails import NoiseTail
from calib.measure.tolerance import STEP_SHARE, Reach, ToleranceLimits, reach
from calib.measure.uncertainty import effective_dof
from calib.store.documents import said
from calib.store.documents.travel import LevelFigures, TravelDocument
from calib.store.records import Record

APART = timedelta(hours=6)
"""Own choice: what is measured within this time is one evening, at one temperature of the place."""

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")

# Requirement of this project: with fewer evenings their spread says too little to be a limit.
LEAST_EVENINGS = 4


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
    yield said.passes("evenings", moved_V, In_words=in_words)


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


@dataclass(frozen=True)
class Evening:
    """One end of the travel as one evening measured it, V.

    Attributes:
        mean_V: Mean of the stays' levels.
        stays: Count of stays, one a release or press.
        sd_means_V: Standard deviation of the stays' levels as measured.
        sd_within_V: Standard deviation of a reading about its stay's level.
        dof_within: Degrees of freedom of that.
    """

    mean_V: float
    stays: int
    sd_means_V: float
    sd_within_V: float
    dof_within: float


def evening_of(spread: LevelSpread) -> Evening:
    """Tonight's evening."""
    return Evening(
        mean_V=spread.mean,
        stays=spread.plateaus,
        sd_means_V=spread.sd_means,
        sd_within_V=spread.sd_within,
        dof_within=spread.dof_within,
    )


def sd_of_evenings(evenings: Sequence[Evening]) -> float:
    """Standard deviation of the means of at least two evenings, V."""
    return float(np.std([evening.mean_V for evening in evenings], ddof=1))


def evening_limits(tonight: LevelMeasurement, earlier: Sequence[Evening]) -> ToleranceLimits:
    """Limits of one future reading on a future evening, V.

    Args:
        tonight: What was measured tonight.
        earlier: The evenings before, at least three.

    Returns:
        The limits, counted from the grand mean of the evenings.

    Raises:
        ValueError: If there are fewer than four evenings in all.

    Source: `calib.measure.tolerance`, *Evenings*; what presses and noise scatter within an evening
    is pooled over the evenings, its degrees of freedom after JCGM 100, eq. (G.2b).
    """
    evenings = (*earlier, evening_of(tonight.spread))
    if len(evenings) < LEAST_EVENINGS:
        msg = f"{len(evenings)} evenings: their spread needs at least {LEAST_EVENINGS}."
        raise ValueError(msg)
    limits, step_V = tonight.limits, STEP_SHARE * tonight.spread.step_sd
    between_V = max(sd_of_evenings(evenings), step_V)
    press_V, press_dof = _pooled([(each.sd_means_V, each.stays - 1.0) for each in evenings])
    noise_V, noise_dof = _pooled([(each.sd_within_V, each.dof_within) for each in evenings])
    press_V = max(press_V, step_V)
    dof = effective_dof([(press_V, press_dof), (noise_V, noise_dof)])

    def of(tail: NoiseTail) -> Reach:
        z = normal_quantile(limits.content)
        heavier = max(z, tail.quantile / tail.sd) if tail.sd > 0.0 else z
        return reach(
            sd_levels=between_V,
            count=len(evenings),
            noise_quantile=math.hypot(z * press_V, heavier * noise_V),
            dof_noise=dof,
            content=limits.content,
            confidence=limits.confidence,
        )

    return replace(
        limits,
        centre=float(np.mean([evening.mean_V for evening in evenings])),
        below=of(limits.tail_low),
        above=of(limits.tail_high),
        method="evenings",
    )


def _pooled(parts: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Pooled standard deviation and its degrees of freedom."""
    dof = sum(part for _, part in parts)
    if dof <= 0.0:
        return 0.0, math.inf
    return math.sqrt(sum(part * sd**2 for sd, part in parts) / dof), dof
