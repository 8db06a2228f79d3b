"""``calib signs``: which way the tilt sensor counts, along which axis, and by how much."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Literal

from calib.cli.flow import Flow
from calib.cli.options import FILE, Shared, option, shared, shown_step_option, wheelbase_option
from calib.errors import UsageError
from calib.store.plausible import SHOWN_DEG, Usual

if TYPE_CHECKING:
    from collections.abc import Mapping

    from calib.checks.tilt.signs import SignsSettings
    from calib.store.capture import Capture
    from calib.store.documents.signs import StatedAxis
    from calib.tilt.signs import Pose


@shared(example="--block-mm 90")
@option("--front-raised FILE", kind=FILE)
@option("--rear-raised FILE", kind=FILE)
@option("--leaned-left FILE", kind=FILE)
@option("--leaned-right FILE", kind=FILE)
@option("--block-mm N", kind=Usual(5.0, 500.0, "mm"))
@wheelbase_option
@option("--expects", kind=("nose-up-positive", "nose-down-positive"))
@option("--shown-front-raised A", kind=SHOWN_DEG)
@option("--shown-leaned-left A", kind=SHOWN_DEG)
@option("--shown-level A", kind=SHOWN_DEG)
@option("--shown-lag-s S", kind=Usual(0.0, 60.0, "s"))
@option("--write", kind=bool)
@shown_step_option
def command(
    shared: Shared,
    write: bool,
    block_mm: float | None,
    wheelbase_mm: float | None,
    expects: Literal["nose-up-positive", "nose-down-positive"] | None,
    shown_front_raised: float | None,
    shown_leaned_left: float | None,
    shown_level: float | None,
    shown_lag_s: float | None,
    shown_step_deg: float,
    **files: Path | None,
) -> int:
    """Prove that nose-up reads with the sign that the controller expects.

    Front raised twice, rear raised once, leaned to each side, upright on the floor in between: in
    any order, each held for three seconds. With files, --from is the level pose; --from alone
    may hold all poses.

    Options:
        --front-raised: Capture with the front raised.
        --rear-raised: Capture with the rear raised.
        --leaned-left: Capture leaned to the left.
        --leaned-right: Capture leaned to the right.
        --block-mm: Height of the plank under the raised wheel.
        --expects: What the controller expects; else the rig file's.
        --shown-front-raised: What the controller shows then.
        --shown-leaned-left: What the controller shows then.
        --shown-level: What it shows on the level; else as typed in 'calib level'.
        --shown-lag-s: How long after a quick raise the controller's display stands still again.
        --write: Where the accelerometer lies otherwise, state its axes so in the rig file.
    """
    from calib.checks.tilt.signs import ShownPoses, SignsSettings, judge_signs
    from calib.guide.cautions import TILT_CAUTIONS

    flow = Flow(shared, "signs", TILT_CAUTIONS, tilt=True)
    if block_mm is None:
        raise UsageError(
            "The height of the plank is not known.", "Measure it and give it with --block-mm N."
        )
    typed = ShownPoses(
        level_deg=_shown_level_on_file(flow) if shown_level is None else shown_level,
        front_raised_deg=shown_front_raised,
        leaned_left_deg=shown_leaned_left,
        step_deg=shown_step_deg,
        lag_s=shown_lag_s,
    )
    settings = SignsSettings(
        block_mm=block_mm, wheelbase_mm=wheelbase_mm, expects=expects, shown=typed
    )
    captures = _captures(flow, settings, files)
    document = judge_signs(captures, flow.rig, settings, flow.cautions)
    if write and document.axes:
        _state_axes(flow, document.axes)
        document = judge_signs(captures, flow.rig, settings, flow.cautions)
    return flow.end(document, [*captures.values()])


def _shown_level_on_file(flow: Flow) -> float | None:
    """What the controller showed on the level, where the last level run stands good."""
    from calib.store.documents.level import LevelDocument

    standing = flow.filed().validity(LevelDocument)
    document = standing.document if standing.is_good else None
    return None if document is None or document.shown is None else document.shown.reading


def _state_axes(flow: Flow, axes: tuple[StatedAxis, ...]) -> None:
    """Write how the accelerometer lies; the poses are then judged by the rig file of now."""
    from calib.store.rig_writing import Entry, RigEdit, TableName, edit_rig

    entries: dict[TableName, dict[str, Entry]] = {
        ("channels", axis.channel): {"role": Entry(axis.role), "sign": Entry(axis.sign)}
        for axis in axes
    }
    edit_rig(flow.shared.rig_path, RigEdit(entries))
    flow.reread()


def _captures(
    flow: Flow, settings: SignsSettings, files: Mapping[str, Path | None]
) -> dict[Pose, Capture]:
    """The poses in files, or with the person; none where only the display was read.

    Raises:
        UsageError: The level pose is missing.
    """
    from calib.tilt.signs import Pose

    named = {Pose(name.replace("_", " ")): path for name, path in files.items() if path is not None}
    if flow.shared.from_file is not None:
        named = {Pose.LEVEL: flow.shared.from_file, **named}
    elif named:
        raise UsageError(
            "Poses were given without the level pose.", "Give the level pose with --from FILE."
        )
    if named:
        return {pose: flow.given(path) for pose, path in named.items()}
    only_shown = settings.shown.any and flow.shared.port is None
    return {} if only_shown else _live(flow, settings)


def _live(flow: Flow, settings: SignsSettings) -> dict[Pose, Capture]:
    """The poses with the person: hands-free with an accelerometer, else one at a time."""
    from calib.checks.tilt.signs import expected_angle
    from calib.cli.session import taking
    from calib.guide.taking import take_poses
    from calib.store.capture import read_capture
    from calib.tilt.signs import Pose

    expected = expected_angle(
        settings.block_mm, settings.wheelbase_mm or flow.rig.tilt.wheelbase_mm
    )
    with taking(flow, "raise one wheel and lean it by hand") as take:
        if flow.rig.with_role("accel-x"):
            taken = {Pose.LEVEL: take.poses(expected)}
        else:
            taken = take_poses(take.standing)
    return {pose: read_capture(path) for pose, path in taken.items()}
