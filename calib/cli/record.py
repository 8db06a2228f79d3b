"""``calib record``: capture for a time, or until Ctrl-C."""

from __future__ import annotations

import math
from typing import Annotated

from calib.cli.flow import Flow
from calib.cli.options import Shared, option, shared
from calib.store.plausible import DURATION_S


@shared("port", "out", "as_json", example="--for 60")
def command(
    shared: Shared, duration_s: Annotated[float | None, option("--for S", kind=DURATION_S)]
) -> int:
    """Capture every column for a time, or until Ctrl-C, and keep it on disk.

    Options:
        --for: Seconds to capture; until Ctrl-C without it.
    """
    from calib.checks.capture import judge_record
    from calib.guide.cautions import LISTEN_CAUTIONS
    from calib.guide.recording import Recording, gauges_for

    flow = Flow(shared, "record", LISTEN_CAUTIONS, outlasts_s=0.0)
    names, lasts_s = tuple(flow.rig.channels), math.inf if duration_s is None else duration_s
    capture = flow.capture(
        lambda person, line: Recording(person, gauges_for(flow.rig, line.columns, names), lasts_s)
    )
    return flow.show(judge_record(capture, flow.rig, flow.cautions))
