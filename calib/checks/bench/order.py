"""Which finding comes first: the cause before what follows from it, then the worse one."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import msgspec

from calib.store.documents.finding import Finding

_LEVELS = ("rest-moved", "full-moved", "both-moved", "span-shrunk", "pulled-to-ground")
_MOVES = (*_LEVELS, "pulled-to-supply", "reversed", "rest-scatters", "span-short")
_DROPS = ("drop-outs", "drop-outs-low", "drop-outs-high")
_NOISES = ("noise-grown", "noise-high", "hum", "hum-common")

EXPLAINS_HERE: dict[str, tuple[str, ...]] = {
    "multiplexer-stuck": (
        *_MOVES, *_NOISES, *_DROPS, "supply-low", "supply-high", "supply-dips", "supply-noise",
        "cross-talk", "one-wire", "signal-open", "no-answer", "signal-at-ground", "clips",
    ),
    "frozen": ("no-answer", "signal-open", "half-pressed"),
    "stuck-bit": (*_MOVES, *_NOISES, *_DROPS, "travel-step", "clips", "cross-talk"),
    "clips": (
        *_LEVELS, "reversed", "rest-scatters", "span-short", "supply-high", "supply-noise",
        "noise-grown", "frozen",
    ),
    "signal-open": (*_MOVES, *_NOISES, "cross-talk", "travel-step", "return-slow"),
    "one-wire": (*_MOVES, "cross-talk"),
    "channels-swapped": (*_MOVES, "noise-grown"),
    "travel-step": (*_LEVELS, *_DROPS),
    "drop-outs": _NOISES,
    "drop-outs-low": _NOISES,
    "drop-outs-high": _NOISES,
    "signal-at-ground": (*_NOISES, *_DROPS, "frozen"),
    "signal-at-supply": (*_NOISES, *_DROPS, "frozen"),
    "shared-ground": (*_DROPS, *_MOVES, *_NOISES, "cross-talk", "travel-step"),
    "no-answer": (*_NOISES, *_DROPS),
    "half-pressed": (*_NOISES, *_DROPS),
    "sticks": ("rest-scatters",),
    "reversed": _NOISES,
    "hum": ("noise-grown", "noise-high", "travel-step", "rest-scatters"),
    "noise-grown": ("travel-step", "rest-scatters", "return-slow"),
    "pulled-to-ground": ("span-short", "cross-talk", *_NOISES),
    "pulled-to-supply": ("span-short", "cross-talk", "clips", *_NOISES),
    "span-shrunk": ("span-short", *_NOISES),
}  # fmt: skip
"""What a finding explains on its own channel. Source: own judgement of cause and effect."""

EXPLAINS_ELSEWHERE: dict[str, tuple[str, ...]] = {
    "supply-dips": (*_DROPS, *_NOISES, *_MOVES, "cross-talk", "travel-step"),
    "supply-noise": (*_NOISES, "travel-step"),
    "logger-scale": (
        *_MOVES,
        *_NOISES,
        "supply-low",
        "supply-high",
        "clips",
        "temperatures-apart",
        "temperature-open",
        "temperature-short",
        "temperature-wrong-type",
        "frozen",
        "signal-at-supply",
    ),
    "shared-ground": ("cross-talk", *_MOVES, *_NOISES, *_DROPS),
    "supply-high": ("clips",),
    "one-wire": (*_MOVES, "cross-talk", "signal-open"),
    "hum-common": ("noise-grown",),
}
"""What a finding explains on any other channel. Source: own judgement of cause and effect."""

FIRST = (
    "multiplexer-stuck", "frozen", "stuck-bit", "logger-scale", "clips", "supply-low",
    "supply-high", "supply-dips", "supply-noise", "signal-at-ground", "signal-at-supply",
    "signal-open", "one-wire", "channels-swapped", "drop-outs-high", "drop-outs", "drop-outs-low",
    "shared-ground", "reversed", "sticks", "return-slow", "travel-step", "cross-talk",
)  # fmt: skip
"""Order among findings of one severity; what is not named follows. Source: own judgement."""


def in_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings with causes first; what follows from one says so in its action.

    Args:
        findings: In any order.
    """
    found = list(findings)
    causes = {id(each): _cause_of(each, found) for each in found}
    place = {code: number for number, code in enumerate(FIRST)}

    def key(each: Finding) -> tuple[bool, int, int]:
        return (
            causes[id(each)] is not None,
            -each.severity.rank,
            place.get(each.code, len(FIRST)),
        )

    return tuple(_told(each, causes[id(each)]) for each in sorted(found, key=key))


def _cause_of(finding: Finding, found: Sequence[Finding]) -> Finding | None:
    for other in found:
        if other is finding:
            continue
        table = EXPLAINS_HERE if other.channel == finding.channel else EXPLAINS_ELSEWHERE
        if finding.code in table.get(other.code, ()):
            return other
    return None


def _told(finding: Finding, cause: Finding | None) -> Finding:
    if cause is None:
        return finding
    where = f" of {cause.channel}" if cause.channel is not None else ""
    return msgspec.structs.replace(
        finding,
        action=f"May follow from '{cause.code}'{where}: mend that first, then check again.",
    )
