"""``calib display``: what only the controller's display shows, against something true."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import click

from calib.cli.meter_options import meter_options, meter_spec
from calib.cli.options import Shared, shared
from calib.cli.quantity import Quantity
from calib.store.plausible import Usual

if TYPE_CHECKING:
    from calib.checks.display import Motor, OnOff
    from calib.store.capture import Capture
    from calib.store.rig import Rig

PACK_V = Usual(5.0, 1000.0, "V")
DEG_C = Usual(-40.0, 150.0, "degC")
DEG_F = Usual(-40.0, 302.0, "degF")
"""Own choices: from two cells to a car's pack; from the coldest garage to a motor that boils."""


@click.command()
@shared("from_file", "out", "as_json")
@click.option(
    "--pack-V-shown",
    "pack_shown_V",
    type=Quantity(PACK_V),
    metavar="V",
    help="Pack volts as the display shows them.",
)
@click.option(
    "--pack-V-meter",
    "pack_meter_V",
    type=Quantity(PACK_V),
    metavar="V",
    help="The same on a meter, at the same moment.",
)
@click.option(
    "--shown-step-V",
    "shown_step_V",
    type=Quantity(Usual(0.001, 5.0, "V")),
    default=0.1,
    show_default=True,
    metavar="S",
    help="Step of the display's volts.",
)
@meter_options
@click.option(
    "--motor-degC-shown",
    "motor_degC",
    type=Quantity(DEG_C),
    metavar="T",
    help="The motor's temperature as the display shows it, after a night.",
)
@click.option(
    "--motor-degF-shown",
    "motor_degF",
    type=Quantity(DEG_F),
    metavar="T",
    help="The same in degrees F.",
)
@click.option(
    "--garage-degC",
    "garage_degC",
    type=Quantity(DEG_C),
    metavar="T",
    help="The garage's temperature; with --from FILE its ambient channel is taken.",
)
@click.option(
    "--garage-degF",
    "garage_degF",
    type=Quantity(DEG_F),
    metavar="T",
    help="The same in degrees F.",
)
@click.option(
    "--cold-h",
    type=Quantity(Usual(0.0, 10_000.0, "h")),
    metavar="H",
    help="Hours for which the motor has stood.",
)
@click.option(
    "--brake-shown",
    metavar="on,off",
    help="What the display says of the brake: lever pulled, then free.",
)
def command(
    shared: Shared,
    pack_shown_V: float | None,
    pack_meter_V: float | None,
    shown_step_V: float,
    brake_shown: str | None,
    meter_pct: float | None,
    meter_digits: float | None,
    meter_step_V: float | None,
    **degrees: float | None,
) -> int:
    """Hold what only the display shows against something true: pack volts, cold motor, brake.

    Each takes a minute, and nothing need be wired. Pack volts can kill: insulated leads, one hand,
    a fuse in the lead, or leave it to somebody licensed.
    """
    from calib.checks.display import Pack, Shown, judge_display
    from calib.cli.clock import now
    from calib.cli.output import finish
    from calib.errors import UsageError
    from calib.guide.cautions import DISPLAY_CAUTIONS
    from calib.show.wheel import show_display
    from calib.store.records import Subject, save_record

    rig = shared.rig()
    if (pack_shown_V is None) != (pack_meter_V is None):
        raise UsageError(
            "--pack-V-shown and --pack-V-meter go together.", "Read both at the same moment."
        )
    pack = None
    if pack_shown_V is not None and pack_meter_V is not None:
        spec, assumed = meter_spec(meter_pct, meter_digits, meter_step_V)
        pack = Pack(pack_shown_V, shown_step_V, pack_meter_V, spec, assumed)
    motor, captures = _motor(shared, rig, **degrees)
    shown = Shown(pack, motor, None if brake_shown is None else _brake(brake_shown))
    if shown == Shown():
        raise UsageError(
            "Nothing was read from the display.",
            "Give for instance --pack-V-shown 57.9 --pack-V-meter 58.4, or --brake-shown on,off.",
        )
    document = judge_display(shown, rig, DISPLAY_CAUTIONS)
    save_record(shared.folder, rig, document, Subject("display"), now=now(), captures=captures)
    return finish(document, show_display, as_json=shared.as_json)


def _motor(
    shared: Shared,
    rig: Rig,
    *,
    motor_degC: float | None,
    motor_degF: float | None,
    garage_degC: float | None,
    garage_degF: float | None,
    cold_h: float | None,
) -> tuple[Motor | None, list[Capture]]:
    """The cold motor's temperature and the garage's, in degrees C.

    Raises:
        UsageError: One is given twice, or not at all.
    """
    from calib.checks.display import Motor
    from calib.errors import UsageError

    shown, step_K = _celsius("--motor-deg", motor_degC, motor_degF)
    garage, _ = _celsius("--garage-deg", garage_degC, garage_degF)
    if shown is None:
        if garage is not None or cold_h is not None or shared.from_file is not None:
            raise UsageError(
                "The garage's temperature says nothing without the motor's.",
                "Give --motor-degC-shown T or --motor-degF-shown T.",
            )
        return None, []
    if garage is not None:
        return Motor(shown, step_K, garage, "thermometer", cold_h), []
    if shared.from_file is None:
        raise UsageError(
            "The motor's temperature was given without the garage's.",
            "Give --garage-degC T, or --from FILE with a channel whose role is 'ambient'.",
        )
    garage, capture = _logged_garage(shared, rig)
    return Motor(shown, step_K, garage, "logger", cold_h), [capture]


def _celsius(option: str, degC: float | None, degF: float | None) -> tuple[float | None, float]:
    """A temperature that was typed in either unit, degrees C, and the step it was typed in, K."""
    from calib.errors import UsageError

    if degC is not None and degF is not None:
        raise UsageError(f"{option}C and {option}F were given together.", "Give one of them.")
    if degF is not None:
        return (degF - 32.0) / 1.8, 1.0 / 1.8
    return degC, 1.0


def _logged_garage(shared: Shared, rig: Rig) -> tuple[float, Capture]:
    """Mean of the ambient channel in a file, degrees C.

    Raises:
        UsageError: The rig file has no such channel, or it gives no degrees.
    """
    from calib.checks.display import garage_degC
    from calib.cli.session import given_capture
    from calib.errors import UsageError
    from calib.store.capture import read_capture

    name = next(iter(rig.with_role("ambient")), None)
    if name is None:
        raise UsageError(
            f"{rig.path} has no channel with the role 'ambient'.", "Give --garage-degC T."
        )
    capture = read_capture(given_capture(shared, rig, command="display"))
    found = garage_degC(capture, rig, name)
    if found is None:
        raise UsageError(f"Channel {name!r} gives no temperature.", "Give --garage-degC T.")
    return found, capture


def _brake(text: str) -> tuple[OnOff, OnOff]:
    """Two words: lever pulled, lever free.

    Raises:
        UsageError: They are none.
    """
    from calib.errors import UsageError
    from calib.store.text import neutral

    words: dict[str, Literal["on", "off"]] = {"on": "on", "off": "off"}
    parts = [words.get(part.strip().casefold()) for part in text.split(",")]
    if len(parts) != 2 or parts[0] is None or parts[1] is None:
        raise UsageError(
            f"--brake-shown {neutral(text, 30)!r}: expected what is shown with the lever pulled, "
            "then free.",
            "Type for instance --brake-shown on,off.",
        )
    return parts[0], parts[1]
