"""Options that several tilt commands share."""

from __future__ import annotations

import click

from calib.cli.quantity import Quantity
from calib.store.plausible import Usual

shown_step_option = click.option(
    "--shown-step-deg",
    type=Quantity(Usual(0.001, 5.0, "degrees")),
    default=0.1,
    show_default=True,
    metavar="A",
    help="Step of the controller's display.",
)
