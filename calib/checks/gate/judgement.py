"""The gate: whether a tilt-based aid may be trusted, from the evidence on file, with reasons.

Anything missing, stale or odd gives `unknown` or worse, and only `pass` in every required piece
of evidence is trust. What it says of the machine is: inputs proven; the aid itself is not tested.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import msgspec

from calib.checks.file.validity import Filed, State, Validity
from calib.checks.gate import evidence
from calib.checks.limits import LIMITS, tilt_channels
from calib.checks.order import in_order
from calib.store.documents import said
from calib.store.documents.finding import Document, Severity, worst
from calib.store.documents.level import LevelDocument
from calib.store.documents.signs import SignsDocument
from calib.store.documents.still import StillDocument
from calib.store.documents.surge import SurgeDocument
from calib.store.documents.trust import Evidence, TrustDocument
from calib.store.rig import Rig

STATEMENT: Final = "Inputs proven; the aid itself is not tested."

CLIMB: Final = (
    "The aid's angle is against gravity, not the ground: it acts on any climb steeper than the "
    "angle at which it starts."
)

NO_BALANCE: Final = (
    "No centre of gravity is given under [tilt], so nobody checked that the aid has taken all "
    "power before the machine balances on its rear wheel."
)


def judge_trust(filed: Filed, cautions: tuple[str, ...]) -> TrustDocument:
    """The gate's document.

    Args:
        filed: What is on file, with the rig file as it is now and the person's answers in it.
        cautions: The usual cautions.
    """
    rig = filed.rig
    zero = filed.validity(LevelDocument, about=lambda document: document.claims_zero)
    signs = filed.validity(SignsDocument)
    rider = filed.validity(LevelDocument, about=lambda document: document.has_rider)
    surge = filed.validity(SurgeDocument)
    still = filed.validity(StillDocument, about=lambda document: document.unit == "deg")
    end = evidence.end_evidence(zero.document, rig)
    pieces = (
        _today(zero, evidence.zero_evidence(zero.document, rig)),
        _today(signs, evidence.sign_evidence(signs.document, rig)),
        _today(signs, evidence.axis_evidence(signs.document)),
        _today(signs, evidence.scale_evidence(signs.document)),
        _today(rider, evidence.rider_evidence(rider.document)),
        _today(surge, evidence.surge_evidence(surge.document, signs.document, rig)),
        _today(still, evidence.noise_evidence(still.document)),
        evidence.loss_evidence(rig),
        evidence.start_evidence(zero.document, rider.document, surge.document, still.document, rig),
        *(() if end is None else (end,)),
    )
    trusted = all(item.verdict is Severity.PASS for item in pieces)
    return TrustDocument(
        verdict=Severity.PASS if trusted else _refusal(pieces),
        findings=in_order(
            said.finding(
                item.verdict,
                "evidence",
                piece=item.name.capitalize(),
                text=item.text,
                action=item.action,
            )
            for item in pieces
        ),
        cautions=(*cautions, CLIMB, *((NO_BALANCE,) if end is None else ()), *_own_limits(rig)),
        trusted=trusted,
        evidence=pieces,
        statement=STATEMENT if trusted else "Not trusted: do not let a tilt signal cut power.",
    )


def _own_limits(rig: Rig) -> Iterator[str]:
    """That the tilt sensor was held against limits of the rig file's own."""
    own = [
        f"{name} {value:g} {LIMITS[name].unit} (the table's is {LIMITS[name].value:g})"
        for channel in tilt_channels(rig)
        for name, value in channel.limits.items()
        if name in LIMITS
    ]
    if own:
        yield f"The rig file sets limits of its own for the tilt sensor: {', '.join(own)}."


def _refusal(pieces: Sequence[Evidence]) -> Severity:
    """The verdict of a gate that stays shut: a caution is not trust, so at best unknown."""
    found = worst(item.verdict for item in pieces)
    return found if found is Severity.FAIL else Severity.UNKNOWN


def _today(found: Validity[Document], item: Evidence) -> Evidence:
    """A piece of evidence with its age; unknown at best where it does not speak for today."""
    if found.speaks or found.state is State.MISSING:
        return msgspec.structs.replace(item, age_h=found.age_h)
    was = "" if found.document is None else f" It was: {item.text}"
    return msgspec.structs.replace(
        item,
        verdict=worst((item.verdict, Severity.UNKNOWN)),
        age_h=found.age_h,
        text=f"{found.state.value.capitalize()}. {found.why}{was}",
        action=item.action or "Do it again.",
    )
