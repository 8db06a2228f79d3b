"""The type of every option that takes a number: finite, and in a range that the trade knows."""

from __future__ import annotations

from typing import Any

import click

from calib.store.plausible import Usual, number_at_prompt


class Quantity(click.FloatRange):
    """A finite number within a range; anything else ends with exit code 2 and says the range."""

    def __init__(self, usual: Usual) -> None:
        """Take the numbers of a range."""
        super().__init__(usual.low, usual.high)
        self.usual = usual

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """The number that was typed."""
        try:
            return number_at_prompt(str(value), self.usual)
        except ValueError as error:
            self.fail(f"{error}.", param, ctx)
