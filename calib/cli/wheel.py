"""``calib wheel``: pulses a turn, circumference, and how wrong the shown speed is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from calib.cli.flow import Flow
from calib.cli.options import ChannelIfAny, Shared, Whole, go_together, option, shared
from calib.errors import UsageError
from calib.store.plausible import Usual

if TYPE_CHECKING:
    from calib.checks.wheel.judgement import Known, Tape
    from calib.store.capture import Capture

DEFAULT_TURNS = 10
"""Own choice: with ten turns up to 65 pulses a turn are told from their neighbours."""

WAY_M = Usual(0.5, 100_000.0, "m")
WAY_FT = Usual(1.5, 330_000.0, "ft")
TRIP_M = Usual(0.0, 1e7, "m")
STEP = Usual(0.001, 1000.0)
SPEED_KMH = Usual(0.5, 300.0, "km/h")
"""Own choices: from half a turn to a day's ride; a speed below walking tells nothing."""


@shared(example="--rolled-m 19.84 --over-turns 10")
def command(
    shared: Shared,
    channel: ChannelIfAny,
    turns: Annotated[int | None, option("N", kind=Whole(1, 1000))],
    rolled_m: Annotated[tuple[float, ...], option("M", kind=WAY_M, multiple=True)],
    rolled_ft: Annotated[tuple[float, ...], option("FT", kind=WAY_FT, multiple=True)],
    over_turns: Annotated[int | None, option("N", kind=Whole(1, 1000))],
    seated: Annotated[bool, option()],
    shown_m: Annotated[tuple[float, float] | None, option("A B", kind=TRIP_M, nargs=2)],
    shown_kmh: Annotated[float | None, option("V", kind=SPEED_KMH)],
    shown_step: Annotated[float, option("S", kind=STEP, default=1.0, show_default=False)],
    true_kmh: Annotated[float | None, option("V", kind=SPEED_KMH)],
    true_u_kmh: Annotated[float | None, option("U", kind=Usual(0.0, 20.0, "km/h"))],
    set_pulses: Annotated[float | None, option("N", kind=Usual(0.01, 1000.0))],
    set_mm: Annotated[float | None, option("MM", kind=Usual(100.0, 5000.0, "mm"))],
) -> int:
    """Find pulses a turn and circumference of the wheel, and how wrong the shown speed is.

    Drive isolated, wheel up: turn it by hand from mark to mark. Or, without a cable, push it along
    a tape with the valve at the bottom at both ends: --rolled-m M --over-turns N. Never ride with
    the tap on; calib asks for no ride.

    Options:
        --turns: Turns by hand from mark to mark.
        --rolled-m: Way along a tape, in metres; once for each push.
        --rolled-ft: The same in feet.
        --over-turns: Turns of each such way.
        --seated: The rider's weight was on while it was rolled.
        --shown-m: The controller's trip at the start and the end of the ways or turns, in metres.
        --shown-kmh: A speed that it showed, with --true-kmh.
        --shown-step: Step of what is shown, m or km/h; 1 without it.
        --true-kmh: The true speed then, as a satellite receiver had it on closed ground.
        --true-u-kmh: Its standard uncertainty; 0.36 km/h without it.
        --set-pulses: Pulses a turn that the controller has now.
        --set-mm: Circumference that it has now.
    """
    from calib.checks.wheel.judgement import Display, WheelRun, judge_wheel
    from calib.guide.cautions import ROLL_CAUTIONS, WHEEL_CAUTIONS
    from calib.wheel.rolling import FOOT_M
    from calib.wheel.shown import SATELLITE_KMH

    flow = Flow(shared, "wheel", WHEEL_CAUTIONS)
    if rolled_m and rolled_ft:
        raise UsageError("The ways are in metres and in feet.", "Give all of them in one unit.")
    ways_m = rolled_m or tuple(FOOT_M * each for each in rolled_ft)
    tape = _tape(flow, ways_m, over_turns, seated=seated)
    go_together("Give both, of the same moment.", shown_kmh=shown_kmh, true_kmh=true_kmh)
    go_together("Give both, as the controller has them now.", set_pulses=set_pulses, set_mm=set_mm)
    if shown_m is not None and shown_kmh is not None:
        raise UsageError("A trip and a speed were given.", "Give one at a time.")
    display = None
    if shown_m is not None:
        way_m = _shown_way_m(shown_m, tape, turns)
        display = Display("trip", way_m, shown_step, set_pulses=set_pulses, set_mm=set_mm)
    elif shown_kmh is not None:
        u_kmh = SATELLITE_KMH if true_u_kmh is None else true_u_kmh
        display = Display("speed", shown_kmh, shown_step, true_kmh, u_kmh, set_pulses, set_mm)
    elif set_pulses is not None:
        display = Display(set_pulses=set_pulses, set_mm=set_mm)
    captures: list[Capture] = []
    without_cable = display is not None and not flow.rig.with_role("wheel")
    listens = (turns is not None and not without_cable) or (tape is None and display is None)
    if listens or shared.from_file is not None:
        channel, _ = flow.rig.wheel(channel)
        asked = turns or DEFAULT_TURNS
        captures = [_turned(flow, channel, asked)]
        turns = turns if shared.from_file is not None else asked
    elif channel is not None:
        channel, _ = flow.rig.wheel(channel)
    flow.channel = channel
    run = WheelRun(channel, next(iter(captures), None), turns, tape, display, _known(flow))
    cautions = flow.cautions if captures or tape is None else ROLL_CAUTIONS
    return flow.end(judge_wheel(run, flow.rig, cautions), captures)


