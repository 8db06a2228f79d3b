"""``calib poses``: trues an accelerometer from many still poses in the hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from calib.cli.options import Shared, shared

if TYPE_CHECKING:
    from calib.store.capture import Capture
    from calib.store.rig import Rig


@click.command()
@shared()
def command(shared: Shared) -> int:
    """True an accelerometer before it is mounted: rest it in a dozen different poses.

    On all six faces of a box and askew against a wall, three seconds each, in any order, not held
    in the air. What it finds is written to the rig file.
    """
    from calib.checks.tilt.poses import judge_poses
    from calib.cli.clock import now
    from calib.cli.on_file import keep_tilt
    from calib.cli.output import finish
    from calib.cli.tilting import captures_in
    from calib.guide.cautions import LISTEN_CAUTIONS
    from calib.show.poses import show_poses
    from calib.store.rig_writing import write_table
    from calib.tilt.inputs import find_inputs

    rig = shared.rig()
    if shared.from_file is None:
        capture = _live(shared, rig)
    else:
        capture = captures_in((shared.from_file,), shared, rig, command="poses")[0]
    document = judge_poses(capture, rig, LISTEN_CAUTIONS)
    if document.bias is not None:
        identity = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
        truing = {
            "bias": document.bias,
            "matrix": document.matrix or identity,
            "u": document.u,
            "date": now().date().isoformat(),
            "columns": find_inputs(rig, capture.columns).axes,
        }
        write_table(shared.rig_path, ("tilt", "truing"), truing)
        rig = shared.rig(again=rig)
        rig.note_below("tilt.truing")
    keep_tilt(shared, rig, document, command="poses", captures=[capture])
    return finish(document, show_poses, as_json=shared.as_json, onward=shared)


def _live(shared: Shared, rig: Rig) -> Capture:
    """The poses with the person."""
    from calib.checks.tilt.poses import without_truing
    from calib.cli.clock import host_clock_s, now
    from calib.cli.session import live_line, person_at
    from calib.guide.capturing import capture_until
    from calib.guide.tilt import PosesWatch
    from calib.store.capture import read_capture
    from calib.tilt.inputs import find_inputs

    with person_at(shared) as person, live_line(rig, person) as line:
        inputs = find_inputs(without_truing(rig), line.columns)
        watch = PosesWatch(person, inputs, clock=host_clock_s)
        path = capture_until(line, rig, shared.folder, watch, command="poses", now=now())
    return read_capture(path)
