"""The rig file that fits a simulated bench, as text; it says what its owner believes of it."""

from __future__ import annotations

from typing import Final

from calib.mule.bench import ANALOG, CHANNELS, CONTROLS, SECOND_TRACK, Bench

OURS: Final = "# Written for the simulated bench"
"""How a file begins that a simulated bench wrote, and may write again."""

COLUMNS: Final = {name: f"a{index}" for index, name in enumerate(CHANNELS)}


WHEEL: Final = "wheel"
"""Name of the wheel's channel and of its column."""


def columns_of(bench: Bench) -> tuple[str, ...]:
    """Names of the columns that a bench's logger sends behind the time."""
    return (*COLUMNS.values(), *(() if bench.wheel is None else (WHEEL,)))


def rig_text(bench: Bench, port: str, baud: int = 115200) -> str:
    """The rig file of a bench whose device answers at a port."""
    tables = [_head(bench, port, baud)]
    called = {"regen": SECOND_TRACK} if bench.regen.follows else {}
    tables += [
        f'[channels.{called.get(name, name)}]\ncolumn = "{COLUMNS[name]}"\n{_about(name, bench)}'
        for name in CHANNELS
    ]
    if bench.wheel is not None:
        wrap = f"wrap = {bench.wheel.wrap}\n" if bench.wheel.unit == "pulses" else ""
        tables.append(
            f'[channels.{WHEEL}]\ncolumn = "{WHEEL}"\nrole = "wheel"\n'
            f'unit = "{bench.wheel.unit}"\n{wrap}'
        )
    tables.append(_tilt(bench))
    return "\n".join(tables)


def _head(bench: Bench, port: str, baud: int) -> str:
    return f"""{OURS}: no machine is attached.
[rig]
name = "bench mule {bench.seed}, {bench.kind}"
setting_step_V = 0.01

[link]
port = "{port}"
baud = {baud}
layout = "delimited"

[time]
column = "t_ms"
unit = "ms"
wrap = 4294967296
"""


def _about(name: str, bench: Bench) -> str:
    if name not in ANALOG:
        accel = bench.accel
        return (
            f'role = "accel-{name[-1]}"\nunit = "count"\ncounts_per_g = {accel.counts_per_g:g}\n'
            f"zero_count = {accel.zero_count}\nrange_g = {accel.range_g:g}\n"
        )
    if name in CONTROLS and bench.regen.follows:
        return _track(name, bench)
    own = {
        "throttle": 'role = "control"\nacts = "drive"\nsupply = "rail"\npin_max_V = 5.0\n',
        "regen": 'role = "control"\nacts = "brake"\nsupply = "rail"\npin_max_V = 5.0\n',
        "rail": f'role = "supply"\ndivider = {bench.rail_divider:.1f}\n',
        "brake": 'role = "switch"\nactive = "low"\nthreshold_V = 2.5\n',
        "motor": 'role = "temperature"\n' + _thermistor(),
        "ambient": 'role = "ambient"\n' + _thermistor(),
        "pitch": f'role = "pitch"\nzero_V = {bench.pitch.zero_v:g}\n'
        f"sensitivity_V_per_deg = {bench.pitch.v_per_deg:g}\n",
    }[name]
    return own + _counts(bench)


def _track(name: str, bench: Bench) -> str:
    """One of the two tracks of a throttle."""
    own = 'role = "control"\nsupply = "rail"\npin_max_V = 5.0\n' + _counts(bench)
    return own if name == "regen" else f'acts = "drive"\nsecond_track = "{SECOND_TRACK}"\n{own}'


def _counts(bench: Bench) -> str:
    codes = bench.logger.converter.codes
    return f'unit = "count"\nfull_scale = {codes}\nreference_V = 5.0\n'


def _thermistor() -> str:
    """What the owner bought, whatever is in the plug."""
    return "ntc_R25_ohm = 10000\nntc_beta_K = 3950\npullup_ohm = 10000\npullup_V = 5.0\n"


def _tilt(bench: Bench) -> str:
    return f"""[tilt]
expects = "nose-up-positive"
wheelbase_mm = {bench.garage.wheelbase_mm:g}
latitude_deg = 51.0
aid_starts_deg = 16.0
aid_ended_deg = 32.0
dive_deg = 2.0
launch_m_s2 = 2.5
cg_ahead_of_rear_axle_mm = 590
cg_height_mm = 640
"""
