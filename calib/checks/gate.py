"""The gate: whether a tilt-based aid may be trusted, from the evidence on file, with reasons.

Anything missing, stale or odd gives `unknown` or worse, and only `pass` in every required piece
of evidence is trust. What it says of the machine is: inputs proven; the aid itself is not tested.
The words of each piece stand in ``calib/data/evidence.txt``.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import msgspec

from calib.book import entries
from calib.checks.file.validity import Filed, State, Validity
from calib.checks.limits import LIMITS, tilt_limit
from calib.checks.order import in_order
from calib.store.documents import said
from calib.store.documents.finding import Document, Finding, Severity, worst
from calib.store.documents.tilt import (
    Evidence,
    LevelDocument,
    SignsDocument,
    StillDocument,
    SurgeDocument,
    TrustDocument,
)
from calib.store.rig import Rig
from calib.tilt.geometry import balance_angle_deg

STATEMENT: Final = "Inputs proven; the aid itself is not tested."

CLIMB: Final = (
    "The aid's angle is against gravity, not the ground: it acts on any climb steeper than the "
    "angle at which it starts."
)

NO_BALANCE: Final = (
    "No centre of gravity is given under [tilt], so nobody checked that the aid has taken all "
    "power before the machine balances on its rear wheel."
)

BOOK: Final = "evidence"
"""The table of the words."""

GOOD_LOSS: Final = ("power off", "aid off")
"""Answers on a dead or frozen tilt signal that are safe to know about."""

SPOILS_ALL: Final = ("capture-changed", "frozen")
"""Findings that bear on every piece of evidence that comes from the same capture."""


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
    end = end_evidence(zero.document, rig)
    pieces = (
        _today(zero, zero_evidence(zero.document, rig)),
        _today(signs, sign_evidence(signs.document, rig)),
        _today(signs, axis_evidence(signs.document)),
        _today(signs, scale_evidence(signs.document)),
        _today(rider, rider_evidence(rider.document)),
        _today(surge, surge_evidence(surge.document, signs.document, rig)),
        _today(still, noise_evidence(still.document)),
        loss_evidence(rig),
        start_evidence(zero.document, rider.document, surge.document, still.document, rig),
        *(() if end is None else (end,)),
    )
    # a caution is not trust, so a gate that stays shut is at best unknown
    trusted = all(item.verdict is Severity.PASS for item in pieces)
    return TrustDocument(
        verdict=Severity.PASS if trusted else _unknown_or(worst(item.verdict for item in pieces)),
        findings=in_order(map(_finding, pieces)),
        cautions=(*cautions, CLIMB, *((NO_BALANCE,) if end is None else ()), *_own_limits(rig)),
        trusted=trusted,
        evidence=pieces,
        statement=STATEMENT if trusted else "Not trusted: do not let a tilt signal cut power.",
    )


def _finding(item: Evidence) -> Finding:
    """A piece of evidence as pages show it."""
    name = item.name.capitalize()
    return said.finding(item.verdict, "evidence", piece=name, text=item.text, action=item.action)


def _own_limits(rig: Rig) -> Iterator[str]:
    """That the tilt sensor was held against limits of the rig file's own."""
    own = [
        f"{name} {value:g} {LIMITS[name].unit} (the table's is {LIMITS[name].value:g})"
        for channel in rig.tilt_channels.values()
        for name, value in channel.limits.items()
        if name in LIMITS
    ]
    if own:
        yield f"The rig file sets limits of its own for the tilt sensor: {', '.join(own)}."


def _today(found: Validity[Document], item: Evidence) -> Evidence:
    """A piece of evidence with its age; unknown at best where it does not speak for today."""
    if found.state not in (State.STALE, State.ODD):
        return msgspec.structs.replace(item, age_h=found.age_h)
    was = "" if found.document is None else f" It was: {item.text}"
    return msgspec.structs.replace(
        item,
        verdict=_unknown_or(item.verdict),
        age_h=found.age_h,
        text=f"{found.state.value.capitalize()}. {found.why}{was}",
        action=item.action or "Do it again.",
    )


def piece(verdict: Severity, entry: str, **figures: object) -> Evidence:
    """A piece of evidence in its words, its age not known yet.

    Args:
        verdict: How good it is; with a pass nothing needs doing.
        entry: Its entry in the table: the name of the piece, and what tells its wordings apart.
        figures: What the words name.
    """
    words = entries(BOOK)[entry]
    action = "" if verdict is Severity.PASS else words.get("action", "")
    return Evidence(
        name=entry.partition("/")[0],
        verdict=verdict,
        age_h=None,
        text=words["text"].format(**figures),
        action=action.format(**figures),
    )


def _floor(document: Document, *codes: str) -> Severity:
    """How bad the findings that bear on this piece of evidence are; pass where none is bad."""
    bad = [f.severity for f in document.findings if f.code in (*codes, *SPOILS_ALL)]
    return worst([Severity.PASS, *bad])


