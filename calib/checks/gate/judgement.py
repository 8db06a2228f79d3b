"""The gate: whether a tilt-based aid may be trusted, from the evidence on file, with reasons.

Anything missing, stale or odd gives `unknown` or worse, and only `pass` in every required piece
of evidence is trust. What it says of the machine is: inputs proven; the aid itself is not tested.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final, TypeVar

from calib.checks.file.standing import Evidence as OnRecord
from calib.checks.file.standing import stale_because
from calib.checks.gate.angles import end_evidence, start_evidence
from calib.checks.gate.evidence import (
    axis_evidence,
    loss_evidence,
    noise_evidence,
    rider_evidence,
    scale_evidence,
    sign_evidence,
    surge_evidence,
    zero_evidence,
)
from calib.checks.order import in_order
from calib.store.documents.finding import Document, Finding, Severity, worst
from calib.store.documents.level import LevelDocument
from calib.store.documents.signs import SignsDocument
from calib.store.documents.still import StillDocument
from calib.store.documents.surge import SurgeDocument
from calib.store.documents.trust import Evidence, TrustDocument
from calib.store.records import Record
from calib.store.rig import Rig

D = TypeVar("D", bound=Document)

EARLY_H: Final = 0.1
"""Own choice: clocks of one computer differ by less, in hours; a record from later is not old,
it is odd."""

STATEMENT: Final = "Inputs proven; the aid itself is not tested."

CLIMB: Final = (
    "The aid's angle is against gravity, not the ground: it acts on any climb steeper than the "
    "angle at which it starts."
)

NO_BALANCE: Final = (
    "No centre of gravity is given under [tilt], so nobody checked that the aid has taken all "
    "power before the machine balances on its rear wheel."
)


@dataclass(frozen=True)
class OnFile:
    """The newest document of a kind, how old it is, and why it no longer counts.

    Attributes:
        document: The document; None where there is none.
        age_h: Hours since it was made; None where there is none.
        stale: Why it no longer counts; empty while it does.
    """

    document: Document | None
    age_h: float | None = None
    stale: str = ""


def judge_trust(
    records: Sequence[Record], rig: Rig, now: datetime, cautions: tuple[str, ...]
) -> TrustDocument:
    """The gate's document.

    Args:
        records: All records of this rig, oldest first.
        rig: The rig file as it is now, with the person's answers under [tilt].
        now: The time, with its UTC offset.
        cautions: The usual cautions.
    """
    file = _Shelf(OnRecord(rig, records, now))
    zero = file.newest(LevelDocument, _claims_zero)
    signs = file.newest(SignsDocument)
    rider = file.newest(LevelDocument, _has_rider)
    surge = file.newest(SurgeDocument)
    still = file.newest(StillDocument, _is_of_tilt)
    end = end_evidence(_as(zero, LevelDocument), rig)
    evidence = (
        _fresh("zero", zero, zero_evidence(_as(zero, LevelDocument), rig)),
        _fresh("sign", signs, sign_evidence(_as(signs, SignsDocument), rig)),
        _fresh("axis", signs, axis_evidence(_as(signs, SignsDocument))),
        _fresh("scale", signs, scale_evidence(_as(signs, SignsDocument))),
        _fresh("rider's tilt", rider, rider_evidence(_as(rider, LevelDocument))),
        _fresh(
            "surge",
            surge,
            surge_evidence(_as(surge, SurgeDocument), _as(signs, SignsDocument)),
        ),
        _fresh("noise and drift", still, noise_evidence(_as(still, StillDocument))),
        loss_evidence(rig),
        start_evidence(
            _as(zero, LevelDocument),
            _as(rider, LevelDocument),
            _as(surge, SurgeDocument),
            _as(still, StillDocument),
            rig,
        ),
        *(() if end is None else (end,)),
    )
    trusted = all(item.verdict is Severity.PASS for item in evidence)
    return TrustDocument(
        verdict=Severity.PASS if trusted else _refusal(evidence),
        findings=in_order(_finding(item) for item in evidence),
        cautions=(*cautions, CLIMB, *((NO_BALANCE,) if end is None else ())),
        trusted=trusted,
        evidence=evidence,
        statement=STATEMENT if trusted else "Not trusted: do not let a tilt signal cut power.",
    )


def _refusal(evidence: Sequence[Evidence]) -> Severity:
    """The verdict of a gate that stays shut: a caution is not trust, so at best unknown."""
    found = worst(item.verdict for item in evidence)
    return found if found is Severity.FAIL else Severity.UNKNOWN


def _finding(item: Evidence) -> Finding:
    """A piece of evidence as a finding."""
    return Finding(
        code="evidence",
        severity=item.verdict,
        text=f"{item.name.capitalize()}: {item.text}",
        action=item.action,
    )


def _as(found: OnFile, kind: type[D]) -> D | None:
    """The document of a kind, where it is one."""
    return found.document if isinstance(found.document, kind) else None


def _fresh(name: str, found: OnFile, item: Evidence) -> Evidence:
    """A piece of evidence with its age; unknown at best when it is stale."""
    if not found.stale:
        return Evidence(
            name=name,
            verdict=item.verdict,
            age_h=found.age_h,
            text=item.text,
            action=item.action,
        )
    verdict = worst((item.verdict, Severity.UNKNOWN))
    return Evidence(
        name=name,
        verdict=verdict,
        age_h=found.age_h,
        text=f"Stale. {found.stale} It was: {item.text}",
        action=item.action or "Do it again.",
    )


def _claims_zero(document: Document) -> bool:
    """Whether a document is about the zero."""
    return isinstance(document, LevelDocument) and document.claims_zero


def _has_rider(document: Document) -> bool:
    """Whether a document is about the rider's tilt."""
    return isinstance(document, LevelDocument) and document.has_rider


def _is_of_tilt(document: Document) -> bool:
    """Whether a rest was that of the tilt sensor."""
    return isinstance(document, StillDocument) and document.unit == "deg"


class _Shelf:
    """The records, newest first for each question."""

    def __init__(self, file: OnRecord) -> None:
        self._file = file
        self._records = [r for r in file.records if r.superseded is None]

    def newest(self, kind: type[D], about: Callable[[Document], bool] | None = None) -> OnFile:
        """The newest document of a kind that answers to a question.

        An older good one never stands in for a newer bad one.
        """
        for record in reversed(self._records):
            if isinstance(record.document, kind) and (about is None or about(record.document)):
                age_h = (self._file.now - record.made).total_seconds() / 3600.0
                return OnFile(record.document, age_h, self._stale(record, age_h))
        return OnFile(None)

    def _stale(self, record: Record, age_h: float) -> str:
        """Why a record no longer counts; empty while it does."""
        if age_h < -EARLY_H:
            return "It was made in the future: the computer's clock was set back."
        return stale_because(record, self._file) or ""
