"""The document of ``calib trust``: whether a tilt-based aid may be trusted, and why not."""

from __future__ import annotations

import msgspec

from calib.store.documents.finding import Document, Severity


class Evidence(msgspec.Struct, frozen=True, kw_only=True):
    """One required piece of evidence.

    Attributes:
        name: What it is ("zero").
        verdict: How good it is; anything but pass is not trust.
        age_h: Hours since it was made; None where there is none or it has no age.
        text: The statement, for the person.
        action: What to do next; empty where nothing needs doing.
    """

    name: str
    verdict: Severity
    age_h: float | None
    text: str
    action: str = ""


class TrustDocument(Document, frozen=True, kw_only=True, tag="calib.trust/1"):
    """The gate.

    Attributes:
        trusted: True only when every required piece of evidence passes and is fresh.
        evidence: All required pieces, in the order in which they are made.
        statement: What "trusted" means here, and what it does not.
    """

    trusted: bool = False
    evidence: tuple[Evidence, ...] = ()
    statement: str = ""
