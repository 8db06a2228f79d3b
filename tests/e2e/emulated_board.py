"""Our logger firmware on an emulated board: built as its note says, driven with known volts."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from calib.guide.logger_code import Choice, source_files
from tests.tools import require_header, require_program

REFERENCE_MV = 5000.0
COUNT_V = REFERENCE_MV / 1000 / 1024

SPEED = 6.0
"""How many times as fast as a real board it should run; a busy machine manages less."""

Moment = tuple[float, ...]
"""Seconds since the port was opened, then millivolts of each pin; straight lines between."""


@dataclass(frozen=True, slots=True)
class Emulator:
    """The program that executes a board's instructions."""

    program: Path

    @contextmanager
    def running(
        self,
        folder: Path,
        choice: Choice,
        moments: Sequence[Moment],
        *,
        start_ms: int = 0,
        edges_s: Sequence[float] = (),
        speed: float = SPEED,
    ) -> Iterator[str]:
        """A board with our firmware as chosen, its clock at start_ms; gives its port.

        The level at the wheel's pin is low first and changes at each of edges_s, s.
        """
        volts = folder / "volts.txt"
        volts.write_text("".join(" ".join(map(str, moment)) + "\n" for moment in moments))
        command = [
            str(self.program),
            str(built(folder, choice, start_ms=start_ms)),
            str(volts),
            str(speed),
        ]
        if choice.wheel is not None:
            edges = folder / "edges.txt"
            edges.write_text("".join(f"{each:.9f}\n" for each in edges_s))
            command += [str(edges), str(choice.wheel.pin)]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
            try:
                if process.stdout is None:
                    raise RuntimeError
                yield process.stdout.readline().strip()
            finally:
                process.kill()


def build_emulator(folder: Path) -> Emulator:
    """Compile it against simavr; the test is skipped with a word where that is not installed."""
    compiler = require_program("gcc")
    for header in ("simavr/sim_avr.h", "libelf.h"):
        require_header(header)
    program = folder / "board"
    source = Path(__file__).parent / "firmware" / "board.c"
    options = ["-O2", "-Wall", "-Wextra", "-Werror"]
    libraries = ["-lsimavr", "-lelf", "-lutil", "-lm"]
    subprocess.run([compiler, *options, "-o", str(program), str(source), *libraries], check=True)
    return Emulator(program)


def built(folder: Path, choice: Choice, *, part: str = "atmega328p", start_ms: int = 0) -> Path:
    """The firmware as chosen, built by the very command in its note, every warning an error."""
    require_program("avr-gcc")
    require_header("/usr/lib/avr/include/avr/io.h")
    source, note = source_files(choice)
    text = source.text.replace("now_ms;", f"now_ms = {start_ms}UL;", 1)
    (folder / source.name).write_text(text, encoding="utf-8")
    found = re.search(r"^ +(avr-gcc .*)$", note.text, re.MULTILINE)
    if found is None:
        raise RuntimeError
    command = found.group(1).replace("atmega328p", part).split()
    subprocess.run([*command, "-Wextra", "-Werror"], cwd=folder, check=True)
    return folder / "logger.elf"
