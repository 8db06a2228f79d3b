"""Whether the values to type in lie where the logger was held against a meter."""

from __future__ import annotations

from collections.abc import Iterator

from calib.checks.limits import limit
from calib.controls.allowance import AllowedLevel
from calib.controls.deadband import DeadBand
from calib.controls.trued import doubt_outside_V, outside_V
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity
from calib.store.rig import Channel, Scale


def outside_findings(
    about: Channel, rest: AllowedLevel, full: AllowedLevel, band: DeadBand | None
) -> Iterator[Finding]:
    """What is to be said of limits beyond the volts that were trued.

    Args:
        about: The control, for its truing and its own limits.
        rest: Rest with its allowance, trued volts.
        full: Full travel likewise.
        band: The values to type in; None where there is no travel left.
    """
    scale = about.scale
    if scale is None:
        return
    if scale.from_V is None or scale.to_V is None:
        yield said.caution("trued-range-unknown")
        return
    for word, level, limit_V in (
        ("rest", rest, None if band is None else band.start_V),
        ("full travel", full, None if band is None else band.end_V),
    ):
        yield from _one(scale, about, word, level.mean_V, limit_V)


def _one(
    scale: Scale, about: Channel, word: str, mean_V: float, limit_V: float | None
) -> Iterator[Finding]:
    limit_out_V = 0.0 if limit_V is None else outside_V(limit_V, scale)
    mean_out_V = outside_V(mean_V, scale)
    if limit_out_V <= 0.0 and mean_out_V <= limit("taped_end_V", about):
        return
    farthest_V = mean_V if limit_V is None or mean_out_V >= limit_out_V else limit_V
    doubt_V, most_V = doubt_outside_V(farthest_V, scale), limit("outside_trued_V", about)
    yield said.finding(
        Severity.UNKNOWN if doubt_V > most_V else Severity.CAUTION,
        "outside-trued",
        doubt_V,
        most_V,
        word=word,
        farthest_V=farthest_V,
        from_V=scale.from_V,
        to_V=scale.to_V,
        mV=1000.0 * doubt_V,
    )