def _turned(flow: Flow, channel: str, turns: int) -> Capture:
    """The file that was given, or so many turns with the person."""
    from calib.guide.recording import gauge_for
    from calib.guide.wheel import TurnWatch

    return flow.capture(
        lambda person, line: TurnWatch(person, gauge_for(flow.rig, line.columns, channel), turns),
        "turn the wheel by hand",
    )


def _pushed_m(flow: Flow, turns: int, *, seated: bool) -> float:
    """The way that the person pushes it, m, typed by the person; no cable is needed.

    Raises:
        StoppedError: The isolation was not confirmed, or no number can be had.
    """
    from calib.cli.session import person_at
    from calib.guide.asking import ask_until, number_of
    from calib.guide.cautions import ROLL_CAUTIONS, isolation_card
    from calib.guide.wheel import push_prompt
    from calib.mule.presence import is_simulated

    with person_at(flow.shared) as person:
        if not is_simulated(flow.rig.link.port):
            person.confirm_isolation(isolation_card("push it along a tape", ROLL_CAUTIONS))
        person.wait_until_ready(push_prompt(turns, seated=seated))
        question = f"Way along the tape in {turns} turns of the wheel, in m"
        return ask_until(person, question, number_of(WAY_M, "m"), "A number such as 19.84.")


def _tape(flow: Flow, ways_m: tuple[float, ...], turns: int | None, *, seated: bool) -> Tape | None:
    """The ways along a tape; one is pushed and typed now where only its turns are given.

    Raises:
        UsageError: They are given without what belongs to them.
        StoppedError: The isolation was not confirmed, or no number can be had.
    """
    from calib.checks.wheel.judgement import Tape

    if not ways_m and turns is not None:
        ways_m = (_pushed_m(flow, turns, seated=seated),)
    if not ways_m:
        if seated:
            raise UsageError.of("seated-without-way")
        return None
    if turns is None and flow.shared.from_file is None:
        raise UsageError.of("way-without-turns")
    if turns is None and len(ways_m) > 1:
        raise UsageError.of("log-of-many-ways")
    return Tape(ways_m, turns, seated)


def _shown_way_m(trip_m: tuple[float, float], tape: Tape | None, turns: int | None) -> float:
    """What the trip rose by, m.

    Raises:
        UsageError: Its true way is not given, or it does not rise.
    """
    if (tape is None or tape.turns is None) and turns is None:
        raise UsageError.of("trip-without-way")
    if trip_m[1] <= trip_m[0]:
        raise UsageError.of("trip-is-no-way", start_m=trip_m[0], end_m=trip_m[1])
    return trip_m[1] - trip_m[0]


def _known(flow: Flow) -> Known:
    """What an earlier run found that still stands."""
    from calib.checks.file.validity import rolled_on_file, turned_on_file
    from calib.checks.wheel.judgement import Known

    filed = flow.filed()
    turned = flow.build_on(turned_on_file(filed))
    rolled = flow.build_on(rolled_on_file(filed))
    mm, u_mm = (None, None) if rolled is None else (rolled.circumference_mm, rolled.u_mm)
    return Known(None if turned is None else turned.pulses_a_turn, mm, u_mm)
