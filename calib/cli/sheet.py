"""``calib sheet``: what to type into the controller, and whether it took it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import click

from calib.cli.completion import channel_names
from calib.cli.on_file import evidence_of
from calib.cli.options import Shared, shared
from calib.cli.quantity import Quantity
from calib.errors import UsageError
from calib.store.plausible import SHOWN_V

if TYPE_CHECKING:
    from calib.checks.file.standing import Evidence
    from calib.guide.verify import Answers
    from calib.store.documents.sheet import VerifyDocument


@click.command()
@shared("out", "as_json")
@click.option("--markdown", is_flag=True, help="Print the sheet as Markdown.")
@click.option(
    "--verify",
    "verifying",
    is_flag=True,
    help="After typing in: hold what the controller shows against the sheet.",
)
@click.option(
    "--channel",
    metavar="NAME",
    shell_complete=channel_names,
    help="Verify this control only.",
)
@click.option(
    "--shown-rest", "rest_V", type=Quantity(SHOWN_V), metavar="V", help="It shows, hand off."
)
@click.option(
    "--shown-full", "full_V", type=Quantity(SHOWN_V), metavar="V", help="It shows at full travel."
)
@click.option(
    "--shown-start", "start_V", type=Quantity(SHOWN_V), metavar="V", help="Its start setting."
)
@click.option("--shown-end", "end_V", type=Quantity(SHOWN_V), metavar="V", help="Its end setting.")
@click.option(
    "--creep",
    type=click.Choice(["still", "creeps"]),
    help="What the raised wheel did with the hand off for ten seconds.",
)
@click.option("--tap-off", is_flag=True, help="The tap came off since the travel was measured.")
def command(
    shared: Shared,
    markdown: bool,
    verifying: bool,
    channel: str | None,
    creep: Literal["still", "creeps"] | None,
    tap_off: bool,
    **volts: float | None,
) -> int:
    """Print what to type into the controller; with --verify, check what it then shows.

    A value that failed, is unknown, stale or not measured prints no number. After typing in, run
    it again with --verify and read the controller's display; the options answer the questions
    for scripts.
    """
    evidence = evidence_of(shared, shared.rig())
    answered = creep is not None or tap_off or any(value is not None for value in volts.values())
    if not verifying:
        if answered or channel is not None:
            raise UsageError(
                "These options answer the questions of --verify, which is not given.",
                "Add --verify, or leave them out.",
            )
        return _print_sheet(shared, evidence, markdown=markdown)
    controls = list(evidence.rig.worked_controls())
    if channel is not None:
        evidence.rig.channel(channel)
        controls = [channel]
    if not controls:
        raise UsageError("The rig file names no control.", "Run 'calib setup'.")
    if len(controls) > 1 and (answered or shared.as_json):
        raise UsageError(
            f"There are {len(controls)} controls, and answers and --json are for one.",
            "Name it with --channel NAME.",
        )
    _refuse_shares(evidence, controls)
    if not answered:
        return _verify_all(shared, evidence, controls)
    from calib.checks.sheet.verify import Shown
    from calib.guide.verify import Answers

    answers = Answers(Shown(**volts), creep, unplugged_between=tap_off)
    return _finish([_judge(shared, evidence, controls[0], answers)], shared)


def _refuse_shares(evidence: Evidence, controls: list[str]) -> None:
    """Displays are compared in volts alone."""
    from calib.checks.sheet.travel import whole_of

    shares = [name for name in controls if whole_of(evidence.rig, name) is not None]
    if shares:
        raise UsageError(
            f"{shares[0]} is typed in per cent, and --verify compares volts.",
            "Compare the controller's display with the sheet yourself, figure by figure.",
        )


def _print_sheet(shared: Shared, evidence: Evidence, *, markdown: bool) -> int:
    from calib.checks.sheet import make_sheet
    from calib.cli.output import finish
    from calib.guide.cautions import FIRST_TURN, cautions
    from calib.show.sheet import sheet_markdown, show_sheet

    document = make_sheet(evidence, cautions(FIRST_TURN))
    if markdown and not shared.as_json:
        click.echo(sheet_markdown(document, evidence.rig.rig.name), nl=False)
        return 0 if document.verdict.is_good else 1
    return finish(document, show_sheet, as_json=shared.as_json)


def _verify_all(shared: Shared, evidence: Evidence, controls: list[str]) -> int:
    from calib.cli.session import person_at
    from calib.guide.verify import ask_verify
    from calib.store.acts import WORDINGS

    documents = []
    with person_at(shared) as person:
        for channel in controls:
            wording = WORDINGS[evidence.rig.acts(channel)]
            answers = ask_verify(person, channel, wording)
            documents.append(_judge(shared, evidence, channel, answers))
    return _finish(documents, shared)


def _judge(shared: Shared, evidence: Evidence, channel: str, answers: Answers) -> VerifyDocument:
    from calib.checks.sheet.verify import verify
    from calib.guide.cautions import FIRST_TURN, cautions
    from calib.store.records import Subject, save_record

    document = verify(
        evidence,
        channel,
        answers.shown,
        creep=answers.creep,
        unplugged_between=answers.unplugged_between,
        cautions=cautions(FIRST_TURN),
    )
    subject = Subject("verify", channel)
    save_record(shared.folder, evidence.rig, document, subject, now=evidence.now)
    return document


def _finish(documents: list[VerifyDocument], shared: Shared) -> int:
    from calib.cli.output import finish
    from calib.show.sheet import show_verify

    onward = [*(None for _ in documents[1:]), shared]
    return max(
        finish(document, show_verify, as_json=shared.as_json, onward=last)
        for document, last in zip(documents, onward, strict=True)
    )
