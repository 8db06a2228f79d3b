"""``calib simulate``: the simulated bench alone, on a port that it names."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal, get_args

import click

from calib.cli.options import NEW_FILE, Whole, as_command, option
from calib.errors import UsageError
from calib.store.plausible import DURATION_S, Usual

HANDS = ("everything", "still", "throttle", "regen", "check", "tilt", "surge", "poses", "wheel")
MAKES = ("ordinary", "quiet", "noisy")
Unit = Literal["level", "pulses"]


@as_command("--write-rig bench.toml --hands throttle")
def command(
    seed: Annotated[int, option(kind=Whole(0, 2**31), default=1)],
    faults: Annotated[tuple[str, ...], option("--fault KIND[:1-5]", multiple=True)],
    hands: Annotated[str, option(kind=HANDS, default="everything")],
    make: Annotated[str, option("--bench", kind=MAKES, default="ordinary")],
    wheel_unit: Annotated[Unit | None, option("--wheel", kind=get_args(Unit))],
    write_rig: Annotated[Path | None, option("FILE", kind=NEW_FILE)],
    baud: Annotated[int | None, option(kind=Whole(300, 20_000_000))],
    speed: Annotated[float, option(kind=Usual(0.1, 50.0), default=1.0)],
    for_s: Annotated[float | None, option("--for S", kind=DURATION_S)],
) -> None:
    """Run the simulated bench on a pseudo-terminal (a socket on Windows) until Ctrl-C.

    Its path is the first line on stdout, and the only one. No machine is needed.

    Options:
        --seed: Draws the bench.
        --fault: A fault, 1 plain to 5 subtle; may be given again. A wrong KIND lists them all.
        --hands: What the hands do, round after round.
        --bench: The logger: 10 bits at 100 Hz, 12 bits at 1 kHz, or 10 noisy bits at 50 Hz.
        --wheel: A wheel sensor of six magnets on the logger: its level, or a running count.
        --write-rig: Write a rig file that fits; a file that is there is left alone.
        --baud: Garble at other speeds; else none is minded.
        --speed: How fast the bench's clock runs.
        --for: End after S s.
    """
    from calib.mule.bench import draw_bench, with_wheel
    from calib.mule.device import Device
    from calib.mule.faults import ALL_KINDS, KINDS, parse
    from calib.mule.hands import SCRIPTS
    from calib.mule.presence import announced
    from calib.mule.rigfile import rig_text
    from calib.mule.stage import Stage

    bench = draw_bench(seed, make)
    if wheel_unit is not None:
        bench = with_wheel(bench, wheel_unit)
    for fault in faults:
        bench = parse(fault, KINDS if bench.wheel is None else ALL_KINDS).on(bench)
    device = Device(Stage(bench), script=SCRIPTS[hands], speed=speed, baud=baud)
    try:
        if write_rig is not None:
            _write_new(write_rig, rig_text(bench, device.path, baud or 115200))
        with announced(device.path):
            click.echo(device.path)
            said = "The simulated bench runs; Ctrl-C ends it. No machine is attached."
            click.echo(said, err=True)
            if bench.wheel is not None:  # what a tape would show: nobody can push it
                ways = (bench.tyre.circumference_mm(seated=each) / 100.0 for each in (False, True))
                said = "Its wheel rolls {:.3f} m in ten turns, and {:.3f} m with somebody seated."
                click.echo(said.format(*ways), err=True)
            device.run(for_s)
    finally:
        device.stop()


def _write_new(path: Path, text: str) -> None:
    """Write a file that is not there yet, or that an earlier bench wrote."""
    from calib.mule.rigfile import OURS
    from calib.store.files import refused_as

    hint = "Name another file with --write-rig."
    with refused_as(UsageError, f"Rig file {path} was not written", hint):
        ours = path.exists() and path.read_text(encoding="utf-8").startswith(OURS)
        with path.open("w" if ours else "x", encoding="utf-8") as file:
            file.write(text)
