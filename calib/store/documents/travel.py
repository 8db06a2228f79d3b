"""The document of ``calib travel``: one control's rest, full travel, dead band, fault window."""

from __future__ import annotations

from typing import Literal

import msgspec

from calib.store.acts import WORDINGS, Acts, Wording
from calib.store.documents.finding import BudgetLine, Document


class LevelFigures(msgspec.Struct, frozen=True, kw_only=True):
    """One end of the travel, in volts.

    Attributes:
        mean: Mean of the plateau means.
        sd_within: Standard deviation of one reading within a plateau.
        sd_between: Standard deviation of the plateau means beyond what the noise explains.
        plateaus: Count of plateaus.
        samples: Count of samples in them.
        n_effective: Count of independent readings that those samples are worth.
        limit_low: Lower one-sided tolerance limit of one future reading; None where it would lie
            outside 0 V to the supply.
        limit_high: Upper one-sided tolerance limit of one future reading; None likewise.
        u: Standard uncertainty of the mean.
        dof: Its effective degrees of freedom; None where they are infinite.
        expanded: Half-width about the mean that holds its true value.
        coverage: Probability with which it does.
        levels: The level of each stay, one a release or press, in their order.
    """

    mean: float
    sd_within: float
    sd_between: float
    plateaus: int
    samples: int
    n_effective: float
    limit_low: float | None
    limit_high: float | None
    u: float
    dof: float | None
    expanded: float
    coverage: float
    levels: tuple[float, ...] = ()


class DeadBand(msgspec.Struct, frozen=True, kw_only=True):
    """Where the control begins to act and where it acts in full, in volts; what was given up.

    Attributes:
        start: On the rest side.
        end: On the full side.
        dead_travel_pct: Share of the span given up at both ends together, per cent.
        start_decided_by: What set the start: ``limit`` or ``floor``.
        step: The controller's setting step that both are rounded to.
        floor: Where the least dead travel alone would put the start.
        limit: Where the tolerance limit with its allowance alone would put the start.
    """

    start: float
    end: float
    dead_travel_pct: float
    start_decided_by: Literal["limit", "floor"] = "limit"
    step: float | None = None
    floor: float | None = None
    limit: float | None = None


class FaultWindow(msgspec.Struct, frozen=True, kw_only=True):
    """Volts that a hand never sends; None where there is no room for a safe threshold.

    Attributes:
        low: Below this a wire is broken.
        high: Above this a wire is broken.
        proven: Whether wires were really pulled to prove it.
    """

    low: float | None
    high: float | None
    proven: bool = False


class SupplyFigures(msgspec.Struct, frozen=True, kw_only=True):
    """What feeds the sensor, in volts, and whether that was logged, stated or assumed."""

    volts: float
    origin: Literal["logged", "stated", "assumed"]


class ReturnTime(msgspec.Struct, frozen=True, kw_only=True):
    """Seconds from letting go to rest."""

    median: float | None
    max: float | None


class TravelDocument(Document, frozen=True, kw_only=True, tag="calib.travel/1"):
    """One control, measured. ``rest``, ``full`` and what follows from them are None when unknown.

    Attributes:
        channel: The control's name in the rig file.
        acts: Whether it drives or brakes; None where nothing says it.
        acts_assumed: Whether that was taken from its name and not from the rig file.
        presses: Count of full works of the control.
        reversed: Whether rest reads higher than full travel.
        budget: Sources of the uncertainty of the mean rest, largest first.
        budget_full: The same of full travel.
        supply: What feeds the sensor.
        basis: Whose volts ``dead_band`` and ``fault_window`` are in.
        advice: What would bring the limit nearer, and by how much.
        still_range: Largest range within a window that still counted as standing still, in volts.
        still_window_s: Length of that window, in seconds.
    """

    channel: str
    acts: Acts | None = None
    acts_assumed: bool = False
    rest: LevelFigures | None = None
    full: LevelFigures | None = None
    presses: int = 0
    reversed: bool = False
    dead_band: DeadBand | None = None
    fault_window: FaultWindow | None = None
    supply: SupplyFigures | None = None
    return_s: ReturnTime | None = None
    budget: tuple[BudgetLine, ...] = ()
    budget_full: tuple[BudgetLine, ...] = ()
    basis: Literal["logger", "controller"] = "logger"
    advice: tuple[str, ...] = ()
    still_range: float | None = None
    still_window_s: float | None = None

    @property
    def wording(self) -> Wording:
        """How its two values and its travel are called."""
        return WORDINGS[self.acts]
