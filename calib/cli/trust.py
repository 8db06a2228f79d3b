"""``calib trust``: whether a tilt-based aid may be trusted, with reasons."""

from __future__ import annotations

from typing import Annotated, Literal, get_args

from calib.cli.flow import Flow
from calib.cli.options import Shared, option, shared
from calib.store.plausible import AID_ENDED_DEG, AID_STARTS_DEG, DIVE_DEG

Part = Literal["dropped", "tyre", "fork", "spring"]
ON_SIGNAL_LOSS = ("power off", "aid off", "goes on", "not known")


@shared("out", "as_json", example='--on-signal-loss "power off"')
@option("--on-signal-loss", kind=ON_SIGNAL_LOSS)
@option("--aid-starts-deg A", kind=AID_STARTS_DEG)
@option("--aid-ended-deg A", kind=AID_ENDED_DEG)
@option("--dive-deg A", kind=DIVE_DEG)
def command(
    shared: Shared,
    rewired: Annotated[bool, option()],
    remounted: Annotated[bool, option()],
    changed: Annotated[tuple[Part, ...], option(kind=get_args(Part), multiple=True)],
    remark: Annotated[str, option("TEXT", default="", show_default=False)],
    **answers: str | float | None,
) -> int:
    """Say whether a tilt-based aid may be trusted, and what is missing.

    It reads the evidence on file. Your answers are kept in the rig file; a note of a change makes
    earlier evidence stale.

    Options:
        --rewired: Note: it was rewired.
        --remounted: Note: the sensor was remounted.
        --changed: Note: it was dropped, or one of these was changed; repeat.
        --remark: Your own words to that note.
        --on-signal-loss: What the controller does when its tilt signal dies or freezes.
        --aid-starts-deg: Where the aid begins to act.
        --aid-ended-deg: Where it has taken all power.
        --dive-deg: How far fork or tail dive in riding.
    """
    from calib.checks.gate import judge_trust
    from calib.guide.cautions import TILT_CAUTIONS
    from calib.show.trust import show_trust

    flow = Flow(shared, "trust", TILT_CAUTIONS, tilt=True)
    given = {key: value for key, value in answers.items() if value is not None}
    if given:
        from calib.store.rig_writing import write_table

        write_table(shared.rig_path, ("tilt",), given)
        flow.reread()
    flow.note({**dict.fromkeys(changed, True), "rewired": rewired, "remounted": remounted}, remark)
    evidence = flow.filed()
    document = judge_trust(evidence, flow.cautions)
    flow.keep(document, file=evidence.records)
    return flow.show(document, show_trust, onward=True)
