"""Each required piece of evidence of the gate, from the document that it rests on."""

from __future__ import annotations

from typing import Final

from calib.checks.limits import tilt_limit
from calib.store.documents.finding import Document, Severity, worst
from calib.store.documents.level import AxisZeroFigures, LevelDocument
from calib.store.documents.signs import SignsDocument
from calib.store.documents.still import StillDocument
from calib.store.documents.surge import SurgeDocument
from calib.store.documents.trust import Evidence
from calib.store.rig import Rig

GOOD_LOSS: Final = ("power off", "aid off")
"""Answers on a dead or frozen tilt signal that are safe to know about."""


SPOILS_ALL: Final = ("capture-changed", "frozen")
"""Findings that bear on every piece of evidence that comes from the same capture."""


def _evidence(severity: Severity, text: str, action: str = "") -> Evidence:
    """A piece of evidence whose name and age are filled in by the gate."""
    return Evidence(name="", verdict=severity, age_h=None, text=text, action=action)


def missing(what: str, action: str) -> Evidence:
    """Evidence that is not on file."""
    return _evidence(Severity.UNKNOWN, f"{what} is not on file.", action)


def _floor(document: Document, codes: tuple[str, ...]) -> Severity:
    """How bad the findings that bear on this piece of evidence are; pass where none is bad."""
    bad = [f.severity for f in document.findings if f.code in (*codes, *SPOILS_ALL)]
    return worst([Severity.PASS, *bad])


def _own_sensor(rig: Rig) -> bool:
    """Whether the controller has a sensor or zero of its own."""
    return rig.tilt.sensor != "logger"


def zero_evidence(document: LevelDocument | None, rig: Rig) -> Evidence:
    """The zero: separated from the floor, and as the controller shows it."""
    action = "Run 'calib level --turned'."
    if document is None:
        return missing("A level zero", action)
    if document.pitch is None:
        return _evidence(Severity.FAIL, "No zero came of the last level run.", action)
    if document.method == "single":
        return _evidence(
            Severity.UNKNOWN,
            f"{document.pitch.zero:+.2f} degrees from a single standing: a floor may slope by 0.6 "
            "to 1.2 degrees, and that is in it.",
            "Turn the machine end for end (--turned), or type the floor's slope.",
        )
    text = f"{document.pitch.zero:+.2f} ± {document.pitch.u95:.2f} degrees, {document.method}."
    if _own_sensor(rig):
        return _shown_zero(document, text, rig)
    return _evidence(document.verdict, text, "" if _good(document) else action)


def _good(document: Document) -> bool:
    return document.verdict is Severity.PASS


def _shown_zero(document: LevelDocument, text: str, rig: Rig) -> Evidence:
    """The zero as the controller shows it, which is the one that the aid acts on."""
    shown: AxisZeroFigures | None = document.shown
    if shown is None:
        return _evidence(
            Severity.UNKNOWN,
            f"{text} What the controller shows on the level was not typed.",
            "Run 'calib level --turned --shown-level A --shown-turned A'.",
        )
    if document.shown_method == "single":
        return _evidence(
            Severity.UNKNOWN,
            f"{text} The controller's own zero is from a single standing, with the floor in it.",
            "Type --shown-turned too, or the floor's slope.",
        )
    limit = tilt_limit("shown_zero_deg", rig) + shown.u95
    if abs(shown.zero) > limit:
        return _evidence(
            worst((document.verdict, Severity.FAIL)),
            f"On the level the controller shows {shown.zero:+.2f} degrees, and it must show zero "
            f"within {limit:.2f}.",
            f"Enter {shown.zero:+.2f} as its zero (or shim the sensor), and type it again.",
        )
    return _evidence(
        document.verdict,
        f"{text} The controller shows {shown.zero:+.2f} on the level.",
        "" if _good(document) else "See 'calib level'.",
    )


def sign_evidence(document: SignsDocument | None, rig: Rig) -> Evidence:
    """The sign: proven by a raised nose, as the controller expects it."""
    action = "Run 'calib signs' with the front raised."
    if document is None:
        return missing("A proof of sign", action)
    expects = rig.tilt.expects or document.expects
    if expects is None:
        return _evidence(
            Severity.UNKNOWN,
            "Which way the controller expects is not known.",
            "Give 'expects' under [tilt] in the rig file, from the maker's manual.",
        )
    want = 1 if expects == "nose-up-positive" else -1
    bad = _floor(document, ("sign", "sign-reversed", "sign-unproven", "sign-contradiction"))
    if document.pitch_sign is None:
        return _evidence(worst((bad, Severity.UNKNOWN)), "No sign was proven.", action)
    if document.pitch_sign != want:
        return _evidence(
            Severity.FAIL, f"It reads {document.convention}; {expects} is expected.", action
        )
    if _own_sensor(rig) and document.shown_pitch_sign != want:
        known = document.shown_pitch_sign is not None
        return _evidence(
            Severity.FAIL if known else Severity.UNKNOWN,
            "The controller's display moves the wrong way."
            if known
            else "Which way the controller's own display moves was not typed.",
            "Run 'calib signs --shown-front-raised A'.",
        )
    return _evidence(bad, f"{document.convention}, proven by a raised nose, as expected.")


