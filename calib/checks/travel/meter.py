"""Whether a logger's scale can be trued by a multimeter's readings, and how well."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import msgspec

from calib.checks.capture import capture_findings
from calib.checks.order import in_order
from calib.controls.meter import MeterSpec, Stretch, TruedScale, still_stretches, true_scale
from calib.errors import UsageError
from calib.measure.coverage import KNOWN_FACTOR
from calib.store.capture import Capture
from calib.store.columns import received
from calib.store.conversion import base_unit, step_in, to_base
from calib.store.documents.finding import Finding, Severity, worst
from calib.store.documents.meter import MeterDocument, MeterPoint
from calib.store.rig import Channel, Rig

LEAST_SPAN_V = 1.5
"""Own choice: readings nearer together than half a hand control's span fix no gain."""

FAR_GAIN = 0.10
"""Own choice: no reference is off by more (2 to 7 % were seen); it is a wrong divider or count."""

FAR_OFFSET_V = 0.05
"""Own choice: ten steps of a 10-bit converter; more is a ground that is not the sensor's."""

LEAST_CONSISTENCY = 0.01
"""Own choice: chance of residuals this large, below which the readings contradict the meter."""

CHECK_U = 2.0
"""Coverage factor of the check reading: common practice for 95 %."""


@dataclass(frozen=True)
class MeterReadings:
    """What was read on the multimeter.

    Attributes:
        meter_V: Its readings in the order of the still stretches, V.
        spec: Its accuracy.
        spec_assumed: Whether the accuracy was assumed and not stated.
        check_V: A last reading that is not used for the line but held against it; None without.
    """

    meter_V: tuple[float, ...]
    spec: MeterSpec
    spec_assumed: bool = False
    check_V: float | None = None

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
    if base_unit(about) != "V":
        raise UsageError(
            f"Channel {channel} carries {about.unit}, not volts.",
            "Name a channel of counts, V or mV.",
        )
    capture = capture.where_present([about.column])
    return still_stretches(
        capture.time_s,
        to_base(about, received(capture, rig, channel)),
        lsb_V=step_in(about, received(capture, rig, channel)),
        gaps=capture.gap_indices,
    )


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
    stretches = stretches_in(capture, rig, channel)
    findings = list(capture_findings(capture, rig))
    scale = None
    used = stretches[: len(readings.meter_V)]
    if len(stretches) != readings.wanted:
        findings.append(_miscounted(len(stretches), readings.wanted))
    elif (odd := _too_near(used)) is not None:
        findings.append(odd)
    else:
        scale = true_scale(used, readings.meter_V, readings.spec)
        findings += _scale_findings(scale, used, readings)
        if readings.check_V is not None:
            findings.append(_check(scale, stretches[-1], readings.check_V, readings.spec))
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


def _miscounted(found: int, wanted: int) -> Finding:
    return Finding(
        code="stretches-miscounted",
        severity=Severity.UNKNOWN,
        text=f"{found} still stretches were found for {wanted} readings of the meter.",
        value=float(found),
        limit=float(wanted),
        action="Hold each voltage for two seconds or more, and move on at once.",
    )


def _too_near(used: Sequence[Stretch]) -> Finding | None:
    """Readings that cannot fix a line at all."""
    if len(used) < 2:
        return Finding(
            code="one-reading",
            severity=Severity.UNKNOWN,
            text="One reading fixes no scale.",
            action="Give two readings at least, one near rest and one near full travel.",
        )
    return None


def _scale_findings(
    scale: TruedScale, used: Sequence[Stretch], readings: MeterReadings
) -> Iterator[Finding]:
    """What is odd about the line, and what it is good for."""
    levels = [stretch.mean_V for stretch in used]
    span_V = max(levels) - min(levels)
    if span_V < LEAST_SPAN_V:
        yield Finding(
            code="readings-near",
            severity=Severity.CAUTION,
            text=f"The readings span only {span_V:.2f} V: the gain is known to "
            f"±{100 * KNOWN_FACTOR * scale.u_gain:.1f} % (95 %) and no better.",
            value=span_V,
            limit=LEAST_SPAN_V,
            unit="V",
            action="Add a reading near the other end of the travel.",
        )
    far = [
        (abs(residual), allowed)
        for residual, allowed in zip(scale.residuals_V, scale.allowed_V, strict=True)
        if abs(residual) > allowed
    ]
    if far or scale.consistency < LEAST_CONSISTENCY:
        worst_V = float(max(abs(scale.residuals_V)))
        yield Finding(
            code="residuals",
            severity=Severity.UNKNOWN,
            text=f"A reading lies {1e3 * worst_V:.0f} mV off the line, more than the meter's "
            "accuracy allows.",
            value=worst_V,
            limit=float(scale.allowed_V.max()),
            unit="V",
            action="A slip in reading or typing, or a voltage that moved: take the readings again.",
        )
    if abs(scale.gain - 1.0) > FAR_GAIN:
        yield Finding(
            code="scale-far-off",
            severity=Severity.CAUTION,
            text=f"The logger's volts are {100 * (scale.gain - 1.0):+.1f} % off.",
            value=scale.gain,
            action="Look at divider, full_scale and reference_V in the rig file first.",
        )
    if abs(scale.offset_V) > FAR_OFFSET_V + 2.0 * scale.u_offset_V:
        yield Finding(
            code="offset-far-off",
            severity=Severity.CAUTION,
            text=f"The logger reads {1e3 * scale.offset_V:+.0f} mV off at zero.",
            value=scale.offset_V,
            limit=FAR_OFFSET_V,
            unit="V",
            action="Put the logger's ground on the sensor's ground pin; take the readings again.",
        )
    middle_V = 0.5 * (max(levels) + min(levels))
    yield Finding(
        code="trued",
        severity=Severity.PASS,
        text=f"Trued: the logger read {100 * (1.0 / scale.gain - 1.0):+.2f} % and "
        f"{1e3 * -scale.offset_V / scale.gain:+.0f} mV off; now known to "
        f"±{1e3 * KNOWN_FACTOR * scale.u_at(middle_V):.0f} mV (95 %) at {middle_V:.1f} V.",
        value=scale.u_at(middle_V),
        unit="V",
    )
    if readings.spec_assumed:
        yield Finding(
            code="meter-assumed",
            severity=Severity.PASS,
            text=f"The meter's accuracy was taken for ±({readings.spec.pct:g} % + "
            f"{readings.spec.digits:g} digits of {readings.spec.step_V:g} V).",
            action="Give the manual's own with --meter-pct, --meter-digits and --meter-step-V.",
        )


def _check(scale: TruedScale, stretch: Stretch, check_V: float, spec: MeterSpec) -> Finding:
    """A reading that the line has not seen."""
    off_V = check_V - scale.true_V(stretch.mean_V)
    u_V = math.sqrt(
        scale.u_at(stretch.mean_V) ** 2 + spec.u_V(check_V) ** 2 + (scale.gain * stretch.u_V) ** 2
    )
    good = abs(off_V) <= CHECK_U * u_V
    return Finding(
        code="check-reading",
        severity=Severity.PASS if good else Severity.FAIL,
        text=f"The check reading lies {1e3 * off_V:+.0f} mV off the trued logger; "
        f"±{1e3 * CHECK_U * u_V:.0f} mV is allowed.",
        value=off_V,
        limit=CHECK_U * u_V,
        unit="V",
        action="" if good else "Take all readings again; nothing was written to the rig file.",
    )
