"""``calib signs``: which way the tilt sensor counts, along which axis, and by how much."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal, get_args

from calib.cli.flow import Flow
from calib.cli.options import FILE, Shared, ShownStep, Wheelbase, option, shared
from calib.errors import UsageError
from calib.store.plausible import SHOWN_DEG, Usual

if TYPE_CHECKING:
    from calib.checks.tilt.signs import SignsSettings
    from calib.store.capture import Capture
    from calib.tilt.signs import Pose

Expects = Literal["nose-up-positive", "nose-down-positive"]


@shared(example="--block-mm 90")
def command(
    shared: Shared,
    front_raised: Annotated[Path | None, option("FILE", kind=FILE)],
    rear_raised: Annotated[Path | None, option("FILE", kind=FILE)],
    leaned_left: Annotated[Path | None, option("FILE", kind=FILE)],
    leaned_right: Annotated[Path | None, option("FILE", kind=FILE)],
    block_mm: Annotated[float | None, option("N", kind=Usual(5.0, 500.0, "mm"))],
    wheelbase_mm: Wheelbase,
    expects: Annotated[Expects | None, option(kind=get_args(Expects))],
    shown_front_raised: Annotated[float | None, option("A", kind=SHOWN_DEG)],
    shown_leaned_left: Annotated[float | None, option("A", kind=SHOWN_DEG)],
    shown_level: Annotated[float | None, option("A", kind=SHOWN_DEG)],
    shown_lag_s: Annotated[float | None, option("S", kind=Usual(0.0, 60.0, "s"))],
    write: Annotated[bool, option()],
    shown_step_deg: ShownStep,
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
        raise UsageError.of("plank-unknown")
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
    captures = _captures(flow, settings, (front_raised, rear_raised, leaned_left, leaned_right))
    document = judge_signs(captures, flow.rig, settings, flow.cautions)
    if write and document.axes:
        from calib.store.rig_writing import Entry, RigEdit, TableName, edit_rig

        # The poses are then judged by the rig file of now.
        entries: dict[TableName, dict[str, Entry]] = {
            ("channels", axis.channel): {"role": Entry(axis.role), "sign": Entry(axis.sign)}
            for axis in document.axes
        }
        edit_rig(shared.rig_path, RigEdit(entries))
        flow.reread()
        document = judge_signs(captures, flow.rig, settings, flow.cautions)
    return flow.end(document, [*captures.values()])


def _shown_level_on_file(flow: Flow) -> float | None:
    """What the controller showed on the level, where the last level run stands good."""
    from calib.store.documents.tilt import LevelDocument

    standing = flow.filed().validity(LevelDocument)
    document = standing.document if standing.is_good else None
    return None if document is None or document.shown is None else document.shown.reading


def _captures(
    flow: Flow, settings: SignsSettings, files: tuple[Path | None, ...]
) -> dict[Pose, Capture]:
    """The poses in files, or with the person; none where only the display was read.

    Raises:
        UsageError: The level pose is missing.
    """
    from calib.tilt.signs import Pose

    every = zip(Pose, (flow.shared.from_file, *files), strict=True)
    named = {pose: path for pose, path in every if path is not None}
    if named and Pose.LEVEL not in named:
        raise UsageError.of("poses-without-level")
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

    wheelbase_mm = settings.wheelbase_mm or flow.rig.tilt.wheelbase_mm
    expected = expected_angle(settings.block_mm, wheelbase_mm)
    with taking(flow, "raise one wheel and lean it by hand") as take:
        if flow.rig.with_role("accel-x"):
            taken = {Pose.LEVEL: take.poses(expected)}
        else:
            taken = take_poses(take.standing)
    return {pose: read_capture(path) for pose, path in taken.items()}
