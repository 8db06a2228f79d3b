"""``calib wheel``: pulses a turn, circumference, and how wrong the shown speed is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from calib.cli.completion import channel_names
from calib.cli.options import Shared, shared
from calib.cli.quantity import Quantity
from calib.store.plausible import Usual

if TYPE_CHECKING:
    from calib.checks.wheel.judgement import Display, Known, Tape
    from calib.store.asked import AskingRig
    from calib.store.capture import Capture

DEFAULT_TURNS = 10
"""Own choice: with ten turns up to 65 pulses a turn are told from their neighbours."""

WAY_M = Usual(0.5, 100_000.0, "m")
SPEED_KMH = Usual(0.5, 300.0, "km/h")
"""Own choices: from half a turn to a day's ride; a speed below walking tells nothing."""


@click.command()
@click.argument("channel", required=False, shell_complete=channel_names)
@shared()
@click.option(
    "--turns", type=click.IntRange(1, 1000), metavar="N", help="Turns by hand from mark to mark."
)
@click.option(
    "--rolled-m",
    "rolled_m",
    type=Quantity(WAY_M),
    multiple=True,
    metavar="M",
    help="Way along a tape, in metres; once for each push.",
)
@click.option(
    "--rolled-ft",
    "rolled_ft",
    type=Quantity(Usual(1.5, 330_000.0, "ft")),
    multiple=True,
    metavar="FT",
    help="The same in feet.",
)
@click.option(
    "--over-turns", type=click.IntRange(1, 1000), metavar="N", help="Turns of each such way."
)
@click.option("--seated", is_flag=True, help="The rider's weight was on while it was rolled.")
@click.option(
    "--shown-m",
    nargs=2,
    type=Quantity(Usual(0.0, 1e7, "m")),
    metavar="A B",
    help="The controller's trip at the start and the end of the ways or turns, in metres.",
)
@click.option(
    "--shown-kmh",
    type=Quantity(SPEED_KMH),
    metavar="V",
    help="A speed that it showed, with --true-kmh.",
)
@click.option(
    "--shown-step",
    type=Quantity(Usual(0.001, 1000.0)),
    metavar="S",
    help="Step of what is shown, m or km/h; 1 without it.",
)
@click.option(
    "--true-kmh",
    type=Quantity(SPEED_KMH),
    metavar="V",
    help="The true speed then, as a satellite receiver had it on closed ground.",
)
@click.option(
    "--true-u-kmh",
    type=Quantity(Usual(0.0, 20.0, "km/h")),
    metavar="U",
    help="Its standard uncertainty; 0.36 km/h without it.",
)
@click.option(
    "--set-pulses",
    type=Quantity(Usual(0.01, 1000.0)),
    metavar="N",
    help="Pulses a turn that the controller has now.",
)
@click.option(
    "--set-mm",
    type=Quantity(Usual(100.0, 5000.0, "mm")),
    metavar="MM",
    help="Circumference that it has now.",
)
def command(
    shared: Shared,
    channel: str | None,
    turns: int | None,
    rolled_m: tuple[float, ...],
    rolled_ft: tuple[float, ...],
    over_turns: int | None,
    seated: bool,
    set_pulses: float | None,
    set_mm: float | None,
    **shown: Any,
) -> int:
    """Find pulses a turn and circumference of the wheel, and how wrong the shown speed is.

    Drive isolated, wheel up: turn it by hand from mark to mark. Or, without a cable, push it along
    a tape with the valve at the bottom at both ends: --rolled-m M --over-turns N. Never ride with
    the tap on; calib asks for no ride.
    """
    from calib.checks.wheel.judgement import WheelRun, judge_wheel
    from calib.cli.clock import now
    from calib.cli.output import finish
    from calib.guide.cautions import ROLL_CAUTIONS, WHEEL_CAUTIONS
    from calib.show.wheel import show_wheel
    from calib.store.records import Subject, save_record

    rig = shared.rig()
    if over_turns is not None and not rolled_m and not rolled_ft:
        rolled_m = (_pushed_m(shared, rig, over_turns, seated=seated),)
    tape = _tape(rolled_m, rolled_ft, over_turns, seated=seated, logged=shared.from_file)
    display = _display(tape, turns, (set_pulses, set_mm), **shown)
    capture: Capture | None = None
    without_cable = display is not None and not rig.with_role("wheel")
    listens = (turns is not None and not without_cable) or (tape is None and display is None)
    if listens or shared.from_file is not None:
        channel, _ = rig.wheel(channel)
        capture, turns = _captured(shared, rig, channel, turns)
    elif channel is not None:
        channel, _ = rig.wheel(channel)
    run = WheelRun(channel, capture, turns, tape, display, _known(shared, rig))
    cautions = ROLL_CAUTIONS if tape is not None and capture is None else WHEEL_CAUTIONS
    document = judge_wheel(run, rig, cautions)
    captures = [] if capture is None else [capture]
    save_record(
        shared.folder, rig, document, Subject("wheel", channel), now=now(), captures=captures
    )
    return finish(document, show_wheel, as_json=shared.as_json, onward=shared)


