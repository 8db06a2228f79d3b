"""What a notebook needs: ``import calib`` gives these names, each loaded when it is first used.

The functions judge as the commands of the same name do, and write nothing: no record, no rig file.
Where a file is wanted, a capture of calib or a text log in the rig file's layout will do.
"""

from __future__ import annotations

import importlib
import shutil
import weakref
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calib.checks.bench.judgement import CheckSettings as CheckSettings
from calib.checks.bench.judgement import judge_check
from calib.checks.tilt.level import LevelSettings as LevelSettings
from calib.checks.tilt.level import Standings, judge_level
from calib.checks.tilt.poses import judge_poses
from calib.checks.tilt.signs import SignsSettings as SignsSettings
from calib.checks.tilt.signs import judge_signs
from calib.checks.tilt.still import judge_still
from calib.checks.travel.judgement import judge_travel
from calib.checks.travel.numbers import TravelSettings as TravelSettings
from calib.errors import UsageError
from calib.guide.capturing import captured
from calib.guide.cautions import CONTROL_CAUTIONS, LISTEN_CAUTIONS, TILT_CAUTIONS
from calib.store import capture as captures
from calib.store.columns import has_column, in_base_unit
from calib.store.conversion import base_unit
from calib.store.documents.check import CheckDocument
from calib.store.documents.tilt import LevelDocument, PosesDocument, SignsDocument, StillDocument
from calib.store.documents.travel import TravelDocument
from calib.store.records import OnFile, load_records
from calib.store.rig import Rig
from calib.store.rig import load_rig as _load_rig
from calib.tilt.signs import Pose


@dataclass(frozen=True, eq=False)
class Readings(Mapping[str, NDArray[np.float64]]):
    """A capture's readings by channel name, each of shape (n,), in the channel's base unit.

    Attributes:
        capture: The capture, with its numbers as received, its gaps and its SHA-256.
        rig: What its columns are.
    """

    capture: captures.Capture
    rig: Rig

    @property
    def time_s(self) -> NDArray[np.float64]:
        """The logger's clock, s, shape (n,)."""
        return self.capture.time_s

    def unit(self, channel: str) -> str:
        """The unit of a channel's readings: V, %, deg, g, deg/s, degC or raw."""
        return base_unit(self.rig.channel(channel))

    def __getitem__(self, channel: str) -> NDArray[np.float64]:
        """The readings of a channel, NaN where a line had none."""
        if channel not in set(self):
            raise KeyError(channel)
        return in_base_unit(self.capture, self.rig, channel)

    def __iter__(self) -> Iterator[str]:
        """The channels of the rig file that the capture has."""
        rig, columns = self.rig, self.capture.columns
        return (name for name in rig.channels if has_column(columns, rig, name))

    def __len__(self) -> int:
        """Count of those channels."""
        return sum(1 for _ in self)

    def to_frame(self) -> Any:
        """A pandas frame: a column a channel, the time in s as its index.

        Raises:
            UsageError: pandas is not installed.
        """
        try:
            pandas = importlib.import_module("pandas")
        except ModuleNotFoundError as error:
            raise UsageError("A frame needs pandas.", "Install it: pip install pandas") from error
        return pandas.DataFrame(dict(self), index=pandas.Index(self.time_s, name="time_s"))


File = Readings | Path | str


def load_rig(path: Path | str = "rig.toml") -> Rig:
    """Read a rig file.

    Raises:
        RigError: It cannot be read, or something in it cannot be.

    >>> rig = calib.load_rig("rig.toml")
    >>> rig.channel("throttle").unit
    'V'
    """
    return _load_rig(Path(path))


def read_capture(path: Path | str, rig: Rig) -> Readings:
    """Read a capture, or a text log through the usual decoder.

    Raises:
        NoDataError: It is missing, unreadable, or nothing in it can be decoded.

    >>> readings = calib.read_capture("throttle.csv", rig)
    >>> sorted(readings), readings.unit("throttle")
    (['throttle'], 'V')
    >>> round(float(readings["throttle"].max()), 1)
    4.2
    """
    home = mkdtemp(prefix="calib-")
    found = captured(Path(path), rig, Path(home), command="log", now=datetime.now(UTC))
    readings = Readings(captures.read_capture(found), rig)
    weakref.finalize(readings, shutil.rmtree, home, ignore_errors=True)
    return readings