def _unknown_or(severity: Severity) -> Severity:
    """Unknown, where it is not worse."""
    return worst((severity, Severity.UNKNOWN))


def _own_sensor(rig: Rig) -> bool:
    """Whether the controller has a sensor or zero of its own."""
    return rig.tilt.sensor != "logger"


def zero_evidence(document: LevelDocument | None, rig: Rig) -> Evidence:
    """The zero: separated from the floor, and as the controller shows it."""
    if document is None:
        return piece(Severity.UNKNOWN, "zero/missing")
    pitch = document.pitch
    if pitch is None:
        return piece(Severity.FAIL, "zero/none")
    if document.method == "single":
        return piece(Severity.UNKNOWN, "zero/single", zero=pitch.zero)
    own = piece(document.verdict, "zero", zero=pitch.zero, u95=pitch.u95, method=document.method)
    return _shown_zero(document, own.text, rig) if _own_sensor(rig) else own


def _shown_zero(document: LevelDocument, own: str, rig: Rig) -> Evidence:
    """The zero as the controller shows it, which is the one that the aid acts on."""
    shown = document.shown
    if shown is None:
        return piece(Severity.UNKNOWN, "zero/shown-missing", own=own)
    if document.shown_method == "single":
        return piece(Severity.UNKNOWN, "zero/shown-single", own=own)
    limit = tilt_limit("shown_zero_deg", rig) + shown.u95
    if abs(shown.zero) > limit:
        return piece(Severity.FAIL, "zero/shown-off", shown=shown.zero, limit=limit)
    return piece(document.verdict, "zero/shown", own=own, shown=shown.zero)


def sign_evidence(document: SignsDocument | None, rig: Rig) -> Evidence:
    """The sign: proven by a raised nose, as the controller expects it."""
    if document is None:
        return piece(Severity.UNKNOWN, "sign/missing")
    expects = rig.tilt.expects or document.expects
    if expects is None:
        return piece(Severity.UNKNOWN, "sign/expects-unknown")
    want = 1 if expects == "nose-up-positive" else -1
    bad = _floor(document, "sign", "sign-reversed", "sign-unproven", "sign-contradiction")
    seen, shown_sign = document.convention, document.shown_pitch_sign
    if document.pitch_sign is None:
        return piece(_unknown_or(bad), "sign/unproven")
    if document.pitch_sign != want:
        return piece(Severity.FAIL, "sign/reversed", seen=seen, expects=expects)
    if _own_sensor(rig) and shown_sign is None:
        return piece(Severity.UNKNOWN, "sign/shown-missing")
    if _own_sensor(rig) and shown_sign != want:
        return piece(Severity.FAIL, "sign/shown-reversed")
    return piece(bad, "sign", seen=seen)


def axis_evidence(document: SignsDocument | None) -> Evidence:
    """The axis: pitch answers to the nose and not to lean, and the mounting is as declared."""
    if document is None:
        return piece(Severity.UNKNOWN, "axis/missing")
    bad = _floor(
        document, "axis", "axis-yawed", "axis-unproven", "mounting", "pose-missing", "poses-open",
        "pose-repeated", "cut-short", "samples-missed", "logger-reset",
    )  # fmt: skip
    if document.axis_ok is None:
        return piece(_unknown_or(bad), "axis/never-leaned")
    if not document.axis_ok:
        return piece(Severity.FAIL, "axis/not-the-nose")
    return piece(bad, "axis", pct=100 * (document.cross_share or 0.0))


def scale_evidence(document: SignsDocument | None) -> Evidence:
    """The scale: a known angle is read as that angle, and |g| is one."""
    if document is None:
        return piece(Severity.UNKNOWN, "scale/missing")
    bad = _floor(document, "scale", "gravity", "clips", "coarse")
    ratio, gravity = document.scale_ratio, document.gravity_ratio
    if ratio is None:
        return piece(_unknown_or(bad), "scale/not-measured")
    if not any(finding.code == "scale" for finding in document.findings):
        bad = _unknown_or(bad)
    if gravity is None:
        return piece(bad, "scale", ratio=ratio)
    return piece(bad, "scale/with-gravity", ratio=ratio, gravity=gravity)


def rider_evidence(document: LevelDocument | None) -> Evidence:
    """The rider's tilt."""
    if document is None or document.pitch is None or document.pitch.rider_tilt is None:
        return piece(Severity.UNKNOWN, "rider's tilt/missing")
    codes = ("rider-tilt", "rider-not-seen", "no-zero", "never-still", "moved", "gravity")
    return piece(_floor(document, *codes), "rider's tilt", tilt=document.pitch.rider_tilt)


