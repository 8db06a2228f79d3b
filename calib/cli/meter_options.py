"""The options that state a multimeter's accuracy, for every command that asks for its readings."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

import click

from calib.cli.quantity import Quantity
from calib.store.plausible import Usual

if TYPE_CHECKING:
    from calib.controls.meter import MeterSpec

F = TypeVar("F", bound=Callable[..., Any])

ASSUMED_PCT, ASSUMED_DIGITS, ASSUMED_STEP_V = 0.5, 2.0, 0.01
"""Own choice: a plain hand-held multimeter on its 20 V range."""


def meter_options(command: F) -> F:
    """Add --meter-pct, --meter-digits and --meter-step-V."""
    for option in (
        click.option(
            "--meter-step-V",
            "meter_step_V",
            type=Quantity(Usual(1e-6, 1.0, "V")),
            metavar="S",
            help="Volts of the meter's last digit.",
        ),
        click.option(
            "--meter-digits",
            type=Quantity(Usual(0.0, 100.0, "digits")),
            metavar="D",
            help="The meter's accuracy: last digits.",
        ),
        click.option(
            "--meter-pct",
            type=Quantity(Usual(0.0, 10.0, "per cent")),
            metavar="P",
            help="The meter's accuracy: per cent of reading.",
        ),
    ):
        command = option(command)
    return command


def meter_spec(
    pct: float | None, digits: float | None, step_V: float | None
) -> tuple[MeterSpec, bool]:
    """The accuracy as stated, and whether any of it was assumed."""
    from calib.controls.meter import MeterSpec

    spec = MeterSpec(
        pct=ASSUMED_PCT if pct is None else pct,
        digits=ASSUMED_DIGITS if digits is None else digits,
        step_V=ASSUMED_STEP_V if step_V is None else step_V,
    )
    return spec, None in (pct, digits, step_V)
