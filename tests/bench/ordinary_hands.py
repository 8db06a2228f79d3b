"""Whether an ordinary hand gets right values or a word: `python -m tests.bench.ordinary_hands`.

Nobody works a control as a test bench does. The kinds of hand below are what people do: squeeze in
a tenth of a second or in fifteen, tremble, tap twice, leave the thumb on, sag while they hold, stop
in two stages, halt on the way in or out. Every capture is judged as `calib travel` judges it, from
50 Hz to 1 kHz, on 8 to 12 bits and on volts with two and three decimals. Exit code 1 when a bar is
missed.
"""

from __future__ import annotations

BEYOND_REST_PCT = 10.0
"""A start beyond true rest by more than this share of the true span is wrong, and so is one on the
far side of rest."""

SHORT_OF_FULL_PCT = 15.0
"""An end short of the true stop by more than this share of the true span is wrong, and so is one
beyond the stop."""

MOST_WRONG = 0
"""Captures with verdict pass or caution and a wrong start or end."""

LEAST_BENIGN = 0.95
"""Share of the captures of each benign kind that get values: squeezes of 0.2 to 5 s, sags to 2 %,
stops in two stages to 2 %, thumbs to 1 %, tremble to 1 % either way."""

MOST_FALSE = 0
"""Captures said to have drop-outs, to be reversed or never to have moved, where they did not."""