def surge_evidence(surge: SurgeDocument | None, signs: SignsDocument | None, rig: Rig) -> Evidence:
    """Surge: the sensor tells a push from a tilt, and is not merely slow."""
    if surge is None:
        return piece(Severity.UNKNOWN, "surge/missing")
    launch, lag_s = surge.launch_false_pitch_deg, None if signs is None else signs.lag_s
    if surge.fused is False:
        return piece(Severity.FAIL, "surge/reads-push")
    if surge.fused is None or launch is None:
        return piece(_unknown_or(surge.verdict), "surge/unproven")
    if lag_s is None:
        return piece(_unknown_or(surge.verdict), "surge/lag-unknown", launch=launch)
    if lag_s > tilt_limit("lag_s", rig):
        return piece(Severity.FAIL, "surge/late", lag_s=lag_s)
    return piece(surge.verdict, "surge", launch=launch, lag_s=max(0.0, lag_s))


def noise_evidence(document: StillDocument | None) -> Evidence:
    """Noise and drift of a long rest."""
    if document is None or document.noise is None:
        return piece(Severity.UNKNOWN, "noise and drift/missing")
    noise, drift = document.noise, document.drift_per_h
    if drift is None:
        return piece(_unknown_or(document.verdict), "noise and drift/too-short")
    return piece(document.verdict, "noise and drift", noise=noise, drift=drift)


def loss_evidence(rig: Rig) -> Evidence:
    """What the controller does when its tilt signal dies or freezes: the person's answer."""
    answer = (rig.tilt.on_signal_loss or "").strip().casefold()
    if not answer or answer in ("unknown", "not known", "not tried"):
        return piece(Severity.UNKNOWN, "signal loss/unknown")
    if answer in GOOD_LOSS:
        return piece(Severity.PASS, "signal loss", answer=answer)
    return piece(Severity.FAIL, "signal loss/goes-on", answer=answer)


def start_evidence(
    zero: LevelDocument | None,
    rider: LevelDocument | None,
    surge: SurgeDocument | None,
    still: StillDocument | None,
    rig: Rig,
) -> Evidence:
    """The angle at which the aid starts to act, above all that is not a rising nose."""
    starts = rig.tilt.aid_starts_deg
    noise_sds, margin_deg = tilt_limit("noise_sds", rig), tilt_limit("start_margin_deg", rig)
    parts = {
        "the zero's uncertainty": None if zero is None or zero.pitch is None else zero.pitch.u95,
        "the rider's tilt": _worst_rider_deg(rider),
        "dive (dive_deg)": rig.tilt.dive_deg,
        "noise": None if still is None or still.noise is None else noise_sds * still.noise,
        "a launch's false pitch": None if surge is None else surge.launch_false_pitch_deg,
    }
    known = {what: value for what, value in parts.items() if value is not None}
    if starts is None:
        return piece(Severity.UNKNOWN, "angle where the aid starts/unknown")
    if unknown := ", ".join(what for what in parts if what not in known):
        return piece(Severity.UNKNOWN, "angle where the aid starts/parts-unknown", unknown=unknown)
    total = sum(known.values())
    least = total + margin_deg
    verdict = Severity.PASS if starts >= least else Severity.FAIL
    return piece(
        verdict,
        "angle where the aid starts",
        starts=starts,
        total=total,
        largest=max(known, key=known.__getitem__),
        least=least,
    )


def _worst_rider_deg(document: LevelDocument | None) -> float | None:
    """The rider's tilt, degrees, at its worst."""
    if document is None or document.pitch is None or document.pitch.rider_tilt is None:
        return None
    return abs(document.pitch.rider_tilt) + 2 * (document.pitch.rider_tilt_u or 0.0)


def end_evidence(zero: LevelDocument | None, rig: Rig) -> Evidence | None:
    """The angle by which the aid must have taken all power, below the balance angle.

    None where no centre of gravity is given: then there is nothing to hold it against.
    """
    tilt = rig.tilt
    ended, ahead, height = tilt.aid_ended_deg, tilt.cg_ahead_of_rear_axle_mm, tilt.cg_height_mm
    if ahead is None and height is None:
        return None
    if ended is None:
        return piece(Severity.UNKNOWN, "angle where it has ended/unknown")
    starts = tilt.aid_starts_deg
    if starts is not None and ended <= starts:
        return piece(
            Severity.FAIL, "angle where it has ended/before-it-starts", ended=ended, starts=starts
        )
    if ahead is None or height is None:
        return piece(Severity.UNKNOWN, "angle where it has ended/half-known")
    if zero is None or zero.pitch is None:
        return piece(Severity.UNKNOWN, "angle where it has ended/no-zero")
    balance = balance_angle_deg(ahead, height)
    most = balance - zero.pitch.u95 - tilt_limit("end_margin_deg", rig)
    verdict = Severity.PASS if ended <= most else Severity.FAIL
    return piece(verdict, "angle where it has ended", ended=ended, balance=balance, most=most)
