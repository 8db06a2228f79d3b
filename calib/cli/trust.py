"""``calib trust``: whether a tilt-based aid may be trusted, with reasons."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from calib.cli.options import Shared, shared
from calib.cli.quantity import Quantity
from calib.store.plausible import AID_ENDED_DEG, AID_STARTS_DEG, DIVE_DEG

if TYPE_CHECKING:
    from calib.store.documents.note import Happening

PARTS: tuple[Happening, ...] = ("dropped", "tyre", "fork", "spring")


@click.command()
@shared("out", "as_json")
@click.option("--rewired", is_flag=True, help="Note: it was rewired.")
@click.option("--remounted", is_flag=True, help="Note: the sensor was remounted.")
@click.option(
    "--changed",
    type=click.Choice(PARTS),
    multiple=True,
    help="Note: it was dropped, or one of these was changed; repeat.",
)
@click.option("--remark", default="", metavar="TEXT", help="Your own words to that note.")
@click.option(
    "--on-signal-loss",
    type=click.Choice(["power off", "aid off", "goes on", "not known"]),
    help="What the controller does when its tilt signal dies or freezes.",
)
@click.option(
    "--aid-starts-deg",
    type=Quantity(AID_STARTS_DEG),
    metavar="A",
    help="Where the aid begins to act.",
)
@click.option(
    "--aid-ended-deg",
    type=Quantity(AID_ENDED_DEG),
    metavar="A",
    help="Where it has taken all power.",
)
@click.option(
    "--dive-deg", type=Quantity(DIVE_DEG), metavar="A", help="How far fork or tail dive in riding."
)
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
    from calib.checks.gate.judgement import judge_trust
    from calib.cli.on_file import evidence_of, keep_tilt
    from calib.cli.output import finish
    from calib.guide.cautions import TILT_CAUTIONS
    from calib.show.trust import show_trust
    from calib.store.documents.finding import Severity
    from calib.store.documents.note import NoteDocument

    rig = shared.rig()
    given = {key: value for key, value in answers.items() if value is not None}
    if given:
        from calib.store.rig_writing import write_table

        write_table(shared.rig_path, ("tilt",), given)
        rig = shared.rig()
    noted: list[Happening] = [*changed]
    noted += ["rewired"] if rewired else []
    noted += ["remounted"] if remounted else []
    for what in noted:
        note = NoteDocument(verdict=Severity.PASS, what=what, remark=remark)
        keep_tilt(shared, rig, note, command="note")
    evidence = evidence_of(shared, rig)
    document = judge_trust(evidence, TILT_CAUTIONS)
    keep_tilt(shared, rig, document, command="trust", file=evidence.file)
    return finish(document, show_trust, as_json=shared.as_json, onward=shared)
