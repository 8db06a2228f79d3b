"""``calib evening``: the open steps one after the other, in the order of ``calib status``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from calib.cli import INTERRUPTED_EXIT_CODE
from calib.cli.options import LIVE, Shared, shared

if TYPE_CHECKING:
    from calib.guide.protocols import Person
    from calib.store.documents.printed import StatusStep

CHOICES = {"": "again", "again": "again", "a": "again", "leave": "leave", "l": "leave",
           "stop": "stop", "s": "stop"}  # fmt: skip


@shared("port", "out", *LIVE)
def command(shared: Shared) -> int:
    """Go through the open steps, in the order of 'calib status', each by its own command.

    The isolation is asked once for each kind of isolation. A step that did not end well, or that
    you stop with Ctrl-C, can be done again or left out; where you stop, the next evening begins.
    """
    from calib.cli.session import person_at

    with person_at(shared) as person:
        return _evening(shared, person)


def _evening(shared: Shared, person: Person) -> int:
    """Every open step that is not left out."""
    left_out: list[str] = []
    while step := next((each for each in _open_steps(shared) if each.name not in left_out), None):
        click.echo(f"\n{step.name}: {step.text}\n$ {step.command}", err=True)
        choice = _run(shared, person, step)
        while choice == "again":
            choice = _run(shared, person, step)
        if choice == "stop":
            click.echo("Stopped. 'calib evening' goes on here.", err=True)
            return INTERRUPTED_EXIT_CODE
        if choice == "leave" or step.name in [each.name for each in _open_steps(shared)]:
            left_out.append(step.name)
    told = f"{len(left_out)} left open; see 'calib status'." if left_out else "Every step is done."
    click.echo(told, err=True)
    return 1 if left_out else 0


def _open_steps(shared: Shared) -> list[StatusStep]:
    """What is to be done, in order."""
    from calib.cli.status import status_document

    steps = status_document(shared).steps
    return [step for step in steps if step.state not in ("done", "left out")]


def _run(shared: Shared, person: Person, step: StatusStep) -> str:
    """Run a step's command; "on" where it ended well, else what the person would rather do.

    With ``--yes`` nobody is asked: what was stopped stops the evening, and what ended otherwise is
    left out, for done again it would end so for ever.
    """
    from calib.cli import cli
    from calib.errors import CalibError

    try:
        arguments = [*step.command.split()[1:], *_more(shared, person, step)]
        code = cli.main(arguments, prog_name="calib", standalone_mode=False, obj=person)
    except CalibError as error:
        click.echo(f"calib: {error}", err=True)
        code = error.exit_code
    except (click.Abort, KeyboardInterrupt):  # click makes an Abort of Ctrl-C within a command
        click.echo("calib: Stopped.", err=True)
        code = INTERRUPTED_EXIT_CODE
    if code == 0:
        return "on"
    if shared.yes:
        return "stop" if code == INTERRUPTED_EXIT_CODE else "leave"
    return _choice(person)


def _choice(person: Person) -> str:
    """Again, leave it out, or stop."""
    from calib.errors import StoppedError
    from calib.guide.asking import ask_until, one_of

    question = "Do it again (Enter), leave it out (l), or stop here (s)?"
    try:
        return ask_until(person, question, one_of(CHOICES), "Enter, l or s.", default="")
    except (StoppedError, KeyboardInterrupt):
        return "stop"


def _more(shared: Shared, person: Person, step: StatusStep) -> list[str]:
    """Options of the evening that the step's command takes too, and what only a person knows."""
    from calib.guide.asking import ask_until, number_of
    from calib.store.plausible import Usual

    more = ["--rig", str(shared.rig_path)]
    name = step.command.split()[1]
    if shared.port is not None and name not in ("trust", "sheet", "report"):
        more += ["--port", shared.port]
    if shared.out is not None and name != "setup":
        more += ["--out", str(shared.out)]
    if name == "signs":
        question = "Height of the plank under the raised wheel, in mm"
        height = ask_until(person, question, number_of(Usual(10.0, 500.0)), "A number such as 50.")
        more += ["--block-mm", f"{height:g}"]
    return more