def axis_evidence(document: SignsDocument | None) -> Evidence:
    """The axis: pitch answers to the nose and not to lean, and the mounting is as declared."""
    action = "Run 'calib signs' with the machine leaned to both sides."
    if document is None:
        return missing("A proof of the axis", action)
    codes = ("axis", "axis-yawed", "axis-unproven", "mounting", "pose-missing", "poses-open",
             "pose-repeated", "cut-short", "samples-missed", "logger-reset")  # fmt: skip
    bad = _floor(document, codes)
    if document.axis_ok is None:
        return _evidence(worst((bad, Severity.UNKNOWN)), "The machine was never leaned.", action)
    if not document.axis_ok:
        return _evidence(Severity.FAIL, "Pitch does not answer to the nose alone.", action)
    share = 100 * (document.cross_share or 0.0)
    return _evidence(bad, f"{share:.0f} % of a lean shows as pitch.", "" if bad is Severity.PASS
                     else "Turn the sensor square to the machine.")  # fmt: skip


def scale_evidence(document: SignsDocument | None) -> Evidence:
    """The scale: a known angle is read as that angle, and |g| is one."""
    action = "Run 'calib signs' with a plank of known height."
    if document is None:
        return missing("A proof of the scale", action)
    bad = _floor(document, ("scale", "gravity", "clips", "frozen", "coarse"))
    if document.scale_ratio is None:
        return _evidence(worst((bad, Severity.UNKNOWN)), "No scale was measured.", action)
    gravity = document.gravity_ratio
    also = "" if gravity is None else f", |g| is {gravity:.3f} of what it must be"
    if not any(f.code == "scale" for f in document.findings):
        bad = worst((bad, Severity.UNKNOWN))
    return _evidence(
        bad,
        f"A known angle reads as {document.scale_ratio:.2f} of itself{also}.",
        "" if bad is Severity.PASS else "See 'calib signs'; mend the scale in the rig file.",
    )


def rider_evidence(document: LevelDocument | None) -> Evidence:
    """The rider's tilt."""
    action = "Run 'calib level --seated'."
    if document is None or document.pitch is None or document.pitch.rider_tilt is None:
        return missing("The rider's tilt", action)
    bad = _floor(
        document,
        ("rider-tilt", "rider-not-seen", "no-zero", "never-still", "moved", "frozen", "gravity"),
    )
    return _evidence(
        bad,
        f"Seated, the nose goes {document.pitch.rider_tilt:+.1f} degrees.",
        "" if bad is Severity.PASS else action,
    )


def surge_evidence(
    document: SurgeDocument | None, signs: SignsDocument | None, rig: Rig
) -> Evidence:
    """Surge: the sensor tells a push from a tilt, and is not merely slow."""
    action = "Run 'calib surge'."
    if document is None:
        return missing("The false pitch of a push", action)
    bad = document.verdict
    if document.fused is not True or document.launch_false_pitch_deg is None:
        floor = Severity.FAIL if document.fused is False else Severity.UNKNOWN
        text = (
            "It reads a push as tilt."
            if document.fused is False
            else "Whether it tells a push from a tilt is not proven."
        )
        return _evidence(worst((bad, floor)), text, action)
    text = f"A launch looks like {document.launch_false_pitch_deg:.1f} degrees."
    lag_s = None if signs is None else signs.lag_s
    if lag_s is None:
        return _evidence(
            worst((bad, Severity.UNKNOWN)),
            f"{text} But a slow filter would look the same, and its lag was not measured.",
            "Run 'calib signs' in one capture beside an accelerometer, so that the raising itself "
            "is in it; or time the display after a quick raise (--shown-lag-s).",
        )
    if lag_s > tilt_limit("lag_s", rig):
        return _evidence(
            Severity.FAIL,
            f"The angle is {lag_s:.1f} s late: a slow filter, not one that tells push from tilt.",
            "Shorten the filter, or fit a sensor that blends in a gyro.",
        )
    return _evidence(
        bad, f"{text} The angle is {max(0.0, lag_s):.2f} s late.", "" if _good(document) else action
    )


def noise_evidence(document: StillDocument | None) -> Evidence:
    """Noise and drift of a long rest."""
    action = "Run 'calib still' for ten minutes."
    if document is None or document.noise is None:
        return missing("A long rest", action)
    drift = document.drift_per_h
    if drift is None:
        return _evidence(
            worst((document.verdict, Severity.UNKNOWN)), "The rest was too short.", action
        )
    return _evidence(
        document.verdict,
        f"Readings scatter by {document.noise:.2f} degrees and drift by {drift:+.2f} in an hour.",
        "" if _good(document) else action,
    )


def loss_evidence(rig: Rig) -> Evidence:
    """What the controller does when its tilt signal dies or freezes: the person's answer."""
    name = "signal loss"
    answer = (rig.tilt.on_signal_loss or "").strip().casefold()
    if not answer or answer in ("unknown", "not known", "not tried"):
        return Evidence(
            name=name,
            verdict=Severity.UNKNOWN,
            age_h=None,
            text="What the controller does when its tilt signal dies or freezes is not known.",
            action="Pull its plug on the stand, wheel up, and give --on-signal-loss: "
            "'power off', 'aid off' or 'goes on'.",
        )
    if answer in GOOD_LOSS:
        return Evidence(
            name=name,
            verdict=Severity.PASS,
            age_h=None,
            text=f"Tilt signal dead or frozen: {answer}, as the person found.",
        )
    return Evidence(
        name=name,
        verdict=Severity.FAIL,
        age_h=None,
        text=f"Tilt signal dead or frozen: '{answer}'. The aid would go on with a dead angle.",
        action="Do not use a tilt-based aid with this controller, or fit one that notices.",
    )
