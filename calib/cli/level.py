"""``calib level``: the level zero of the tilt sensor."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from calib.cli.flow import Flow
from calib.cli.options import FILE, Shared, ShownStep, Wheelbase, Whole, option, shared
from calib.errors import UsageError
from calib.store.plausible import SHOWN_DEG, Usual

if TYPE_CHECKING:
    from calib.checks.tilt.level import LevelSettings, Standings
    from calib.guide.taking import LevelPlan


@shared(example="--turned --seated")
def command(
    shared: Shared,
    turned: Annotated[bool, option()],
    turned_from: Annotated[tuple[Path, ...], option("FILE", kind=FILE, multiple=True)],
    seated: Annotated[bool, option()],
    seated_from: Annotated[Path | None, option("FILE", kind=FILE)],
    stand: Annotated[bool, option()],
    floor_slope_deg: Annotated[float | None, option("A", kind=Usual(-20.0, 20.0, "degrees"))],
    floor_slope_u_deg: Annotated[float, option("A", kind=Usual(0.0, 5.0, "degrees"), default=0.3)],
    shown_level: Annotated[float | None, option("A", kind=SHOWN_DEG)],
    shown_turned: Annotated[float | None, option("A", kind=SHOWN_DEG)],
    shown_seated: Annotated[float | None, option("A", kind=SHOWN_DEG)],
    shown_step_deg: ShownStep,
    each_way: Annotated[int, option("--standings N", kind=Whole(1, 5), default=2)],
    stiction_mm: Annotated[float, option("N", kind=Usual(0.0, 50.0, "mm"), default=5.0)],
    wheelbase_mm: Wheelbase,
) -> int:
    """Find what the tilt sensor reads when the machine is truly level.

    Upright on both wheels, nobody on it. calib waits until it stands still. A floor is rarely
    level: turn the machine end for end onto the same marks (--turned), or the floor's slope is
    in the zero.

    A sensor that only the controller sees is served by what you read off its display
    (--shown-level, --shown-turned); give them without --from and --port.

    Options:
        --turned: Turn the machine end for end: floor told apart.
        --turned-from: The turned standing; repeat.
        --seated: Measure the rider's tilt too.
        --seated-from: The standing with the rider.
        --stand: A stand fixed to the floor sets the roll, no hand.
        --floor-slope-deg: The floor's slope as measured otherwise, front higher positive.
        --floor-slope-u-deg: Its standard uncertainty.
        --shown-level: What the controller shows, first standing.
        --shown-turned: What the controller shows, turned round.
        --shown-seated: What it shows with the rider seated.
        --standings: Standings each way, live.
        --stiction-mm: How far off its middle the suspension may settle; 0 for none.
    """
    from calib.checks.tilt.level import LevelSettings, Shown, judge_level
    from calib.guide.cautions import TILT_CAUTIONS
    from calib.guide.taking import LevelPlan
    from calib.store.documents.tilt import SignsDocument
    from calib.tilt.zero import TypedSlope

    flow = Flow(shared, "level", TILT_CAUTIONS, tilt=True)
    slope = None if floor_slope_deg is None else TypedSlope(floor_slope_deg, floor_slope_u_deg)
    settings = LevelSettings(
        stand=stand,
        typed_slope=slope,
        shown=Shown(shown_level, shown_turned, shown_seated, shown_step_deg),
        wheelbase_mm=wheelbase_mm,
        stiction_mm=stiction_mm,
    )
    plan = LevelPlan(turned=turned, each_way=each_way, seated=seated, stand=stand)
    seated_files = () if seated_from is None else (seated_from,)
    if shared.from_file is not None or turned_from or seated_files:
        standings = _given(flow, plan, turned_from, seated_files)
    else:
        standings, settings = _live(flow, plan, settings)
    signs = flow.build_on(flow.filed().validity(SignsDocument))
    document = judge_level(standings, flow.rig, settings, flow.cautions, signs=signs)
    return flow.end(document, (*standings.first, *standings.turned, *standings.seated))


def _given(
    flow: Flow, plan: LevelPlan, turned: tuple[Path, ...], seated: tuple[Path, ...]
) -> Standings:
    """The standings in files.

    Raises:
        UsageError: The first one is missing, or one that was asked for.
    """
    from calib.checks.tilt.level import Standings

    first = flow.shared.from_file
    if first is None:
        raise UsageError.of("standing-without-first")
    for asked, files, name in ((plan.turned, turned, "turned"), (plan.seated, seated, "seated")):
        if asked and not files:
            raise UsageError.of("standing-without-file", name=name)
    return Standings(*(tuple(map(flow.given, files)) for files in ((first,), turned, seated)))


def _live(flow: Flow, plan: LevelPlan, settings: LevelSettings) -> tuple[Standings, LevelSettings]:
    """The standings with the person; what was typed beforehand needs no machine."""
    from dataclasses import replace

    from calib.checks.tilt.level import Standings
    from calib.cli.session import taking
    from calib.guide.taking import take_standings
    from calib.store.capture import read_capture

    shown, sensor = settings.shown, flow.rig.tilt.sensor
    typed = any(v is not None for v in (shown.level_deg, shown.turned_deg, shown.seated_deg))
    if typed and flow.shared.port is None:
        return Standings(), settings
    asks = sensor != "logger" and not typed and not flow.shared.yes
    with taking(flow, "stand it on the floor and turn it round") as take:
        listen = None if sensor == "controller" else take.standing
        taken = take_standings(take.person, listen, replace(plan, asks_display=asks))
    if asks:
        first, turned = _mean_of(taken.shown_first_deg), _mean_of(taken.shown_turned_deg)
        settings = replace(settings, shown=replace(shown, level_deg=first, turned_deg=turned))
    read = (tuple(map(read_capture, each)) for each in (taken.first, taken.turned, taken.seated))
    return Standings(*read), settings


def _mean_of(values: list[float]) -> float | None:
    """Mean of what was typed; None where nothing was."""
    return sum(values) / len(values) if values else None
