"""``calib logger-code``: source for a bare logger board."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from calib.cli.flow import finish
from calib.cli.options import FOLDER, AsJson, Whole, as_command, option
from calib.errors import UsageError

if TYPE_CHECKING:
    from calib.guide.logger_code import SourceFile, WheelInput

MOST_CHANNELS = 8


@as_command("--board micropython --pins 26,27,28")
def command(
    board: Annotated[str, option(kind=("c", "micropython"), default="c")],
    channels: Annotated[int | None, option("N", kind=Whole(1, MOST_CHANNELS))],
    pins: Annotated[str | None, option("N,N...")],
    rate_hz: Annotated[int, option("N", kind=Whole(1, 1000), default=100)],
    baud: Annotated[int | None, option("N", kind=Whole(1, 4_000_000))],
    wheel_pin: Annotated[int | None, option("N", kind=Whole(0, 99))],
    wheel_quiet_us: Annotated[int | None, option("N", kind=Whole(50, 50_000))],
    checksum: Annotated[bool, option()],
    out: Annotated[Path, option("DIR", kind=FOLDER, default=Path("logger-code"))],
    overwrite: Annotated[bool, option()],
    as_json: AsJson,
) -> int:
    """Write out source and a note for a bare microcontroller board, to make it a logger.

    For a bare board of your own, which then reads voltages and sends them. This never touches a
    controller. A file that is there is left alone.

    Options:
        --board: C for the ATmega328P class at 16 MHz, or MicroPython over USB.
        --channels: Analog inputs, with --board c; 6 without it.
        --pins: Analog pins, with --board micropython; 26,27,28 without it.
        --rate-hz: Lines a second; must divide 1000.
        --baud: Bits a second, with --board c; 115200 without it.
        --wheel-pin: Count a wheel sensor's pulses at this digital pin; 2 or 3 with --board c.
        --wheel-quiet-us: Leave out edges so soon after another: 100 without it; 3000 for a reed
            that bounces.
        --checksum: End each line in a checksum, *hh.
        --out: Folder to write to.
        --overwrite: Write over files that are there.
    """
    from calib.guide.cautions import LOGGER_CAUTIONS
    from calib.guide.logger_code import Board, Choice, check_choice, findings_on, source_files
    from calib.show.printed import show_logger_code
    from calib.store.documents.finding import worst
    from calib.store.documents.printed import LoggerCodeDocument

    wheel = _wheel(wheel_pin, wheel_quiet_us)
    if board == Board.C:
        _refuse("--pins", pins, "the C version reads A0, A1 and so on", "Choose --channels.")
        numbers, baud = tuple(range(channels or 6)), baud or 115200
    else:
        _refuse("--channels", channels, "the MicroPython version reads named pins", "Use --pins.")
        _refuse("--baud", baud, "over USB there is no baud rate", "Leave it out.")
        numbers = _pins(pins or "26,27,28")
    chosen = Choice(Board(board), numbers, rate_hz, baud, checksum, wheel)
    check_choice(chosen)
    written = _write(out, source_files(chosen), overwrite=overwrite)
    findings = findings_on(chosen)
    document = LoggerCodeDocument(
        verdict=worst(finding.severity for finding in findings),
        findings=findings,
        cautions=LOGGER_CAUTIONS,
        board=board,
        files=tuple(map(str, written)),
        columns=chosen.columns,
        rate_hz=rate_hz,
        baud=chosen.baud,
        checksum=checksum,
    )
    return finish(document, show_logger_code, as_json=as_json)


def _refuse(option: str, given: object, because: str, hint: str) -> None:
    """Refuse an option that has no meaning for the board."""
    if given is not None:
        raise UsageError(f"{option} was given, but {because}.", hint)


def _wheel(pin: int | None, quiet_us: int | None) -> WheelInput | None:
    """The wheel sensor to count; None without one."""
    from calib.guide.logger_code import WheelInput

    if pin is None:
        _refuse("--wheel-quiet-us", quiet_us, "no wheel is counted", "Choose --wheel-pin.")
        return None
    return WheelInput(pin) if quiet_us is None else WheelInput(pin, quiet_us)


def _pins(text: str) -> tuple[int, ...]:
    """Pin numbers as typed."""
    parts = [part.strip() for part in text.split(",")]
    usable = all(part.isascii() and part.isdigit() and len(part) <= 3 for part in parts)
    pins = tuple(map(int, parts)) if usable else ()
    if not 0 < len(pins) <= MOST_CHANNELS or len(set(pins)) != len(pins):
        raise UsageError.of("pins-unusable", text=text, most=MOST_CHANNELS)
    return pins


def _write(out: Path, files: Sequence[SourceFile], *, overwrite: bool) -> list[Path]:
    """Write all files, or none where one of them is there and must stay."""
    from calib.store.files import refused_as

    paths = [out / file.name for file in files]
    for path in paths:
        if not overwrite and path.exists():
            raise UsageError.of("code-is-there", path=path)
    with refused_as(UsageError, f"{out} cannot be written to", "Name another folder with --out."):
        out.mkdir(parents=True, exist_ok=True)
        for path, file in zip(paths, files, strict=True):
            with path.open("w" if overwrite else "x", encoding="utf-8") as opened:
                opened.write(file.text)
    return paths