def _pushed_m(shared: Shared, rig: AskingRig, turns: int, *, seated: bool) -> float:
    """The way that the person pushes it, m, typed by the person; no cable is needed.

    Raises:
        StoppedError: The isolation was not confirmed, or no number can be had.
    """
    from calib.cli.session import person_at
    from calib.guide.asking import ask_until, number_of
    from calib.guide.cautions import ROLL_CAUTIONS, isolation_card
    from calib.guide.wheel import push_prompt
    from calib.mule.presence import is_simulated

    with person_at(shared) as person:
        if not is_simulated(rig.link.port):
            person.confirm_isolation(isolation_card("push it along a tape", ROLL_CAUTIONS))
        person.wait_until_ready(push_prompt(turns, seated=seated))
        question = f"Way along the tape in {turns} turns of the wheel, in m"
        return ask_until(person, question, number_of(WAY_M, "m"), "A number such as 19.84.")


def _tape(
    rolled_m: tuple[float, ...],
    rolled_ft: tuple[float, ...],
    over_turns: int | None,
    *,
    seated: bool,
    logged: object,
) -> Tape | None:
    """The ways along a tape.

    Raises:
        UsageError: They are given in two units, or without what belongs to them.
    """
    from calib.checks.wheel.judgement import Tape
    from calib.errors import UsageError
    from calib.wheel.rolling import FOOT_M

    if rolled_m and rolled_ft:
        raise UsageError("The ways are in metres and in feet.", "Give all of them in one unit.")
    ways_m = rolled_m or tuple(FOOT_M * each for each in rolled_ft)
    if not ways_m:
        if seated:
            raise UsageError(
                "--seated belongs to a way along a tape, and none was given.",
                "Give it with --rolled-m M or --rolled-ft FT.",
            )
        return None
    if over_turns is None and logged is None:
        raise UsageError(
            "A way was given without its turns.", "Count them, and give --over-turns N."
        )
    if over_turns is None and len(ways_m) > 1:
        raise UsageError(
            "A log has one way, and several were given.", "Give one --rolled-m, or --over-turns N."
        )
    return Tape(ways_m, over_turns, seated)


