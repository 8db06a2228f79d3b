"""Records on disk for tests of sheet, status and report."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from calib.checks.file.validity import Filed
from calib.store.asked import asking
from calib.store.capture_writer import CaptureWriter, capture_path
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.kinds import AnyDocument
from calib.store.documents.travel import (
    DeadBand,
    FaultWindow,
    LevelFigures,
    ReturnTime,
    TravelDocument,
)
from calib.store.records import Record, Subject, load_records, save_record
from calib.store.rig import Rig, load_rig
from calib.store.samples import Samples

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)

RIG = """\
[rig]
name = "barn mule"

[channels.grip]
role = "control"
acts = "drive"
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
    def filed(self) -> Filed:
        """What is on file."""
        return Filed(self.rig, load_records(self.folder), self.now)

    def keep(
        self,
        document: AnyDocument,
        channel: str | None,
        command: str = "travel",
        days: float = 0,
        *,
        tilt: bool = False,
    ) -> Record:
        """Keep a document, made ``days`` before now; it rests on its channel, or on all."""
        rig = asking(self.rig)
        for name in [channel] if channel else self.rig.channels:
            rig.note_below(f"channels.{name}")
        subject = Subject(command, channel, tilt=tilt)
        return save_record(self.folder, rig, document, subject, now=self.now - timedelta(days=days))


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
        dof=24.0,
        expanded=0.00826,
        coverage=0.95,
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
        acts="drive" if channel == "grip" else None,
        rest=level(rest_V),
        full=level(full_V),
        presses=5,
        reversed=rest_V > full_V,
        dead_band=DeadBand(start=start_V, end=end_V, dead_travel_pct=6.2, step=0.01),
        fault_window=FaultWindow(low=0.41, high=4.3),
        return_s=ReturnTime(median=0.2, max=0.3),
    )


def pressed(presses: int = 5, rate_hz: float = 200.0, seed: int = 7) -> NDArray[np.float64]:
    """Volts of a grip that is pressed, held and let go; shape (n,)."""
    rng = np.random.default_rng(seed)
    one = np.concatenate(
        [
            np.full(int(1.2 * rate_hz), 0.81),
            np.linspace(0.81, 3.72, int(0.4 * rate_hz)),
            np.full(int(1.0 * rate_hz), 3.72),
            np.linspace(3.72, 0.81, int(0.12 * rate_hz)),
        ]
    )
    whole = np.concatenate([np.tile(one, presses), np.full(int(1.5 * rate_hz), 0.81)])
    return whole + rng.normal(0, 0.003, whole.shape)


def write_capture(
    here: Bench,
    volts: NDArray[np.float64],
    *,
    command: str = "travel",
    rate_hz: float = 200.0,
) -> Path:
    """A capture of both controls on disk: the grip in counts, the lever in volts."""
    counts = np.clip(np.floor(volts / 5.0 * 1024), 0, 1023)
    time_s = np.arange(volts.shape[0]) / rate_hz
    lever = np.full(volts.shape, 1.1)
    samples = Samples(
        time_s=time_s,
        arrival_s=time_s,
        values=np.column_stack([counts, lever]),
        rows=[f"{count:.0f},1.1" for count in counts],
    )
    path = capture_path(here.folder, command, here.now)
    with CaptureWriter(path, here.rig, ["a0", "a1"], command=command, started=here.now) as writer:
        writer.append(samples)
    return path
