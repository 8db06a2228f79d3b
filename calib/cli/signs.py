"""``calib signs``: which way the tilt sensor counts, along which axis, and by how much."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from calib.cli.options import Shared, shared
from calib.cli.quantity import Quantity
from calib.cli.tilt_options import shown_step_option
from calib.store.plausible import SHOWN_DEG, WHEELBASE_MM, Usual

if TYPE_CHECKING:
    from collections.abc import Mapping

    from calib.checks.tilt.signs import SignsSettings
    from calib.store.asked import AskingRig
    from calib.store.capture import Capture
    from calib.store.documents.signs import SignsDocument
    from calib.store.rig import Rig
    from calib.tilt.signs import Pose

FILE = click.Path(path_type=Path)


@click.command()
@shared()
@click.option("--front-raised", type=FILE, metavar="FILE", help="Capture with the front raised.")
@click.option("--rear-raised", type=FILE, metavar="FILE", help="Capture with the rear raised.")
@click.option("--leaned-left", type=FILE, metavar="FILE", help="Capture leaned to the left.")
@click.option("--leaned-right", type=FILE, metavar="FILE", help="Capture leaned to the right.")
@click.option(
    "--block-mm",
    type=Quantity(Usual(5.0, 500.0, "mm")),
    metavar="N",
    help="Height of the plank under the raised wheel.",
)
@click.option(
    "--wheelbase-mm", type=Quantity(WHEELBASE_MM), metavar="N", help="Else the rig file's."
)
@click.option(
    "--expects",
    type=click.Choice(["nose-up-positive", "nose-down-positive"]),
    help="What the controller expects; else the rig file's.",
)
@click.option(
    "--shown-front-raised",
    type=Quantity(SHOWN_DEG),
    metavar="A",
    help="What the controller shows then.",
)
@click.option(
    "--shown-leaned-left",
    type=Quantity(SHOWN_DEG),
    metavar="A",
    help="What the controller shows then.",
)
@click.option(
    "--shown-level",
    type=Quantity(SHOWN_DEG),
    metavar="A",
    help="What it shows on the level; else as typed in 'calib level'.",
)
@click.option(
    "--shown-lag-s",
    type=Quantity(Usual(0.0, 60.0, "s")),
    metavar="S",
    help="How long after a quick raise the controller's display stands still again.",
)
@click.option(
    "--write",
    is_flag=True,
    help="Where the accelerometer lies otherwise, state its axes so in the rig file.",
)
@shown_step_option
def command(
    shared: Shared,
    write: bool,
    block_mm: float | None,
    wheelbase_mm: float | None,
    expects: str | None,
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
    """
    from calib.checks.tilt.signs import ShownPoses, SignsSettings, judge_signs
    from calib.cli.on_file import keep_tilt
    from calib.cli.output import finish
    from calib.cli.tilting import shown_level_on_file
    from calib.errors import UsageError
    from calib.guide.cautions import TILT_CAUTIONS
    from calib.show.tilt import show_signs

    rig = shared.rig()
    if block_mm is None:
        raise UsageError(
            "The height of the plank is not known.", "Measure it and give it with --block-mm N."
        )
    typed = ShownPoses(
        level_deg=shown_level_on_file(shared, rig) if shown_level is None else shown_level,
        front_raised_deg=shown_front_raised,
        leaned_left_deg=shown_leaned_left,
        step_deg=shown_step_deg,
        lag_s=shown_lag_s,
    )
    settings = SignsSettings(
        block_mm=block_mm,
        wheelbase_mm=wheelbase_mm,
        expects="nose-up-positive"
        if expects == "nose-up-positive"
        else "nose-down-positive"
        if expects
        else None,
        shown=typed,
    )
    captures = _captures(shared, rig, settings, files)
    document = judge_signs(captures, rig, settings, TILT_CAUTIONS)
    if write and document.axes:
        rig = _state_axes(shared, rig, document)
        document = judge_signs(captures, rig, settings, TILT_CAUTIONS)
    keep_tilt(shared, rig, document, command="signs", captures=tuple(captures.values()))
    return finish(document, show_signs, as_json=shared.as_json, onward=shared)


def _state_axes(shared: Shared, rig: AskingRig, document: SignsDocument) -> AskingRig:
    """Write how the accelerometer lies; the poses are then judged by the rig file of now."""
    from calib.store.rig_writing import Entry, RigEdit, TableName, edit_rig

    entries: dict[TableName, dict[str, Entry]] = {
        ("channels", axis.channel): {"role": Entry(axis.role), "sign": Entry(axis.sign)}
        for axis in document.axes
    }
    edit_rig(shared.rig_path, RigEdit(entries))
    return shared.rig(again=rig)


def _captures(
    shared: Shared, rig: Rig, settings: SignsSettings, files: Mapping[str, Path | None]
) -> dict[Pose, Capture]:
    """The poses in files, or with the person; none where only the display was read."""
    from calib.cli.tilting import captures_in
    from calib.errors import UsageError
    from calib.tilt.signs import Pose

    named = {Pose(name.replace("_", " ")): path for name, path in files.items() if path is not None}
    if shared.from_file is not None:
        named = {Pose.LEVEL: shared.from_file, **named}
    elif named:
        raise UsageError(
            "Poses were given without the level pose.", "Give the level pose with --from FILE."
        )
    if not named and settings.shown.any and shared.port is None:
        return {}
    if not named:
        return _live(shared, rig, settings)
    read = captures_in(named.values(), shared, rig, command="signs")
    return dict(zip(named, read, strict=True))


def _live(shared: Shared, rig: Rig, settings: SignsSettings) -> dict[Pose, Capture]:
    """The poses with the person: hands-free with an accelerometer, else one at a time."""
    from calib.checks.tilt.signs import expected_angle
    from calib.cli.session import person_at
    from calib.cli.tilting import Listener
    from calib.guide.signs import take_poses
    from calib.store.capture import read_capture
    from calib.tilt.signs import Pose

    expected = expected_angle(settings.block_mm, settings.wheelbase_mm or rig.tilt.wheelbase_mm)
    with (
        person_at(shared) as person,
        Listener(
            shared, rig, person, command="signs", about="raise one wheel and lean it by hand"
        ) as listener,
    ):
        if not rig.with_role("accel-x"):
            taken = take_poses(listener.taking.standing)
        else:
            taken = {Pose.LEVEL: listener.taking.poses(expected)}
    return {pose: read_capture(path) for pose, path in taken.items()}