def travel(
    file: File, rig: Rig, channel: str, settings: TravelSettings | None = None
) -> TravelDocument:
    """Rest, full travel and dead band of a control, without what earlier evenings would add.

    Raises:
        UsageError: There is no such control.
        NoDataError: The file cannot be read.

    >>> found = calib.travel("throttle.csv", rig, "throttle")
    >>> found.verdict, found.presses
    (<Severity.PASS: 'pass'>, 5)
    >>> found.dead_band.start > found.rest.limit_high
    True
    """
    readings, settings = _read(file, rig), settings or TravelSettings()
    return judge_travel(readings.capture, rig, channel, settings, CONTROL_CAUTIONS)


def check(file: File, rig: Rig, settings: CheckSettings | None = None) -> CheckDocument:
    """Every input against its limits, from one whole check's capture, without an earlier record.

    Raises:
        NoDataError: The file cannot be read.

    >>> calib.check("throttle.csv", rig).verdict
    <Severity.CAUTION: 'caution'>
    """
    readings = _read(file, rig)
    return judge_check(readings.capture, rig, CONTROL_CAUTIONS, settings=settings)


def level(
    first: File,
    rig: Rig,
    turned: Sequence[File] = (),
    seated: Sequence[File] = (),
    settings: LevelSettings | None = None,
) -> LevelDocument:
    """The level zero of the tilt sensor from its standings, without a proof of sign on file.

    Raises:
        UsageError: The rig file has no tilt sensor.
        NoDataError: A file cannot be read.

    >>> tilt = calib.load_rig("tilt.toml")
    >>> calib.level("first.csv", tilt, turned=["turned.csv"]).verdict
    <Severity.PASS: 'pass'>
    """
    read = [[_read(file, rig) for file in files] for files in ([first], turned, seated)]
    standings = Standings(*(tuple(each.capture for each in files) for files in read))
    return judge_level(standings, rig, settings or LevelSettings(), TILT_CAUTIONS)


def signs(poses: File | Mapping[str, File], rig: Rig, settings: SignsSettings) -> SignsDocument:
    """The proof of sign, from one capture with all poses or one a pose.

    Args:
        poses: The capture, or captures by pose: "level", "front raised", "rear raised",
            "leaned left", "leaned right".
        rig: What the columns are.
        settings: The height of the plank, at least.

    Raises:
        UsageError: A pose has no such name, or the rig file has no tilt sensor.
        NoDataError: A file cannot be read.

    >>> calib.signs("poses of the machine.csv", tilt, calib.SignsSettings(block_mm=100)).verdict
    <Severity.PASS: 'pass'>
    """
    if isinstance(poses, Readings | Path | str):
        poses = {Pose.LEVEL: poses}
    if unknown := set(poses) - set(Pose):
        raise UsageError(f"There is no pose {min(unknown)!r}.", f"Poses: {', '.join(Pose)}.")
    read = {Pose(name): _read(file, rig) for name, file in poses.items()}
    taken = {pose: each.capture for pose, each in read.items()}
    return judge_signs(taken, rig, settings, TILT_CAUTIONS)


def still(file: File, rig: Rig, channel: str | None = None) -> StillDocument:
    """Noise and drift of a channel at rest; of the pitch without ``channel``.

    Raises:
        UsageError: There is no such channel.
        NoDataError: The file cannot be read.

    >>> calib.still("rest.csv", tilt).verdict
    <Severity.PASS: 'pass'>
    """
    readings = _read(file, rig)
    return judge_still(readings.capture, rig, channel, LISTEN_CAUTIONS)


def poses(file: File, rig: Rig) -> PosesDocument:
    """An accelerometer's bias and scale from many still poses; nothing is written.

    Raises:
        UsageError: The rig file has no whole accelerometer.
        NoDataError: The file cannot be read.

    >>> calib.poses("rest.csv", tilt).bias is None
    True
    """
    readings = _read(file, rig)
    return judge_poses(readings.capture, rig, LISTEN_CAUTIONS)


def records(folder: Path | str = ".") -> OnFile:
    """What is on file in a folder, in the order in which it was judged.

    >>> [record.command for record in calib.records(".")]
    []
    """
    return load_records(Path(folder))


def _read(file: File, rig: Rig) -> Readings:
    """The readings in a file, or those that were read already."""
    return file if isinstance(file, Readings) else read_capture(file, rig)
