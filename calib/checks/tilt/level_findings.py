"""What a level zero says of itself, of the floor, the standings and the rider."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from calib.checks.limits import tilt_limit
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.signs import SignsDocument
from calib.store.rig import Rig
from calib.tilt.attitude import angle_between_deg, attitude_of
from calib.tilt.series import TiltReading
from calib.tilt.zero import Heading, LevelZero, Method, Standing
from calib.tilt.zero_budget import Circumstances


@dataclass(frozen=True)
class Rider:
    """Shift of pitch when the rider sits, degrees, nose up positive."""

    tilt_deg: float
    u_deg: float


def zero_findings(zero: LevelZero, lead: str, rig: Rig) -> list[Finding]:
    """What the zero is, and how far it can be relied on."""
    pitch = zero.pitch
    most_u95_deg, steep_deg = tilt_limit("zero_u95_deg", rig), tilt_limit("floor_deg", rig)
    text = f"{lead} {pitch.zero_deg:+.2f} degrees of pitch, ± {pitch.u95_deg:.2f} (95 %)"
    if zero.method is Method.SINGLE:
        return [said.caution("floor-not-separated", pitch.u95_deg, most_u95_deg, text=text)]
    found = [_zero_finding(zero, text, most_u95_deg)]
    if pitch.floor_slope_deg is not None and abs(pitch.floor_slope_deg) > steep_deg:
        found.append(
            said.caution(
                "steep-floor",
                abs(pitch.floor_slope_deg),
                steep_deg,
                floor_slope_deg=pitch.floor_slope_deg,
            )
        )
    return found


def _zero_finding(zero: LevelZero, text: str, most_u95_deg: float) -> Finding:
    """The zero that was separated from the floor, good or too uncertain."""
    pitch = zero.pitch
    good = pitch.u95_deg <= most_u95_deg
    largest = pitch.budget[0].source if pitch.budget else "nothing"
    how = {
        Method.TURNED: "turned end for end",
        Method.TYPED_SLOPE: "by the typed slope",
        Method.SINGLE: "single",
    }[zero.method]
    return Finding(
        code="zero" if good else "zero-uncertain",
        severity=Severity.PASS if good else Severity.CAUTION,
        text=f"{text}, {how}; most of it from {largest}.",
        value=pitch.u95_deg,
        limit=most_u95_deg,
        unit="deg",
        action="" if good else "Add standings each way, and shrink the largest share named here.",
    )


def standing_findings(
    zero: LevelZero, used: Sequence[Standing], circumstances: Circumstances, rig: Rig
) -> list[Finding]:
    """A machine that leans, standings that differ, a garage that warms."""
    found = []
    lean_deg, spread_deg = tilt_limit("lean_deg", rig), tilt_limit("lean_spread_deg", rig)
    warming_K = tilt_limit("warming_K", rig)
    leans = [s.reading.roll_deg for s in used if s.reading.roll_deg is not None]
    if leans and max(abs(lean) for lean in leans) > lean_deg:
        most = max(leans, key=abs)
        found.append(said.caution("leans", abs(most), lean_deg, most=most))
    apart = max(_lean_spread(used, heading) for heading in Heading)
    if apart > spread_deg:
        found.append(said.caution("lean-differs", apart, spread_deg))
    if zero.repeat_deg is not None and zero.repeat_deg > zero.repeat_limit_deg:
        found.append(said.caution("standings-differ", zero.repeat_deg, zero.repeat_limit_deg))
    if circumstances.change_k is not None and circumstances.change_k > warming_K:
        found.append(said.caution("temperature", circumstances.change_k, warming_K))
    return [*found, *_was_turned(used, rig), *_cross_check(used, rig)]


def _was_turned(used: Sequence[Standing], rig: Rig) -> list[Finding]:
    """A turned standing that reads like the first: hands and floors are not that exact."""
    forces = {
        heading: [s.reading.force_g for s in used if s.heading is heading] for heading in Heading
    }
    first, turned = forces[Heading.FIRST][0], [f for f in forces[Heading.TURNED] if f is not None]
    if first is None or not turned:
        return []
    apart, same_deg = angle_between_deg(first, turned[0]), tilt_limit("same_deg", rig)
    if apart > same_deg:
        return []
    return [said.caution("not-turned", apart, same_deg)]


def _lean_spread(used: Sequence[Standing], heading: Heading) -> float:
    """Largest difference of roll, degrees, between standings of one heading."""
    rolls = [
        s.reading.roll_deg for s in used if s.heading is heading and s.reading.roll_deg is not None
    ]
    return max(rolls) - min(rolls) if rolls else 0.0


def _cross_check(used: Sequence[Standing], rig: Rig) -> list[Finding]:
    """Pitch channel against accelerometer: both must see the same floor."""
    turned = [s.reading for s in used if s.heading is Heading.TURNED]
    first = used[0].reading
    if first.pitch_from_force or first.force_g is None or not turned:
        return []
    last = turned[0]
    if last.force_g is None:
        return []
    by_channel = abs(first.pitch_deg - last.pitch_deg) / 2
    by_force = abs(_nose_up(first) - _nose_up(last)) / 2
    apart, most_deg = abs(by_channel - by_force), tilt_limit("floors_apart_deg", rig)
    if apart <= most_deg:
        return []
    return [
        said.caution("sensors-disagree", apart, most_deg, deg=2 * by_channel, by_force=2 * by_force)
    ]


def _nose_up(reading: TiltReading) -> float:
    """Pitch of the accelerometer, degrees."""
    return 0.0 if reading.force_g is None else attitude_of(reading.force_g).nose_up_deg


def rider_finding(rider: Rider, rig: Rig) -> Finding:
    """The rider's tilt, beside what is usual."""
    unlike_deg, most_deg = tilt_limit("unlike_deg", rig), tilt_limit("rider_deg", rig)
    if abs(rider.tilt_deg) <= unlike_deg:
        return said.caution("rider-not-seen", rider.tilt_deg, unlike_deg)
    usual = abs(rider.tilt_deg) <= most_deg
    return Finding(
        code="rider-tilt",
        severity=Severity.PASS if usual else Severity.CAUTION,
        text=f"Seated, the nose goes {'up' if rider.tilt_deg >= 0 else 'down'} by "
        f"{abs(rider.tilt_deg):.1f} degrees (two to three are usual on soft suspension; common "
        "practice, no source).",
        value=rider.tilt_deg,
        limit=most_deg,
        unit="deg",
        action="" if usual else "Sit as you ride, feet up, on the first marks; repeat.",
    )


def sign_findings(signs: SignsDocument | None, rig: Rig) -> list[Finding]:
    """Whether the floor's direction rests on a proven sign."""
    if signs is not None and signs.pitch_sign is not None:
        return []
    return [said.passes("sign-assumed", expects=rig.tilt.expects or "nose-up-positive")]
