"""Ordinary loggers and displays through the command line: their values hold, or there are none."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.e2e.running import calib
from tests.hands import pressed

Floats = NDArray[np.float64]

Z, Z_CONFIDENCE = 3.0902, 1.6449

HEAD = """\
[rig]
setting_step_V = 0.01

[link]
layout = "delimited"

[time]
column = "t_ms"
unit = "ms"

[channels.throttle]
role = "control"
column = "a0"
"""
VOLTS = HEAD + 'unit = "V"\n'
COUNTS = HEAD + 'unit = "count"\nfull_scale = 1024\nreference_V = 5.0\n'
RAIL = VOLTS + 'supply = "rail"\n\n[channels.rail]\nrole = "supply"\ncolumn = "a1"\nunit = "V"\n'


def travel(folder: Path, rig: str, columns: list[list[str]], *options: str) -> dict[str, Any]:
    """The document of a log of 100 readings a second, one list of texts a column."""
    (folder / "rig.toml").write_text(rig, encoding="utf-8")
    names = ",".join(["t_ms", *(f"a{place}" for place in range(len(columns)))])
    rows = [
        ",".join([str(10 * index), *row]) for index, row in enumerate(zip(*columns, strict=True))
    ]
    (folder / "evening.log").write_text("\r\n".join([names, *rows]) + "\r\n", encoding="utf-8")
    done = calib("travel", "throttle", "--from", "evening.log", "--json", *options, cwd=folder)
    document: dict[str, Any] = json.loads(done.stdout)
    assert done.returncode == (0 if document["verdict"] in ("pass", "caution") else 1), done.stderr
    return document


def in_decimals(volts: Floats, decimals: int) -> list[str]:
    """Volts as a logger prints them."""
    return [f"{value:.{decimals}f}" for value in volts]


def in_counts(volts: Floats) -> list[str]:
    """Codes of a 10-bit converter on 5 V."""
    return [str(int(code)) for code in np.floor(volts * 1024.0 / 5.0)]


def test_the_allowance_stands_on_top_of_the_distance(tmp_path: Path) -> None:
    """The whole shift that is claimed fits between the readings' own distance and the start."""
    loose = COUNTS + "reference_tolerance_pct = 5.0\n"
    volts = pressed(rest_V=1.0, full_V=4.0, noise_V=0.012)
    document = travel(tmp_path, loose, [in_counts(volts)])
    rest, band = document["rest"], document["dead_band"]
    shift = np.sqrt(sum(line["u"] ** 2 for line in document["budget"] if line["type"] == "B"))
    distance = Z * np.hypot(rest["sd_within"], rest["sd_between"])
    assert band["limit"] - rest["mean"] >= 0.99 * (distance + Z_CONFIDENCE * shift)
    assert rest["expanded"] > 1.95 * rest["u"]
    assert rest["coverage"] == 0.95


@pytest.mark.parametrize("rest_V", [0.906, 0.9137, 0.9148])
def test_volts_in_two_decimals_hide_no_rest(tmp_path: Path, rest_V: float) -> None:
    """Quiet readings of one value promise no more than the step in which they are printed."""
    volts = pressed(rest_V=rest_V, noise_V=0.0004)
    rest = travel(tmp_path, VOLTS, [in_decimals(volts, 2)])["rest"]
    assert rest["limit_high"] >= rest_V + Z * 0.0004


def test_a_logged_rail_of_3_3_volts_bounds_every_number(tmp_path: Path) -> None:
    """No limit, no threshold and no value to type in lies above the rail that was logged."""
    volts = pressed(rest_V=0.6, full_V=2.6)
    rail = np.full(volts.shape, 3.3)
    document = travel(tmp_path, RAIL, [in_decimals(volts, 3), in_decimals(rail, 3)])
    numbers = [
        *(
            document[end][limit]
            for end in ("rest", "full")
            for limit in ("limit_low", "limit_high")
        ),
        *(document["dead_band"][side] for side in ("start", "end")),
        *document["fault_window"].values(),
    ]
    volts_told = [value for value in numbers if isinstance(value, float)]
    assert len(volts_told) >= 6
    assert all(0.0 <= value <= 3.3 for value in volts_told)
    assert document["supply"]["origin"] == "logged"


@pytest.mark.parametrize("rest_V", [0.905, 0.95, 0.995])
def test_a_display_that_cuts_off_moves_no_start_into_rest(tmp_path: Path, rest_V: float) -> None:
    """Whether the display rounds or cuts off, the start stays above what the controller sees."""
    volts = pressed(rest_V=rest_V, full_V=4.05, noise_V=0.003)
    for name, shown_V in (("rounds", round(rest_V, 1)), ("cuts", np.floor(10 * rest_V) / 10)):
        folder = tmp_path / name
        folder.mkdir()
        document = travel(
            folder,
            COUNTS,
            [in_counts(volts)],
            *("--shown-rest", f"{shown_V:.1f}", "--shown-full", "4.0", "--shown-step", "0.1"),
            *("--floor-pct", "0"),
        )
        band = document["dead_band"]
        assert document["basis"] == "controller"
        assert band["start"] >= rest_V + Z * 0.003
        assert band["end"] <= 4.05 - Z * 0.003
