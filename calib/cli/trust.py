"""``calib trust``: whether a tilt-based aid may be trusted, with reasons."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calib.cli.flow import Flow
from calib.cli.options import Shared, option, shared
from calib.store.plausible import AID_ENDED_DEG, AID_STARTS_DEG, DIVE_DEG

if TYPE_CHECKING:
    from calib.store.documents.note import Happening

PARTS: tuple[Happening, ...] = ("dropped", "tyre", "fork", "spring")
ON_SIGNAL_LOSS = ("power off", "aid off", "goes on", "not known")


@shared("out", "as_json", example='--on-signal-loss "power off"')
@option("--rewired", "Note: it was rewired.", bool)
@option("--remounted", "Note: the sensor was remounted.", bool)
@option(
    "--changed", "Note: it was dropped, or one of these was changed; repeat.", PARTS, multiple=True
)
@option("--remark TEXT", "Your own words to that note.", default="", show_default=False)
@option(
    "--on-signal-loss",
    "What the controller does when its tilt signal dies or freezes.",
    ON_SIGNAL_LOSS,
)
@option("--aid-starts-deg A", "Where the aid begins to act.", AID_STARTS_DEG)
@option("--aid-ended-deg A", "Where it has taken all power.", AID_ENDED_DEG)
@option("--dive-deg A", "How far fork or tail dive in riding.", DIVE_DEG)
def command(
    shared: Shared,
    rewired: bool,
    remounted: bool,
    changed: tuple[Happening, ...],
    remark: str,
    **answers: str | float | None,
) -> int:
    """Say whether a tilt-based aid may be trusted, and what is missing.

    It reads the evidence on file. Your answers are kept in the rig file; a note of a change makes
    earlier evidence stale.
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
    flags: dict[Happening, bool] = {"rewired": rewired, "remounted": remounted}
    flow.note((*changed, *(what for what, noted in flags.items() if noted)), remark)
    evidence = flow.filed()
    document = judge_trust(evidence, flow.cautions)
    flow.keep(document, file=evidence.records)
    return flow.show(document, show_trust, onward=True)
