"""``calib meter``: trues the logger's scale against a multimeter."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Annotated

from calib.cli.flow import Flow, now
from calib.cli.options import ChannelName, Meter, Shared, channel_names, option, shared
from calib.errors import UsageError
from calib.store.plausible import METER_V

if TYPE_CHECKING:
    from calib.checks.travel.meter import MeterReadings
    from calib.store.capture import Capture

LIVE_READINGS = 3
"""Own choice: two fix the line, the third shows a slip."""

CURVE_READINGS = 7
"""Own choice: five show a bend, two more its shape."""


@shared(example="throttle --meter-pct 0.5 --meter-digits 2")
def command(
    shared: Shared,
    channel: ChannelName,
    meter_V: Annotated[tuple[float, ...], option("V", kind=METER_V, multiple=True)],
    meter_pct: Meter.Pct,
    meter_digits: Meter.Digits,
    meter_step_V: Meter.Step,
    check_V: Annotated[float | None, option("V", kind=METER_V)],
    curve: Annotated[bool, option()],
    true_channel: Annotated[str | None, option("NAME", shell_complete=channel_names)],
) -> int:
    """True a channel's volts against a multimeter, and write the scale into the rig file.

    Set a steady voltage (a spare potentiometer; rest and full travel will do), freeze the meter,
    write the reading down; once near each end, and once between. Clips or back-probes, both hands
    free.

    Options:
        --meter-V: What the meter showed, once for each still voltage, in their order; else it is
            asked.
        --check-V: What the meter showed at one more voltage, the last: held against the trued
            scale.
        --curve: Make a curve of five readings or more where they bend, for a converter that bows.
        --true-channel: A channel of the file with true volts, as in a published table: each row is
            a reading.
    """
    from calib.checks.travel.meter import MeterReadings, judge_meter, scale_of
    from calib.guide.cautions import METER_CAUTIONS
    from calib.store.rig_writing import Entry, RigEdit, edit_rig

    flow = Flow(shared, "meter", METER_CAUTIONS, channel=channel)
    rig = flow.rig
    rig.channel(channel)
    accuracy = Meter.accuracy(meter_pct, meter_digits, meter_step_V)
    readings = MeterReadings(meter_V, *accuracy, check_V, curve, true_channel)
    _refuse_odd(flow, readings)
    capture, readings = _captured(flow, channel, readings)
    document = judge_meter(capture, rig, channel, readings, flow.cautions)
    if document.verdict.is_good and document.gain is not None:
        table = ("channels", channel, "scale")
        before = (table,) if rig.channel(channel).scale is not None else ()
        scale = scale_of(document, now().date().isoformat())
        entries = {key: Entry(value) for key, value in scale.items()}
        edit_rig(shared.rig_path, RigEdit({table: entries}, without=before))
        flow.reread(f"channels.{channel}.scale")
    return flow.end(document, [capture])


def _refuse_odd(flow: Flow, readings: MeterReadings) -> None:
    """Refuse options that do not go together.

    Raises:
        UsageError: A table without a file or beside readings; a curve of fewer than five.
    """
    from calib.controls.bend import LEAST_READINGS

    if readings.true_channel is not None:
        flow.rig.channel(readings.true_channel)
        if flow.shared.from_file is None or readings.meter_V or readings.check_V is not None:
            raise UsageError.of("true-channel-and-readings")
    if readings.curved and 0 < len(readings.meter_V) < LEAST_READINGS:
        raise UsageError.of("curve-of-few", given=len(readings.meter_V), least=LEAST_READINGS)


def _captured(flow: Flow, channel: str, readings: MeterReadings) -> tuple[Capture, MeterReadings]:
    """The voltages, in a file or with the person, who types afterwards what the meter showed.

    Raises:
        UsageError: A file was given without the meter's readings.
    """
    from calib.checks.travel.meter import stretches_in, untrued
    from calib.guide.capturing import attend
    from calib.guide.meter import ChangedWatch, MeterWatch, ask_meter_V
    from calib.guide.recording import gauge_for
    from calib.store.capture import read_capture

    rig, given = flow.rig, flow.shared.from_file
    if given is not None:
        if not readings.meter_V and readings.true_channel is None:
            raise UsageError.of("capture-without-readings")
        return flow.given(given), readings
    usual = CURVE_READINGS if readings.curved else LIVE_READINGS
    wanted = readings.wanted if readings.meter_V else usual
    with flow.line(f"put a meter on {channel}") as (person, line):
        gauge = gauge_for(rig, line.columns, channel)
        bare = replace(gauge, channel=untrued(rig.channel(channel)))
        if not flow.shared.yes:
            attend(line, ChangedWatch(person, gauge, bare, wanted))
        capture = read_capture(flow.record(line, MeterWatch(person, gauge, bare, wanted)))
        if not readings.meter_V:
            stretches = stretches_in(capture, rig, channel)
            readings = replace(readings, meter_V=ask_meter_V(person, stretches), check_V=None)
    return capture, readings
