"""``calib level``: the level zero of the tilt sensor."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from calib.cli.options import Shared, shared
from calib.cli.quantity import Quantity
from calib.cli.tilt_options import shown_step_option
from calib.store.plausible import SHOWN_DEG, WHEELBASE_MM, Usual

if TYPE_CHECKING:
    from calib.checks.tilt.level import LevelSettings, Standings
    from calib.guide.level import LevelPlan
    from calib.store.rig import Rig

FILE = click.Path(path_type=Path)


@click.command()
@shared()
@click.option("--turned", is_flag=True, help="Turn the machine end for end: floor told apart.")
@click.option(
    "--turned-from", type=FILE, multiple=True, metavar="FILE", help="The turned standing; repeat."
)
@click.option("--seated", is_flag=True, help="Measure the rider's tilt too.")
@click.option("--seated-from", type=FILE, metavar="FILE", help="The standing with the rider.")
@click.option("--stand", is_flag=True, help="A stand fixed to the floor sets the roll, no hand.")
@click.option(
    "--floor-slope-deg",
    type=Quantity(Usual(-20.0, 20.0, "degrees")),
    metavar="A",
    help="The floor's slope as measured otherwise, front higher positive.",
)
@click.option(
    "--floor-slope-u-deg",
    type=Quantity(Usual(0.0, 5.0, "degrees")),
    default=0.3,
    show_default=True,
    metavar="A",
    help="Its standard uncertainty.",
)
@click.option(
    "--shown-level",
    type=Quantity(SHOWN_DEG),
    metavar="A",
    help="What the controller shows, first standing.",
)
@click.option(
    "--shown-turned",
    type=Quantity(SHOWN_DEG),
    metavar="A",
    help="What the controller shows, turned round.",
)
@click.option(
    "--shown-seated",
    type=Quantity(SHOWN_DEG),
    metavar="A",
    help="What it shows with the rider seated.",
)
@shown_step_option
@click.option(
    "--standings",
    "each_way",
    type=click.IntRange(1, 5),
    default=2,
    show_default=True,
    metavar="N",
    help="Standings each way, live.",
)
@click.option(
    "--stiction-mm",
    type=Quantity(Usual(0.0, 50.0, "mm")),
    default=5.0,
    show_default=True,
    metavar="N",
    help="How far off its middle the suspension may settle; 0 for none.",
)
@click.option(
    "--wheelbase-mm", type=Quantity(WHEELBASE_MM), metavar="N", help="Else the rig file's."
)
def command(
    shared: Shared,
    turned: bool,
    turned_from: tuple[Path, ...],
    seated: bool,
    seated_from: Path | None,
    stand: bool,
    floor_slope_deg: float | None,
    floor_slope_u_deg: float,
    shown_level: float | None,
    shown_turned: float | None,
    shown_seated: float | None,
    shown_step_deg: float,
    each_way: int,
    stiction_mm: float,
    wheelbase_mm: float | None,
) -> int:
    """Find what the tilt sensor reads when the machine is truly level.

    Upright on both wheels, nobody on it. calib waits until it stands still. A floor is rarely
    level: turn the machine end for end onto the same marks (--turned), or the floor's slope is
    in the zero.

    A sensor that only the controller sees is served by what you read off its display
    (--shown-level, --shown-turned); give them without --from and --port.
    """
    from calib.checks.tilt.level import LevelSettings, Shown, judge_level
    from calib.cli.on_file import keep_tilt
    from calib.cli.output import finish
    from calib.cli.tilting import signs_on_file
    from calib.guide.cautions import TILT_CAUTIONS
    from calib.guide.level import LevelPlan
    from calib.show.tilt import show_level
    from calib.tilt.zero import TypedSlope

    rig = shared.rig()
    settings = LevelSettings(
        stand=stand,
        typed_slope=None
        if floor_slope_deg is None
        else TypedSlope(floor_slope_deg, floor_slope_u_deg),
        shown=Shown(shown_level, shown_turned, shown_seated, shown_step_deg),
        wheelbase_mm=wheelbase_mm,
        stiction_mm=stiction_mm,
    )
    if shared.from_file is not None or turned_from or seated_from is not None:
        standings = _given(shared, rig, turned, turned_from, seated, seated_from)
    else:
        plan = LevelPlan(turned=turned, each_way=each_way, seated=seated, stand=stand)
        standings, settings = _live(shared, rig, plan, settings)
    signs = signs_on_file(shared, rig)
    document = judge_level(standings, rig, settings, TILT_CAUTIONS, signs=signs)
    captures = (*standings.first, *standings.turned, *standings.seated)
    keep_tilt(shared, rig, document, command="level", captures=captures)
    return finish(document, show_level, as_json=shared.as_json, onward=shared)


def _given(
    shared: Shared,
    rig: Rig,
    turned: bool,
    turned_from: tuple[Path, ...],
    seated: bool,
    seated_from: Path | None,
) -> Standings:
    """The standings in files."""
    from calib.checks.tilt.level import Standings
    from calib.cli.tilting import captures_in
    from calib.errors import UsageError

    if shared.from_file is None:
        raise UsageError(
            "A turned or seated standing was given without the first one.",
            "Give the first standing with --from FILE.",
        )
    for asked, given, name in ((turned, turned_from, "turned"), (seated, seated_from, "seated")):
        if asked and not given:
            raise UsageError(
                f"--{name} was asked for and its file is not named.",
                f"Name it with --{name}-from FILE, or leave out --from to do it live.",
            )
    seated_files = () if seated_from is None else (seated_from,)
    return Standings(
        first=captures_in((shared.from_file,), shared, rig, command="level"),
        turned=captures_in(turned_from, shared, rig, command="level"),
        seated=captures_in(seated_files, shared, rig, command="level"),
    )


def _live(
    shared: Shared, rig: Rig, plan: LevelPlan, settings: LevelSettings
) -> tuple[Standings, LevelSettings]:
    """The standings with the person; what was typed beforehand needs no machine."""
    from dataclasses import replace

    from calib.checks.tilt.level import Standings
    from calib.cli.session import person_at
    from calib.cli.tilting import Listener, mean_of
    from calib.guide.level import take_standings
    from calib.store.capture import read_capture

    shown = settings.shown
    typed = any(v is not None for v in (shown.level_deg, shown.turned_deg, shown.seated_deg))
    if typed and shared.port is None:
        return Standings(), settings
    asks = rig.tilt.sensor != "logger" and not typed and not shared.yes
    with (
        person_at(shared) as person,
        Listener(
            shared, rig, person, command="level", about="stand it on the floor and turn it round"
        ) as listener,
    ):
        listen = None if rig.tilt.sensor == "controller" else listener.taking.standing
        taken = take_standings(person, listen, replace(plan, asks_display=asks))
    if asks:
        shown = replace(
            shown,
            level_deg=mean_of(taken.shown_first_deg),
            turned_deg=mean_of(taken.shown_turned_deg),
        )
        settings = replace(settings, shown=shown)
    return (
        Standings(
            first=tuple(read_capture(path) for path in taken.first),
            turned=tuple(read_capture(path) for path in taken.turned),
            seated=tuple(read_capture(path) for path in taken.seated),
        ),
        settings,
    )
