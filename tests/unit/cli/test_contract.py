"""What people and scripts outside rely on: commands, options, JSON keys. It only ever grows."""

from __future__ import annotations

import click
import msgspec
import pytest

from calib.cli import cli
from calib.store.schemas import KINDS

LIVE = ("--plain", "--phone", "--speak")
SHARED = ("--rig", "--port", "--from", "--out", "--json", "--yes", "--isolated", *LIVE)

OPTIONS: dict[str, tuple[str, ...]] = {
    "demo": ("--out", "--json", "--yes"),
    "ports": ("--json",),
    "setup": (
        "--rig", "--port", "--from", "--json", "--yes", "--isolated", "--baud", "--layout",
        "--checksum", "--separator", "--decimal", "--time-column", "--time-unit", "--time-wrap",
        "--column", "--role", "--unit", "--full-scale", "--reference-V", "--divider", "--set",
        "--work",
    ),
    "watch": ("--rig", "--port", "--from", "--out", "--json", *LIVE),
    "evening": ("--rig", "--port", "--out", *LIVE),
    "record": ("--rig", "--port", "--out", "--json"),
    "meter": (
        *SHARED, "--meter-V", "--meter-pct", "--meter-digits", "--meter-step-V",
    ),
    "travel": (
        *SHARED, "--presses", "--content", "--confidence", "--floor-pct", "--shown-rest",
        "--shown-full", "--shown-step", "--condition",
    ),
    "level": (
        *SHARED, "--turned", "--turned-from", "--seated", "--seated-from", "--stand",
        "--floor-slope-deg", "--floor-slope-u-deg", "--shown-level", "--shown-turned",
        "--shown-step-deg",
    ),
    "poses": SHARED,
    "wheel": (
        *SHARED, "--turns", "--rolled-m", "--rolled-ft", "--over-turns", "--seated", "--shown-m",
        "--shown-kmh", "--true-kmh",
    ),
    "display": (
        "--rig", "--json", "--pack-V-shown", "--pack-V-meter", "--meter-pct", "--meter-digits",
        "--meter-step-V", "--motor-degC-shown", "--motor-degF-shown", "--garage-degC",
        "--garage-degF", "--cold-h", "--brake-shown",
    ),
    "signs": (
        *SHARED, "--front-raised", "--rear-raised", "--leaned-left", "--leaned-right",
        "--block-mm", "--wheelbase-mm", "--expects", "--shown-front-raised",
        "--shown-leaned-left",
    ),
    "surge": SHARED,
    "still": SHARED,
    "logger-code": ("--out",),
    "schema": (),
    "check": (
        *SHARED, "--quick", "--against", "--rewired", "--remounted", "--unplug", "--condition",
    ),
    "trust": ("--rig", "--out", "--json", "--yes"),
    "sheet": ("--rig", "--out", "--json"),
    "report": ("--rig", "--out"),
    "history": ("--rig", "--out", "--json"),
    "simulate": ("--seed", "--fault"),
}  # fmt: skip

KEYS: dict[str, tuple[str, ...]] = {
    "travel": (
        "channel", "rest", "full", "presses", "reversed", "dead_band", "fault_window", "return_s",
        "budget", "basis",
    ),
    "level": ("pitch", "roll", "method"),
    "signs": ("convention", "pitch_sign", "axis_ok", "scale_ratio", "gravity_ratio"),
    "check": ("channels", "compared_with"),
    "trust": ("trusted", "evidence"),
    "surge": ("false_pitch_deg", "fused", "launch_false_pitch_deg"),
    "still": ("tau_s", "sigma", "average_s", "drift_per_h", "unit"),
    "meter": ("channel", "gain", "offset_V", "u_gain", "u_offset_V", "cov", "residuals_V"),
    "poses": ("claim", "bias", "matrix", "u", "poses"),
    "sheet": ("entries",),
    "setup": ("rig", "created", "port", "tried", "settings", "columns"),
    "error": ("what", "hint", "exit_code", "capture"),
}  # fmt: skip

COMMON_KEYS = ("verdict", "findings", "cautions", "capture")


def command_named(name: str) -> click.Command:
    """The click command behind a name."""
    found = cli.get_command(click.Context(cli), name)
    assert isinstance(found, click.Command)
    return found


@pytest.mark.parametrize("name", OPTIONS)
def test_every_promised_command_has_its_promised_options(name: str) -> None:
    """A script that was written against the promise keeps working."""
    there = {option for param in command_named(name).params for option in param.opts}
    assert set(OPTIONS[name]) <= there


@pytest.mark.parametrize("name", KEYS)
def test_every_promised_document_has_its_promised_keys(name: str) -> None:
    """Keys are there whatever was found; a missing figure is null."""
    kind = KINDS[name]
    assert kind.__struct_config__.tag == f"calib.{name}/1"
    there = {field.encode_name for field in msgspec.structs.fields(kind)}
    wanted = set(KEYS[name]) if name == "error" else {*KEYS[name], *COMMON_KEYS}
    assert wanted <= there
