"""A full travel that the converter cuts off says nothing of where it stands."""

from __future__ import annotations

import numpy as np
import pytest

from calib.checks.bench.control import Around, ControlCheck, judge_control
from calib.checks.bench.converter import Standstill
from calib.checks.bench.hands import Expected, read_hand
from calib.checks.bench.noise import Noise, NoiseFigures
from calib.store.documents.check import CheckFigures, CheckLevel
from tests.unit.checks.bench.waves import counted_signal, signals_of_one

RATE_HZ = 200.0


def judged(rest: int, full: int, then_rest: int, then_full: int) -> ControlCheck:
    """A control of so many counts of 1024 at 5 V, worked thrice, beside what is on record."""
    once = np.concatenate(
        [np.full(300, rest), np.linspace(rest, full, 60), np.full(200, full),
         np.linspace(full, rest, 40), np.full(300, rest)]
    )  # fmt: skip
    counts = np.round(np.tile(once, 3)) + np.random.default_rng(3).integers(-1, 2, 2700)
    signal = counted_signal(np.asarray(np.clip(counts, 0.0, 1023.0), dtype=np.float64))
    signals = signals_of_one(signal, RATE_HZ)
    then = CheckFigures(
        unit="V",
        rest=CheckLevel(mean=then_rest * 5 / 1024, sd=0.002, u=0.002, stays=3),
        full=CheckLevel(mean=then_full * 5 / 1024, sd=0.002, u=0.002, stays=3),
        supply_V=5.0,
    )
    known = Expected(then_rest * 5 / 1024, then_full * 5 / 1024, 5.0)
    calm = NoiseFigures(0.004, None, None, stands_out=False)
    around = Around(
        noise=Noise(signal, calm, 0.004, None, 4.0),
        still=Standstill(0.0, 0, 0.5),
        rests=None,
        then=then,
        supply_V=5.0,
    )
    return judge_control(signals, read_hand(signals, signal, None, known), around)


@pytest.mark.parametrize(
    ("ends", "moved"),
    [
        ((200, 900, 200, 800), "full-moved"),
        ((200, 900, 150, 850), "both-moved"),
        ((200, 1023, 200, 920), None),
        ((200, 1023, 120, 940), None),
        ((120, 1023, 200, 1022), "rest-moved"),
    ],
)
def test_what_is_cut_off_did_not_move(ends: tuple[int, int, int, int], moved: str | None) -> None:
    """It clips, and neither its full travel nor both ends alike are told to have moved.

    What of the rest is seen is told all the same.
    """
    codes = [finding.code for finding in judged(*ends).findings]
    assert ("clips" in codes) is (ends[1] == 1023)
    told = {code for code in codes if code.endswith("-moved")}
    assert told == ({moved} if moved else set())
