"""Whether a logger's scale can be trued by a multimeter's readings, and how well."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import msgspec
import numpy as np

from calib.checks.capture import capture_findings
from calib.checks.limits import limit
from calib.checks.order import in_order
from calib.controls.bend import LEAST_BEND_V, LEAST_READINGS
from calib.controls.meter import (
    SAME_LEVEL_V,
    MeterSpec,
    Stretch,
    TruedScale,
    still_stretches,
    true_scale,
)
from calib.controls.trued import trued_u, u_at
from calib.measure.coverage import KNOWN_FACTOR
from calib.measure.uncertainty import step_u
from calib.store.capture import Capture
from calib.store.columns import in_base_unit, received
from calib.store.conversion import require_volts, step, step_in, to_base, trued
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity, worst
from calib.store.documents.meter import MeterDocument, MeterPoint
from calib.store.rig import Channel, Rig


@dataclass(frozen=True)
class MeterReadings:
    """What was read on the multimeter.

    Attributes:
        meter_V: Its readings in the order of the still stretches, V.
        spec: Its accuracy.
        spec_assumed: Whether the accuracy was assumed and not stated.
        check_V: A last reading that is not used for the line but held against it; None without.
        curved: Whether a curve may take the line's place, should the readings bend.
        true_channel: A channel of the same log that carries true volts: each row is then one pair
            of readings, as in a published table; None where the meter was read.
    """

    meter_V: tuple[float, ...]
    spec: MeterSpec
    spec_assumed: bool = False
    check_V: float | None = None
    curved: bool = False
    true_channel: str | None = None

    @property
    def wanted(self) -> int:
        """Count of still stretches that belong to the readings."""
        return len(self.meter_V) + (self.check_V is not None)


def stretches_in(capture: Capture, rig: Rig, channel: str) -> tuple[Stretch, ...]:
    """Still stretches of a channel, in volts before any truing.

    Raises:
        UsageError: The channel does not carry volts.
    """
    about = untrued(rig.channel(channel))
    require_volts(channel, about)
    capture = capture.where_present([about.column])
    return still_stretches(
        capture.time_s,
        to_base(about, received(capture, rig, channel)),
        lsb_V=step_in(about, received(capture, rig, channel)),
        gaps=capture.gap_indices,
    )


def rows_in(
    capture: Capture, rig: Rig, channel: str, true_channel: str
) -> tuple[tuple[Stretch, ...], tuple[float, ...]]:
    """Each row of a table as one pair: the logger's volts before any truing, and true volts.

    Raises:
        UsageError: One of the channels does not exist or carries no volts.
    """
    about, truth = untrued(rig.channel(channel)), rig.channel(true_channel)
    for name, one in ((channel, about), (true_channel, truth)):
        require_volts(name, one)
    logger_V = to_base(about, received(capture, rig, channel))
    true_V = in_base_unit(capture, rig, true_channel)
    both = np.isfinite(logger_V) & np.isfinite(true_V)
    u_V = step_u(step(about) or 0.0)
    stretches = tuple(Stretch(float(volts), u_V, 0.0, 0.0) for volts in logger_V[both])
    return stretches, tuple(true_V[both].tolist())


def untrued(channel: Channel) -> Channel:
    """The channel as if it had never been trued."""
    return msgspec.structs.replace(channel, scale=None)


def judge_meter(
    capture: Capture,
    rig: Rig,
    channel: str,
    readings: MeterReadings,
    cautions: tuple[str, ...],
) -> MeterDocument:
    """The document of one truing.

    Args:
        capture: One still stretch for each reading of the meter.
        rig: What the columns are.
        channel: The channel to true.
        readings: What the meter showed.
        cautions: The usual cautions of the flow.

    Raises:
        UsageError: The channel does not exist or carries no volts.
    """
    about = rig.channel(channel)
    if readings.true_channel is not None:
        stretches, meter_V = rows_in(capture, rig, channel, readings.true_channel)
        readings = replace(readings, meter_V=meter_V, check_V=None)
    else:
        stretches = stretches_in(capture, rig, channel)
    findings = list(capture_findings(capture, rig))
    scale = None
    used = stretches[: len(readings.meter_V)]
    if len(stretches) != readings.wanted:
        findings.append(_miscounted(len(stretches), readings.wanted))
    elif (odd := _no_line(used, readings)) is not None:
        findings.append(odd)
    else:
        scale = true_scale(used, readings.meter_V, readings.spec, curved=readings.curved)
        findings += _scale_findings(scale, used, readings, about)
        if readings.check_V is not None:
            findings.append(_check(scale, stretches[-1], readings, about))
    return MeterDocument(
        verdict=worst(finding.severity for finding in findings),
        findings=in_order(findings),
        cautions=cautions,
        capture=capture.ref(),
        channel=channel,
        gain=None if scale is None else scale.gain,
        offset_V=None if scale is None else scale.offset_V,
        u_gain=None if scale is None else scale.u_gain,
        u_offset_V=None if scale is None else scale.u_offset_V,
        cov=None if scale is None else scale.cov,
        residuals_V=() if scale is None else tuple(scale.residuals_V.tolist()),
        from_V=None if scale is None else scale.from_V,
        to_V=None if scale is None else scale.to_V,
        bend_V=None if scale is None or scale.bend is None else scale.bend.deviation_V,
        curve=None if scale is None else scale.curve,
        points=tuple(
            MeterPoint(
                logger=stretch.mean_V,
                u_logger=stretch.u_V,
                meter=meter_V,
                u_meter=readings.spec.u_V(meter_V),
            )
            for stretch, meter_V in zip(used, readings.meter_V, strict=False)
        ),
    )


def scale_of(document: MeterDocument, date: str) -> dict[str, object]:
    """Keys of the rig file's scale table, from a good truing.

    Args:
        document: The truing.
        date: When it was made.
    """
    keys = ("gain", "offset_V", "u_gain", "u_offset_V", "cov", "from_V", "to_V")
    scale: dict[str, object] = {key: getattr(document, key) for key in keys}
    scale["date"] = date
    if document.curve is not None:
        scale["curve"] = [[round(figure, 6) for figure in row] for row in document.curve]
    return scale


def _miscounted(found: int, wanted: int) -> Finding:
    return said.unknown("stretches-miscounted", float(found), float(wanted))


def _no_line(used: Sequence[Stretch], readings: MeterReadings) -> Finding | None:
    """Readings that fix neither a line nor, where one is wanted, a curve."""
    levels = np.array([stretch.mean_V for stretch in used])
    if len(used) < 2 or float(np.ptp(levels)) <= SAME_LEVEL_V:
        return Finding(
            code="one-reading",
            severity=Severity.UNKNOWN,
            text="One reading fixes no scale."
            if len(used) < 2
            else f"{len(used)} readings at one voltage fix no scale.",
            action="Give two readings at least, one near rest and one near full travel.",
        )
    if float(np.ptp(readings.meter_V)) <= 0.0:
        return said.unknown("one-reading", volts=readings.meter_V[0], used=len(used))
    order = np.argsort(levels)
    true_V = np.array(readings.meter_V)[order]
    allowed_V = np.array([readings.spec.half_width_V(volts) for volts in true_V])
    falls_V = -np.diff(true_V) - allowed_V[1:] - allowed_V[:-1]
    if bool((falls_V[np.diff(levels[order]) > SAME_LEVEL_V] > 0.0).any()):
        return said.unknown("readings-fall")
    return None


def _scale_findings(
    scale: TruedScale, used: Sequence[Stretch], readings: MeterReadings, about: Channel
) -> Iterator[Finding]:
    """What is odd about the line, and what it is good for."""
    levels = [stretch.mean_V for stretch in used]
    span_V, least_V = max(levels) - min(levels), limit("meter_span_V", about)
    if span_V < least_V:
        yield said.caution("readings-near", span_V, least_V, pct=100 * KNOWN_FACTOR * scale.u_gain)
    yield from _shape_findings(scale, len(used), wants_curve=readings.curved)
    if scale.curve is None:
        yield from _far_off(scale, about)
    if scale.curve is not None or not scale.beyond:
        yield _trued(scale)
    if readings.spec_assumed:
        yield said.passes(
            "meter-assumed",
            pct=readings.spec.pct,
            digits=readings.spec.digits,
            step_V=readings.spec.step_V,
        )


def _shape_findings(scale: TruedScale, count: int, *, wants_curve: bool) -> Iterator[Finding]:
    """Whether the readings lie on a straight line, bend, or do neither."""
    bent = scale.bend is not None and scale.bend.is_one
    if bent and scale.curve is None:
        yield _bent(scale)
    elif scale.beyond and scale.curve is None:
        worst_V = float(max(abs(scale.residuals_V)))
        yield Finding(
            code="residuals",
            severity=Severity.UNKNOWN,
            text=f"A reading lies {1e3 * worst_V:.0f} mV off the line, more than the meter's "
            "accuracy allows.",
            value=worst_V,
            limit=float(scale.allowed_V.max()),
            unit="V",
            action="A slip in reading or typing, a voltage that moved"
            + (
                f", or a converter that bows: with {LEAST_READINGS} readings or more that can be "
                "told. Take them again."
                if count < LEAST_READINGS
                else ": take the readings again."
            ),
        )
    if scale.curve is not None and scale.bend is not None and scale.bend.rests_on_V is not None:
        yield said.caution("bend-on-one-reading", scale.bend.rests_on_V)
    if count == 2:
        yield said.caution("two-readings", 2.0, 3.0)
    if wants_curve and scale.curve is None and not bent:
        yield said.passes(
            "no-bend", None if scale.bend is None else scale.bend.deviation_V, LEAST_BEND_V
        )


def _far_off(scale: TruedScale, about: Channel) -> Iterator[Finding]:
    """A line so far from the rig file's that something else is wrong."""
    if 100.0 * abs(scale.gain - 1.0) > limit("meter_gain_pct", about):
        yield said.caution("scale-far-off/travel", scale.gain, pct=100 * (scale.gain - 1.0))
    most_V = limit("meter_offset_V", about)
    if abs(scale.offset_V) > most_V + 2.0 * scale.u_offset_V:
        yield said.caution(
            "offset-far-off/travel", scale.offset_V, most_V, mV=1000.0 * scale.offset_V
        )


