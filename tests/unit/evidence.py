"""Records on disk for tests of sheet, status and report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from calib.checks.standing import Evidence
from calib.store.documents import AnyDocument
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.travel import (
    DeadBand,
    FaultWindow,
    LevelFigures,
    ReturnTime,
    TravelDocument,
)
from calib.store.records import Record, load_records, save_record
from calib.store.rig import Rig, load_rig

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)

RIG = """\
[rig]
name = "barn mule"

[channels.grip]
role = "control"
column = "a0"
unit = "count"
full_scale = 1024
reference_V = 5.0

[channels.lever]
role = "control"
column = "a1"
unit = "V"
"""


@dataclass
class Bench:
    """A folder with a rig file and records, and the time at which it is looked at."""

    folder: Path
    now: datetime = NOON

    @property
    def rig(self) -> Rig:
        """The rig file as it is now."""
        return load_rig(self.folder / "rig.toml")

    @property
    def evidence(self) -> Evidence:
        """What is on file."""
        return Evidence(self.rig, load_records(self.folder), self.now)

    def keep(
        self, document: AnyDocument, channel: str | None, command: str = "travel", days: float = 0
    ) -> Record:
        """Keep a document, made ``days`` before now."""
        inputs: Sequence[str] = [channel] if channel else list(self.rig.channels)
        return save_record(
            self.folder,
            self.rig,
            document,
            command=command,
            inputs=inputs,
            now=self.now - timedelta(days=days),
            channel=channel,
        )


def bench(folder: Path, rig: str = RIG) -> Bench:
    """A fresh bench with a rig file and nothing measured."""
    (folder / "rig.toml").write_text(rig, encoding="utf-8")
    return Bench(folder)


def level(mean_V: float) -> LevelFigures:
    """One end of a travel."""
    return LevelFigures(
        mean=mean_V,
        sd_within=0.002,
        sd_between=0.003,
        plateaus=5,
        samples=500,
        n_effective=80,
        limit_low=mean_V - 0.02,
        limit_high=mean_V + 0.02,
        u=0.004,
    )


def travel(
    channel: str = "grip",
    verdict: Severity = Severity.PASS,
    *,
    rest_V: float = 0.81,
    full_V: float = 3.72,
    start_V: float = 0.93,
    end_V: float = 3.66,
) -> TravelDocument:
    """A measured control; give rest above full for a reversed one."""
    return TravelDocument(
        verdict=verdict,
        findings=(Finding(code="x", severity=verdict, text="It was looked at.", action="Look."),),
        channel=channel,
        rest=level(rest_V),
        full=level(full_V),
        presses=5,
        reversed=rest_V > full_V,
        dead_band=DeadBand(start=start_V, end=end_V, dead_travel_pct=6.2, step=0.01),
        fault_window=FaultWindow(low=0.41, high=4.3),
        return_s=ReturnTime(median=0.2, max=0.3),
    )
