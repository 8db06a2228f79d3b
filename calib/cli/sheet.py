"""``calib sheet``: what to type into the controller, and whether it took it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Literal

import click

from calib.cli.flow import Flow
from calib.cli.options import Shared, channel_names, option, shared
from calib.errors import UsageError
from calib.store.plausible import SHOWN_V

if TYPE_CHECKING:
    from calib.checks.file.validity import Filed
    from calib.checks.sheet.verify import Answers
    from calib.store.documents.sheet import VerifyDocument


@shared("out", "as_json", example="--verify --channel throttle")
def command(
    shared: Shared,
    markdown: Annotated[bool, option()],
    verify: Annotated[bool, option()],
    channel: Annotated[str | None, option("NAME", shell_complete=channel_names)],
    rest_V: Annotated[float | None, option("--shown-rest V", kind=SHOWN_V)],
    full_V: Annotated[float | None, option("--shown-full V", kind=SHOWN_V)],
    start_V: Annotated[float | None, option("--shown-start V", kind=SHOWN_V)],
    end_V: Annotated[float | None, option("--shown-end V", kind=SHOWN_V)],
    creep: Annotated[Literal["still", "creeps"] | None, option(kind=("still", "creeps"))],
    tap_off: Annotated[bool, option()],
) -> int:
    """Print what to type into the controller; with --verify, check what it then shows.

    A value that failed, is unknown, stale or not measured prints no number. After typing in, run
    it again with --verify and read the controller's display; the options answer the questions
    for scripts.

    Options:
        --markdown: Print the sheet as Markdown.
        --verify: After typing in: hold what the controller shows against the sheet.
        --channel: Verify this control only.
        --shown-rest: It shows, hand off.
        --shown-full: It shows at full travel.
        --shown-start: Its start setting.
        --shown-end: Its end setting.
        --creep: What the raised wheel did with the hand off for ten seconds.
        --tap-off: The tap came off since the travel was measured.
    """
    from calib.guide.cautions import FIRST_TURN, cautions

    flow = Flow(shared, "verify", cautions(FIRST_TURN))
    filed = flow.filed()
    read = (rest_V, full_V, start_V, end_V)
    answered = creep is not None or tap_off or any(volts is not None for volts in read)
    if not verify:
        if answered or channel is not None:
            raise UsageError.of("answers-without-verify")
        return _print_sheet(flow, filed, markdown=markdown)
    controls = _controls(flow, channel, one=answered or shared.as_json)
    if answered:
        from calib.checks.sheet.verify import Answers

        answers = Answers(*read, creep, unplugged_between=tap_off)
        documents = [_judge(flow, filed, controls[0], answers)]
    else:
        documents = _ask(flow, filed, controls)
    last = documents[-1]
    return max(flow.show(each, onward=each is last) for each in documents)


def _controls(flow: Flow, channel: str | None, *, one: bool) -> list[str]:
    """The controls to verify.

    Raises:
        UsageError: There is none, there are several where ``one`` is wanted, or one is typed in
            shares, while displays are compared in volts alone.
    """
    from calib.checks.sheet.travel import whole_of

    controls = list(flow.rig.worked_controls())
    if channel is not None:
        flow.rig.channel(channel)
        controls = [channel]
    if not controls:
        raise UsageError("The rig file names no control.", "Run 'calib setup'.")
    if len(controls) > 1 and one:
        raise UsageError.of("answers-for-many", count=len(controls))
    shares = [name for name in controls if whole_of(flow.rig, name) is not None]
    if shares:
        raise UsageError.of("verify-in-per-cent", name=shares[0])
    return controls


def _print_sheet(flow: Flow, filed: Filed, *, markdown: bool) -> int:
    from calib.checks.sheet import make_sheet
    from calib.show.sheet import sheet_markdown, show_sheet

    document = make_sheet(filed, flow.cautions)
    if markdown and not flow.shared.as_json:
        click.echo(sheet_markdown(document, flow.rig.rig.name), nl=False)
        return 0 if document.verdict.is_good else 1
    return flow.show(document, show_sheet)


def _ask(flow: Flow, filed: Filed, controls: list[str]) -> list[VerifyDocument]:
    """Each control in turn, by what the person reads off the display."""
    from calib.cli.session import person_at
    from calib.guide.verify import ask_verify
    from calib.store.acts import WORDINGS

    with person_at(flow.shared) as person:
        return [
            _judge(flow, filed, each, ask_verify(person, each, WORDINGS[flow.rig.acts(each)]))
            for each in controls
        ]


def _judge(flow: Flow, filed: Filed, channel: str, answers: Answers) -> VerifyDocument:
    from calib.checks.sheet.verify import verify

    document = verify(filed, channel, answers, flow.cautions)
    flow.channel = channel
    flow.keep(document)
    return document
