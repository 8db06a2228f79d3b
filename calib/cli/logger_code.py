"""``calib logger-code``: source for a bare logger board."""

from __future__ import annotations

from pathlib import Path

import click

BUILD = {
    "atmega328p": """\
Build it and put it on the board with the tools for that processor (Debian: gcc-avr avr-libc
avrdude), the board on its USB cable and NOTHING else connected to it:
  avr-gcc -mmcu=atmega328p -Os -std=c11 -o logger.elf {file}
  avr-objcopy -O ihex logger.elf logger.hex
  avrdude -c PROGRAMMER -p atmega328p -P PORT -U flash:w:logger.hex""",
    "micropython": """\
Copy {file} to the board as main.py, the board on its USB cable and NOTHING else connected to it.
Its pins stand 3.3 V: a 5 V signal needs a divider.""",
}


@click.command("logger-code")
@click.option(
    "--board",
    type=click.Choice(["atmega328p", "micropython"]),
    default="atmega328p",
    show_default=True,
    help="Which kind of board.",
)
@click.option("--channels", type=int, metavar="N", help="Analog inputs; all common ones without.")
@click.option("--rate", "rate_hz", type=click.IntRange(1, 1000), default=100, show_default=True,
              metavar="HZ", help="Lines a second.")  # fmt: skip
@click.option("--baud", type=click.IntRange(9600, 1_000_000), default=115200, show_default=True)
@click.option("--checksum", is_flag=True, help="End each line in *hh, so that no bit flip counts.")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path(),
    metavar="DIR",
    help="Folder for the source.",
)
def command(
    *, board: str, channels: int | None, rate_hz: int, baud: int, checksum: bool, out: Path
) -> int:
    """Write out source for a bare microcontroller board, so that it becomes a logger.

    It is for your own board. It never touches a controller, and calib puts it nowhere.
    """
    from calib.errors import UsageError
    from calib.link.firmware import (
        COMMON_CHANNELS,
        FILES,
        FULL_SCALE,
        REFERENCE_V,
        Board,
        Settings,
        logger_source,
    )

    kind: Board = "atmega328p" if board == "atmega328p" else "micropython"
    count = channels if channels is not None else COMMON_CHANNELS[kind]
    settings = Settings(kind, count, rate_hz, baud, checksum)
    text = logger_source(settings)
    path = out / FILES[settings.board]
    try:
        out.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except OSError as error:
        raise UsageError(
            f"{path} was not written: {error.strerror}.", "Name another folder with --out DIR."
        ) from error
    click.echo(f"Wrote {path}: {count} channels at {rate_hz} Hz, for your own logger board.")
    click.echo("It only reads analog pins and sends lines. It never touches a controller.\n")
    click.echo(BUILD[kind].format(file=path.name))
    click.echo(
        f"\nThen 'calib setup --port PORT --baud {baud}' makes the rig file; full scale is "
        f"{FULL_SCALE[settings.board]} counts\nat the board's supply, about "
        f"{REFERENCE_V[settings.board]:g} V: 'calib meter' trues it."
    )
    return 0
