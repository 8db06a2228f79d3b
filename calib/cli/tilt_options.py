"""Options that several tilt commands share."""

from __future__ import annotations

import click

shown_step_option = click.option(
    "--shown-step-deg",
    type=click.FloatRange(min=0, min_open=True),
    default=0.1,
    show_default=True,
    metavar="A",
    help="Step of the controller's display.",
)
