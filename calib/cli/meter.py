"""``calib meter``: trues the logger's scale against a multimeter."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from calib.cli.completion import channel_names
from calib.cli.meter_options import meter_options, meter_spec
from calib.cli.options import Shared, shared
from calib.cli.quantity import Quantity
from calib.store.plausible import METER_V

if TYPE_CHECKING:
    from pathlib import Path

    from calib.checks.travel.meter import MeterReadings
    from calib.store.rig import Rig

LIVE_READINGS = 3
"""Own choice: two fix the line, the third shows a slip."""

CURVE_READINGS = 7
"""Own choice: five show a bend, two more its shape."""


@click.command()
@click.argument("channel", shell_complete=channel_names)
@shared()
@click.option(
    "--meter-V",
    "meter_V",
    type=Quantity(METER_V),
    multiple=True,
    metavar="V",
    help="What the meter showed, once for each still voltage, in their order; else it is asked.",
)
@meter_options
@click.option(
    "--check-V",
    "check_V",
    type=Quantity(METER_V),
    metavar="V",
    help="What the meter showed at one more voltage, the last: held against the trued scale.",
)
@click.option(
    "--curve",
    "curved",
    is_flag=True,
    help="Make a curve of five readings or more where they bend, for a converter that bows.",
)
@click.option(
    "--true-channel",
    metavar="NAME",
    shell_complete=channel_names,
    help="A channel of the file with true volts, as in a published table: each row is a reading.",
)
def command(
    shared: Shared,
    channel: str,
    meter_V: tuple[float, ...],
    curved: bool,
    true_channel: str | None,
    meter_pct: float | None,
    meter_digits: float | None,
    meter_step_V: float | None,
    check_V: float | None,
) -> int:
    """True a channel's volts against a multimeter, and write the scale into the rig file.

    Set a steady voltage (a spare potentiometer; rest and full travel will do), freeze the meter,
    write the reading down; once near each end, and once between. Clips or back-probes, both hands
    free.
    """
    from calib.checks.travel.meter import MeterReadings, judge_meter, scale_of
    from calib.cli.clock import now
    from calib.cli.output import finish
    from calib.cli.session import given_capture
    from calib.errors import UsageError
    from calib.guide.cautions import METER_CAUTIONS
    from calib.show.inputs import show_meter
    from calib.store.capture import read_capture
    from calib.store.records import Subject, save_record
    from calib.store.rig_writing import Entry, RigEdit, edit_rig

    rig = shared.rig()
    rig.channel(channel)
    spec, assumed = meter_spec(meter_pct, meter_digits, meter_step_V)
    readings = MeterReadings(meter_V, spec, assumed, check_V, curved, true_channel)
    _refuse_odd(shared, rig, readings)
    if shared.from_file is None:
        path, readings = _live(shared, rig, channel, readings)
    elif meter_V or true_channel:
        path = given_capture(shared, rig, command="meter")
    else:
        raise UsageError(
            "A capture was given without the meter's readings.",
            "Give --meter-V once for each still voltage in it.",
        )
    capture = read_capture(path)
    document = judge_meter(
        capture,
        rig,
        channel,
        readings,
        METER_CAUTIONS,
    )
    if document.verdict.is_good and document.gain is not None:
        table = ("channels", channel, "scale")
        before = (table,) if rig.channel(channel).scale is not None else ()
        scale = scale_of(document, now().date().isoformat())
        entries = {key: Entry(value) for key, value in scale.items()}
        edit_rig(shared.rig_path, RigEdit({table: entries}, without=before))
        rig = shared.rig(again=rig)
        rig.note_below(f"channels.{channel}.scale")
    subject = Subject("meter", channel)
    save_record(shared.folder, rig, document, subject, now=now(), captures=[capture])
    return finish(document, show_meter, as_json=shared.as_json, onward=shared)


def _refuse_odd(shared: Shared, rig: Rig, readings: MeterReadings) -> None:
    """Refuse options that do not go together.

    Raises:
        UsageError: A table without a file or beside readings; a curve of fewer than five.
    """
    from calib.controls.bend import LEAST_READINGS
    from calib.errors import UsageError

    if readings.true_channel is not None:
        rig.channel(readings.true_channel)
        if shared.from_file is None or readings.meter_V or readings.check_V is not None:
            raise UsageError(
                "--true-channel takes true volts from a file, and the meter's readings from none.",
                "Give it with --from FILE, and without --meter-V and --check-V.",
            )
    if readings.curved and 0 < len(readings.meter_V) < LEAST_READINGS:
        raise UsageError(
            f"--curve was given with {len(readings.meter_V)} readings, and a bend can be told from "
            f"{LEAST_READINGS} on.",
            "Give more readings, spread from rest to full travel, or leave --curve out.",
        )


def _live(
    shared: Shared, rig: Rig, channel: str, readings: MeterReadings
) -> tuple[Path, MeterReadings]:
    """The voltages with the person; what the meter showed is typed afterwards."""
    from dataclasses import replace

    from calib.checks.travel.meter import stretches_in, untrued
    from calib.cli.clock import host_clock_s, now
    from calib.cli.session import live_line, person_at
    from calib.guide.capturing import attend, capture_until
    from calib.guide.cautions import METER_CAUTIONS, isolation_card
    from calib.guide.meter import ChangedWatch, MeterWatch, ask_meter_V
    from calib.guide.recording import gauge_for
    from calib.store.capture import read_capture

    card = isolation_card(f"put a meter on {channel}", METER_CAUTIONS)
    wanted = CURVE_READINGS if readings.curved else LIVE_READINGS
    wanted = readings.wanted if readings.meter_V else wanted
    with person_at(shared) as person:
        with live_line(rig, person, isolation=card) as line:
            gauge, bare = gauge_for(rig, line.columns, channel), untrued(rig.channel(channel))
            if not shared.yes:
                first = ChangedWatch(person, gauge, bare, wanted=wanted, clock=host_clock_s)
                attend(line, first)
            watch = MeterWatch(person, gauge, bare, wanted=wanted, clock=host_clock_s)
            path = capture_until(line, rig, shared.folder, watch, command="meter", now=now())
        if not readings.meter_V:
            stretches = stretches_in(read_capture(path), rig, channel)
            readings = replace(readings, meter_V=ask_meter_V(person, stretches), check_V=None)
    return path, readings