def _display(
    tape: Tape | None,
    turns: int | None,
    settings: tuple[float | None, float | None],
    *,
    shown_m: tuple[float, float] | None,
    shown_kmh: float | None,
    shown_step: float | None,
    **true: float | None,
) -> Display | None:
    """What the display showed, and what is set.

    Raises:
        UsageError: Something that belongs to it is missing, or it does not rise.
    """
    from calib.checks.wheel.judgement import Display
    from calib.errors import UsageError
    from calib.wheel.shown import SATELLITE_KMH

    set_pulses, set_mm = settings
    true_kmh, true_u_kmh = true["true_kmh"], true["true_u_kmh"]
    _refuse_halves(shown_kmh, true_kmh, set_pulses, set_mm)
    step = 1.0 if shown_step is None else shown_step
    if shown_m is not None:
        if shown_kmh is not None:
            raise UsageError("A trip and a speed were given.", "Give one at a time.")
        if (tape is None or tape.turns is None) and turns is None:
            raise UsageError(
                "A trip was given without its way.",
                "Give --rolled-m M and --over-turns N, or --turns N of the raised wheel.",
            )
        if shown_m[1] <= shown_m[0]:
            raise UsageError(
                f"The trip went from {shown_m[0]:g} to {shown_m[1]:g} m, which is no way.",
                "Give what it showed at the start, then at the end.",
            )
        return Display("trip", shown_m[1] - shown_m[0], step, set_pulses=set_pulses, set_mm=set_mm)
    if shown_kmh is not None:
        u_kmh = SATELLITE_KMH if true_u_kmh is None else true_u_kmh
        return Display("speed", shown_kmh, step, true_kmh, u_kmh, set_pulses, set_mm)
    if set_pulses is not None:
        return Display(set_pulses=set_pulses, set_mm=set_mm)
    return None


def _refuse_halves(
    shown_kmh: float | None,
    true_kmh: float | None,
    set_pulses: float | None,
    set_mm: float | None,
) -> None:
    """Refuse one of two figures that say nothing alone."""
    from calib.errors import UsageError

    if (shown_kmh is None) != (true_kmh is None):
        raise UsageError(
            "--shown-kmh and --true-kmh go together.", "Give both, of the same moment."
        )
    if (set_pulses is None) != (set_mm is None):
        raise UsageError(
            "--set-pulses and --set-mm go together.", "Give both, as the controller has them now."
        )


def _captured(
    shared: Shared, rig: AskingRig, channel: str, turns: int | None
) -> tuple[Capture, int | None]:
    """The capture that is judged, and the turns in it."""
    from calib.cli.session import given_capture
    from calib.store.capture import read_capture

    if shared.from_file is not None:
        return read_capture(given_capture(shared, rig, command="wheel")), turns
    wanted = DEFAULT_TURNS if turns is None else turns
    return _live(shared, rig, channel, wanted), wanted


def _live(shared: Shared, rig: AskingRig, channel: str, turns: int) -> Capture:
    """The turns with the person."""
    from calib.cli.clock import host_clock_s, now
    from calib.cli.session import live_line, person_at
    from calib.guide.capturing import capture_until
    from calib.guide.cautions import WHEEL_CAUTIONS, isolation_card
    from calib.guide.recording import gauge_for
    from calib.guide.wheel import TurnWatch
    from calib.store.capture import read_capture

    card = isolation_card("turn the wheel by hand", WHEEL_CAUTIONS)
    with person_at(shared) as person, live_line(rig, person, isolation=card) as line:
        gauge = gauge_for(rig, line.columns, channel)
        watch = TurnWatch(person, gauge, rig.channel(channel), turns=turns, clock=host_clock_s)
        path = capture_until(line, rig, shared.folder, watch, command="wheel", now=now())
    return read_capture(path)


def _known(shared: Shared, rig: AskingRig) -> Known:
    """What an earlier run found that still stands; what uses it rests on what it rests on."""
    from calib.checks.file.standing import rolled_on_file, turned_on_file
    from calib.checks.wheel.judgement import Known
    from calib.cli.on_file import evidence_of

    evidence = evidence_of(shared, rig)
    turned, rolled = turned_on_file(evidence), rolled_on_file(evidence)
    for standing in (turned, rolled):
        if standing.is_good and standing.record is not None:
            for each in standing.record.rests_on:
                rig.asked.note(each.key)
    found, rolling = turned.document, rolled.document
    return Known(
        pulses_a_turn=found.pulses_a_turn if turned.is_good and found else None,
        mm=rolling.circumference_mm if rolled.is_good and rolling else None,
        u_mm=rolling.u_mm if rolled.is_good and rolling else None,
    )
