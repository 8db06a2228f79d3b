"""``calib display``: what only the controller's display shows, against something true."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from calib.cli.flow import Flow
from calib.cli.options import Meter, Shared, go_together, option, shared
from calib.errors import UsageError
from calib.store.plausible import Usual

if TYPE_CHECKING:
    from calib.checks.display import Motor, OnOff
    from calib.store.capture import Capture

PACK_V = Usual(5.0, 1000.0, "V")
DEG_C = Usual(-40.0, 150.0, "degC")
DEG_F = Usual(-40.0, 302.0, "degF")
"""Own choices: from two cells to a car's pack; from the coldest garage to a motor that boils."""


@shared("from_file", "out", "as_json", example="--brake-shown on,off")
def command(
    shared: Shared,
    pack_V_shown: Annotated[float | None, option("V", kind=PACK_V)],
    pack_V_meter: Annotated[float | None, option("V", kind=PACK_V)],
    shown_step_V: Annotated[float, option("S", kind=Usual(0.001, 5.0, "V"), default=0.1)],
    meter_pct: Meter.Pct,
    meter_digits: Meter.Digits,
    meter_step_V: Meter.Step,
    motor_degC: Annotated[float | None, option("--motor-degC-shown T", kind=DEG_C)],
    motor_degF: Annotated[float | None, option("--motor-degF-shown T", kind=DEG_F)],
    garage_degC: Annotated[float | None, option("T", kind=DEG_C)],
    garage_degF: Annotated[float | None, option("T", kind=DEG_F)],
    cold_h: Annotated[float | None, option("H", kind=Usual(0.0, 10_000.0, "h"))],
    brake_shown: Annotated[str | None, option("on,off")],
) -> int:
    """Hold what only the display shows against something true: pack volts, cold motor, brake.

    Each takes a minute, and nothing need be wired. Pack volts can kill: insulated leads, one hand,
    a fuse in the lead, or leave it to somebody licensed.

    Options:
        --pack-V-shown: Pack volts as the display shows them.
        --pack-V-meter: The same on a meter, at the same moment.
        --shown-step-V: Step of the display's volts.
        --motor-degC-shown: The motor's temperature as the display shows it, after a night.
        --motor-degF-shown: The same in degrees F.
        --garage-degC: The garage's temperature; with --from FILE its ambient channel is taken.
        --garage-degF: The same in degrees F.
        --cold-h: Hours for which the motor has stood.
        --brake-shown: What the display says of the brake: lever pulled, then free.
    """
    from calib.checks.display import Pack, judge_display
    from calib.guide.cautions import DISPLAY_CAUTIONS

    flow = Flow(shared, "display", DISPLAY_CAUTIONS)
    go_together(
        "Read both at the same moment.", pack_V_shown=pack_V_shown, pack_V_meter=pack_V_meter
    )
    pack = None
    if pack_V_shown is not None and pack_V_meter is not None:
        accuracy = Meter.accuracy(meter_pct, meter_digits, meter_step_V)
        pack = Pack(pack_V_shown, shown_step_V, pack_V_meter, *accuracy)
    typed = _celsius("motor", motor_degC, motor_degF)
    garage_degC, _ = _celsius("garage", garage_degC, garage_degF)
    motor, captures = _motor(flow, typed, garage_degC, cold_h)
    brake = None if brake_shown is None else _brake(brake_shown)
    if pack is None and motor is None and brake is None:
        raise UsageError.of("nothing-on-display")
    document = judge_display(pack, motor, brake, flow.rig, flow.cautions)
    flow.keep(document, captures)
    return flow.show(document)


def _motor(
    flow: Flow, typed: tuple[float | None, float], garage: float | None, cold_h: float | None
) -> tuple[Motor | None, list[Capture]]:
    """The cold motor's temperature and the garage's, in degrees C.

    Raises:
        UsageError: One is given twice, or not at all.
    """
    from calib.checks.display import Motor

    shown, step_K = typed
    if shown is None:
        if garage is not None or cold_h is not None or flow.shared.from_file is not None:
            raise UsageError.of("garage-without-motor")
        return None, []
    if garage is not None:
        return Motor(shown, step_K, garage, "thermometer", cold_h), []
    garage, capture = _logged_garage(flow)
    return Motor(shown, step_K, garage, "logger", cold_h), [capture]


def _celsius(what: str, degC: float | None, degF: float | None) -> tuple[float | None, float]:
    """A temperature that was typed in either unit, degrees C, and the step it was typed in, K."""
    if degC is not None and degF is not None:
        raise UsageError.of("two-temperatures", what=what)
    if degF is not None:
        return (degF - 32.0) / 1.8, 1.0 / 1.8
    return degC, 1.0


def _logged_garage(flow: Flow) -> tuple[float, Capture]:
    """Mean of the ambient channel in a file, degrees C.

    Raises:
        UsageError: There is no file, the rig file has no such channel, or it gives no degrees.
    """
    from calib.checks.display import garage_degC

    if flow.shared.from_file is None:
        raise UsageError.of("motor-without-garage")
    name = next(iter(flow.rig.with_role("ambient")), None)
    if name is None:
        raise UsageError.of("no-ambient", path=flow.rig.path)
    capture = flow.given(flow.shared.from_file)
    found = garage_degC(capture, flow.rig, name)
    if found is None:
        raise UsageError(f"Channel {name!r} gives no temperature.", "Give --garage-degC T.")
    return found, capture


def _brake(text: str) -> tuple[OnOff, OnOff]:
    """Two words: lever pulled, lever free.

    Raises:
        UsageError: They are none.
    """
    from calib.store.text import neutral

    words: dict[str, OnOff] = {"on": "on", "off": "off"}
    parts = [words.get(part.strip().casefold()) for part in text.split(",")]
    if len(parts) != 2 or parts[0] is None or parts[1] is None:
        raise UsageError.of("brake-shown-unreadable", text=neutral(text, 30))
    return parts[0], parts[1]