def _bent(scale: TruedScale) -> Finding:
    """Readings that bend where a straight line was made of them."""
    deviation_V = 0.0 if scale.bend is None else scale.bend.deviation_V
    return said.finding(
        Severity.UNKNOWN if scale.beyond else Severity.CAUTION,
        "converter-bends",
        deviation_V,
        float(scale.allowed_V.max()),
        mV=1000.0 * deviation_V,
    )


def _trued(scale: TruedScale) -> Finding:
    """What is known of the logger now."""
    middle_V = 0.5 * (scale.from_V + scale.to_V)
    u_V = trued_u(middle_V, scale.as_scale(""))
    return said.passes(
        "trued/travel",
        u_V,
        from_V=scale.from_V,
        to_V=scale.to_V,
        how=_how(scale),
        mV=1000.0 * KNOWN_FACTOR * u_V,
        middle_V=middle_V,
    )


def _how(scale: TruedScale) -> str:
    """What a truing found of the logger as it was."""
    if scale.curve is None:
        return (
            f": the logger read {100 * (1.0 / scale.gain - 1.0):+.2f} % and "
            f"{1e3 * -scale.offset_V / scale.gain:+.0f} mV off"
        )
    off_V = float(np.abs(scale.residuals_V).max())
    return f" by a curve; a straight line would be up to {1e3 * off_V:.0f} mV off"


def _check(scale: TruedScale, stretch: Stretch, readings: MeterReadings, about: Channel) -> Finding:
    """A reading that the line has not seen."""
    check_V = readings.check_V or 0.0
    kept = scale.as_scale("")
    read_V = float(trued(kept, np.array(stretch.mean_V)))
    off_V = check_V - read_V
    u_V = math.hypot(u_at(read_V, kept), readings.spec.u_V(check_V), scale.gain * stretch.u_V)
    most_V = limit("check_reading_u", about) * u_V
    good = abs(off_V) <= most_V
    return Finding(
        code="check-reading",
        severity=Severity.PASS if good else Severity.FAIL,
        text=f"The check reading lies {1e3 * off_V:+.0f} mV off the trued logger; "
        f"±{1e3 * most_V:.0f} mV is allowed.",
        value=off_V,
        limit=most_V,
        unit="V",
        action="" if good else "Take all readings again; nothing was written to the rig file.",
    )
