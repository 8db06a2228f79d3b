"""The rig file that fits a simulated bench, as text; it says what its owner believes of it."""

from __future__ import annotations

from string import Template
from typing import Final

from calib.book import packaged
from calib.mule.bench import CHANNELS, Bench

OURS: Final = "# Written for the simulated bench"
"""How a file begins that a simulated bench wrote, and may write again."""

COLUMNS: Final = {name: f"a{index}" for index, name in enumerate(CHANNELS)}

WHEEL: Final = "wheel"
"""Name of the wheel's channel and of its column."""


def columns_of(bench: Bench) -> tuple[str, ...]:
    """Names of the columns that a bench's logger sends behind the time."""
    return (*COLUMNS.values(), *(() if bench.wheel is None else (WHEEL,)))


def rig_text(bench: Bench, port: str, baud: int = 115200) -> str:
    """The rig file of a bench whose device answers at a port.

    Of what is in a thermistor's plug it says what the owner bought, whatever is there.
    """
    text = packaged("bench_rig.txt")
    return Template(text).substitute(
        seed=bench.seed,
        kind=bench.kind,
        port=port,
        baud=baud,
        codes=bench.logger.converter.codes,
        divider=f"{bench.rail_divider:.1f}",
        zero_V=f"{bench.pitch.zero_v:g}",
        V_per_deg=f"{bench.pitch.v_per_deg:g}",
        counts_per_g=f"{bench.accel.counts_per_g:g}",
        zero_count=bench.accel.zero_count,
        range_g=f"{bench.accel.range_g:g}",
        wheelbase_mm=f"{bench.garage.wheelbase_mm:g}",
        wheel=_wheel(bench),
    )


def _wheel(bench: Bench) -> str:
    """The wheel's channel; nothing where its sensor is not wired."""
    if bench.wheel is None:
        return ""
    wrap = f"wrap = {bench.wheel.wrap}\n" if bench.wheel.unit == "pulses" else ""
    head = f'[channels.{WHEEL}]\ncolumn = "{WHEEL}"\nrole = "wheel"\n'
    return f'{head}unit = "{bench.wheel.unit}"\n{wrap}\n'
