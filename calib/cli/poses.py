"""``calib poses``: trues an accelerometer from many still poses in the hand."""

from __future__ import annotations

from calib.cli.flow import Flow, now
from calib.cli.options import Shared, shared


@shared()
def command(shared: Shared) -> int:
    """True an accelerometer before it is mounted: rest it in a dozen different poses.

    On all six faces of a box and askew against a wall, three seconds each, in any order, not held
    in the air. What it finds is written to the rig file.
    """
    from calib.checks.tilt.poses import judge_poses, without_truing
    from calib.guide.cautions import LISTEN_CAUTIONS
    from calib.guide.tilt import PosesWatch
    from calib.store.rig_writing import write_table
    from calib.tilt.inputs import find_inputs

    flow = Flow(shared, "poses", LISTEN_CAUTIONS, tilt=True)
    capture = flow.capture(
        lambda person, line: PosesWatch(person, find_inputs(without_truing(flow.rig), line.columns))
    )
    document = judge_poses(capture, flow.rig, flow.cautions)
    if document.bias is not None:
        identity = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
        truing = {
            "bias": document.bias,
            "matrix": document.matrix or identity,
            "u": document.u,
            "date": now().date().isoformat(),
            "columns": find_inputs(flow.rig, capture.columns).axes,
        }
        write_table(shared.rig_path, ("tilt", "truing"), truing)
        flow.reread("tilt.truing")
    return flow.end(document, [capture])
