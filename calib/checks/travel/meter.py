"""Whether a logger's scale can be trued by a multimeter's readings, and how well."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import msgspec
import numpy as np

from calib.checks.capture import capture_findings
from calib.checks.limits import limit
from calib.checks.order import judged
from calib.controls.bend import LEAST_BEND_V, LEAST_READINGS
from calib.controls.meter import (
    SAME_LEVEL_V,
    MeterSpec,
    Stretch,
    Trued,
    still_stretches,
    true_scale,
)
from calib.controls.scale_budget import trued_u, u_at
from calib.measure.coverage import KNOWN_FACTOR
from calib.measure.uncertainty import step_u
from calib.store.capture import Capture
from calib.store.columns import in_base_unit, received
from calib.store.conversion import require_volts, step, step_in, to_base, trued
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.meter import MeterDocument, MeterPoint
from calib.store.rig import Channel, Rig, Scale


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
    capture: Capture, rig: Rig, channel: str, readings: MeterReadings, cautions: tuple[str, ...]
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
    used = stretches[: len(readings.meter_V)]
    unfit = tuple(_unfit_findings(stretches, readings))
    found = None
    if not unfit:
        found = true_scale(used, readings.meter_V, readings.spec, curved=readings.curved)
    scale = None if found is None else found.scale
    findings = (
        *capture_findings(capture, rig),
        *unfit,
        *(() if found is None else _scale_findings(found, stretches, readings, about)),
    )
    return MeterDocument(
        **judged(findings, cautions, capture.ref()),
        channel=channel,
        gain=None if scale is None else scale.gain,
        offset_V=None if scale is None else scale.offset_V,
        u_gain=None if scale is None else scale.u_gain,
        u_offset_V=None if scale is None else scale.u_offset_V,
        cov=None if scale is None else scale.cov,
        residuals_V=() if found is None else tuple(found.residuals_V.tolist()),
        from_V=None if scale is None else scale.from_V,
        to_V=None if scale is None else scale.to_V,
        bend_V=None if found is None or found.bend is None else found.bend.deviation_V,
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


def _unfit_findings(stretches: Sequence[Stretch], readings: MeterReadings) -> said.Findings:
    """Readings that fix neither a line nor, where one is wanted, a curve."""
    used = len(readings.meter_V)
    levels, meter_V = np.array([each.mean_V for each in stretches[:used]]), readings.meter_V
    if len(stretches) != readings.wanted:
        yield said.unknown("stretches-miscounted", float(len(stretches)), float(readings.wanted))
    elif used < 2:
        yield said.unknown("one-reading")
    elif float(np.ptp(levels)) <= SAME_LEVEL_V:
        yield said.unknown("one-reading/one-voltage", used=used)
    elif float(np.ptp(meter_V)) <= 0.0:
        yield said.unknown("one-reading/typed-again", volts=meter_V[0], used=used)
    else:
        order = np.argsort(levels)
        true_V = np.array(meter_V)[order]
        allowed_V = np.array([readings.spec.half_width_V(volts) for volts in true_V])
        falls_V = -np.diff(true_V) - allowed_V[1:] - allowed_V[:-1]
        if bool((falls_V[np.diff(levels[order]) > SAME_LEVEL_V] > 0.0).any()):
            yield said.unknown("readings-fall")


def _scale_findings(
    found: Trued, stretches: Sequence[Stretch], readings: MeterReadings, about: Channel
) -> said.Findings:
    """What is odd about the line, and what it is good for."""
    scale, count = found.scale, len(readings.meter_V)
    levels = [stretch.mean_V for stretch in stretches[:count]]
    span_V, least_V = max(levels) - min(levels), limit("meter_span_V", about)
    pct = 100 * KNOWN_FACTOR * scale.u_gain
    yield from said.below("readings-near", span_V, least_V, pct=pct)
    yield from _shape_findings(found, count, wants_curve=readings.curved)
    if scale.curve is None:
        yield from _far_off_findings(scale, about)
    if scale.curve is not None or not found.beyond:
        yield _trued_finding(found, readings.meter_V)
    spec = readings.spec
    if readings.spec_assumed:
        yield said.passes("meter-assumed", spec=spec)
    if readings.check_V is not None:
        yield _check_finding(scale, stretches[-1], readings.check_V, spec, about)


def _shape_findings(found: Trued, count: int, *, wants_curve: bool) -> said.Findings:
    """Whether the readings lie on a straight line, bend, or do neither."""
    bend, curve, allowed_V = found.bend, found.scale.curve, float(found.allowed_V.max())
    bent = bend is not None and bend.is_one
    if bend is not None and bend.is_one and curve is None:
        severity = Severity.UNKNOWN if found.beyond else Severity.CAUTION
        bend_V = bend.deviation_V
        yield said.finding(severity, "converter-bends", bend_V, allowed_V)
    elif found.beyond and curve is None:
        off_V = float(max(abs(found.residuals_V)))
        if count < LEAST_READINGS:
            least = LEAST_READINGS
            yield said.unknown("residuals/few", off_V, allowed_V, least=least)
        else:
            yield said.unknown("residuals", off_V, allowed_V)
    if curve is not None and bend is not None and bend.rests_on_V is not None:
        yield said.caution("bend-on-one-reading", bend.rests_on_V)
    if count == 2:
        yield said.caution("two-readings", 2.0, 3.0)
    if wants_curve and curve is None and not bent:
        yield said.passes("no-bend", None if bend is None else bend.deviation_V, LEAST_BEND_V)


def _far_off_findings(scale: Scale, about: Channel) -> said.Findings:
    """A line so far from the rig file's that something else is wrong."""
    pct, offset_V = 100 * (scale.gain - 1.0), scale.offset_V
    if 100.0 * abs(scale.gain - 1.0) > limit("meter_gain_pct", about):
        yield said.caution("scale-far-off/travel", scale.gain, pct=pct)
    most_V = limit("meter_offset_V", about)
    if abs(offset_V) > most_V + 2.0 * scale.u_offset_V:
        yield said.caution("offset-far-off/travel", offset_V, most_V)


def _trued_finding(found: Trued, meter_V: Sequence[float]) -> Finding:
    """What is known of the logger now, and what it was before."""
    scale, from_V, to_V = found.scale, min(meter_V), max(meter_V)
    middle_V = 0.5 * (from_V + to_V)
    u_V = trued_u(middle_V, scale)
    known_V = KNOWN_FACTOR * u_V
    if scale.curve is not None:
        line_V = float(np.abs(found.residuals_V).max())
        return said.passes(
            "trued/curve", u_V, scale=scale, line_V=line_V, known_V=known_V, middle_V=middle_V
        )
    return said.passes(
        "trued/travel",
        u_V,
        scale=scale,
        gain_pct=100 * (1.0 / scale.gain - 1.0),
        offset_V=-scale.offset_V / scale.gain,
        known_V=known_V,
        middle_V=middle_V,
    )


def _check_finding(
    scale: Scale, stretch: Stretch, check_V: float, spec: MeterSpec, about: Channel
) -> Finding:
    """A reading that the line has not seen."""
    read_V = float(trued(scale, np.array(stretch.mean_V)))
    off_V = check_V - read_V
    u_V = math.hypot(u_at(read_V, scale), spec.u_V(check_V), scale.gain * stretch.u_V)
    most_V = limit("check_reading_u", about) * u_V
    return said.within("check-reading", "check-reading/off", off_V, most_V, Severity.FAIL)
