from __future__ import annotations

import pytest

from calib.checks.file.moved import Cause, compare_ends, moved_findings
from calib.store.documents.check import CheckFigures, CheckLevel
from calib.store.documents.finding import Severity

REST_V, FULL_V, SUPPLY_V = 1.0, 4.1, 5.0


def _figures(
    rest_V: float, full_V: float, *, supply_V: float | None = SUPPLY_V, sd_V: float = 0.004,
    stays: int = 3,
) -> CheckFigures:  # fmt: skip
    def level(mean: float) -> CheckLevel:
        return CheckLevel(mean=mean, sd=sd_V, u=sd_V / stays**0.5, stays=stays)

    return CheckFigures(unit="V", rest=level(rest_V), full=level(full_V), supply_V=supply_V)


THEN = _figures(REST_V, FULL_V)


def _cause(now: CheckFigures) -> Cause | None:
    found = compare_ends(now, THEN)
    assert found is not None
    return found.cause


def test_nothing_moved_passes_with_the_figures() -> None:
    """A millivolt here and there is where it was."""
    found = compare_ends(_figures(1.003, 4.098), THEN)
    assert found is not None
    (finding,) = moved_findings("throttle", found)
    assert (finding.code, finding.severity) == ("where-it-was", Severity.PASS)


@pytest.mark.parametrize(
    ("rest_V", "full_V", "cause"),
    [
        (1.30, 4.10, Cause.REST),
        (1.00, 3.60, Cause.FULL),
        (1.00 * 0.6, 4.10 * 0.6, Cause.TO_GROUND),
        (5 - 4.0 * 0.6, 5 - 0.9 * 0.6, Cause.TO_SUPPLY),
        (2.5 - 1.5 * 0.6, 2.5 + 1.6 * 0.6, Cause.WEAK_MAGNET),
        (1.20, 4.30, Cause.OFFSET),
        (4.10, 1.00, Cause.REVERSED),
    ],
)
def test_the_one_cause_that_explains_both_ends_is_named(
    rest_V: float, full_V: float, cause: Cause
) -> None:
    """Worked by hand from the circuit: dividers draw to ground or supply, a magnet to half."""
    assert _cause(_figures(rest_V, full_V)) is cause


def test_a_moved_supply_is_not_a_moved_control() -> None:
    """A ratiometric output that moved with its supply is where it was."""
    now = _figures(REST_V * 4.75 / 5.0, FULL_V * 4.75 / 5.0, supply_V=4.75)
    assert _cause(now) is None


def test_without_a_supply_it_is() -> None:
    """The same volts without a logged supply look like a pull to ground."""
    now = _figures(REST_V * 0.9, FULL_V * 0.9, supply_V=None)
    assert _cause(now) is Cause.TO_GROUND


def test_an_unsure_shift_is_a_caution_that_asks_for_more_presses() -> None:
    """Neither equivalent nor outside: five more presses."""
    found = compare_ends(_figures(1.08, 4.1, sd_V=0.05), _figures(1.0, 4.1, sd_V=0.05))
    assert found is not None
    (finding,) = moved_findings("throttle", found)
    assert finding.severity is Severity.CAUTION
    assert "five more presses" in finding.action


def test_one_press_each_can_be_compared() -> None:
    """A quick check knows no spread of its own: the floor stands in for it."""
    found = compare_ends(
        _figures(1.3, 4.1, sd_V=0.0, stays=1), _figures(1.0, 4.1, sd_V=0.0, stays=1)
    )
    assert found is not None
    (finding,) = moved_findings("throttle", found)
    assert (finding.code, finding.severity) == ("rest-moved", Severity.FAIL)


def test_a_missing_end_is_not_compared() -> None:
    """What was not seen is not said to be where it was."""
    assert compare_ends(CheckFigures(unit="V"), THEN) is None


@pytest.mark.parametrize(
    ("rest_V", "full_V", "cause"),
    [
        (1.20, 4.90, Cause.FULL),  # away from ground by a fifth: no leak does that
        (0.60, 4.01, Cause.REST),  # away from the supply
        (0.70, 4.42, Cause.FULL),  # away from half the supply: no magnet grows stronger
        (0.80, 3.90, Cause.OFFSET),
        (0.70, 4.10, Cause.REST),
    ],
)
def test_nothing_is_drawn_away_from_ground_supply_or_half_of_it(
    rest_V: float, full_V: float, cause: Cause
) -> None:
    """Leaks, bad joints and weak magnets pull one way; a seat or a stop moves either way."""
    assert _cause(_figures(rest_V, full_V)) is cause
