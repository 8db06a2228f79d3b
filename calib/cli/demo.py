"""``calib demo``: the whole job on the simulated bench, by the commands that a person types."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, nullcontext, redirect_stdout
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import click

from calib.cli.flow import now, print_document
from calib.cli.options import FOLDER, AsJson, as_command, option
from calib.errors import BrokenOffError, UsageError

if TYPE_CHECKING:
    from calib.mule.device import Device
    from calib.mule.faults import Planted
    from calib.mule.job import Task
    from calib.store.documents.printed import DemoStep
    from calib.store.records import Record

SEED = 5
LONGEST_ASKED = 62  # characters, so that it fits a line of 80


@as_command("--fault ground-lost")
def command(
    out: Annotated[Path, option("DIR", kind=FOLDER, default=Path("calib-demo"))],
    fault: Annotated[str | None, option("KIND[:1-5]")],
    as_json: AsJson,
    yes: Annotated[bool, option()],  # noqa: ARG001
) -> int:
    """Run the whole job unattended on the simulated bench. No machine is needed.

    It runs the commands that you would type, over a real pseudo-terminal (a socket on Windows),
    and simulated hands do what they ask for. The bench's clock runs fast.

    Options:
        --out: Folder for rig file, captures, records and pages.
        --fault: Give the bench a fault, and see it caught.
        --yes: It asks nothing anyway.
    """
    from calib.mule.bench import draw_bench, with_wheel
    from calib.mule.device import Device
    from calib.mule.faults import parse
    from calib.mule.job import tasks
    from calib.mule.presence import announced
    from calib.mule.rigfile import rig_text
    from calib.mule.stage import Stage
    from calib.store.documents.finding import Severity
    from calib.store.documents.printed import DemoDocument
    from calib.store.records import load_records

    planted = None if fault is None else parse(fault)
    began = now()
    bench = with_wheel(draw_bench(SEED), "pulses")
    device = Device(Stage(bench))
    with redirect_stdout(sys.stderr) if as_json else nullcontext():
        try:
            rig = _write_rig(out, rig_text(bench, device.path))
            device.start()
            with announced(device.path):
                steps = tuple(_run(task, device, rig) for task in tasks(planted))
        finally:
            device.stop()
        made = [record for record in load_records(out) if record.judged >= began]
        _tell_in_short(made)
        click.echo(f"\nEverything is in {out}: the rig file, captures, records and pages.")
        surprises = [step for step in steps if not step.as_expected]
        for step in surprises:
            click.echo(f"calib: demo: 'calib {step.command}' did not end as it should.", err=True)
        found = None if planted is None else _tell_what_was_found(planted, made)
    good = found is not False and not surprises
    if as_json:
        verdict = Severity.PASS if good else Severity.FAIL
        print_document(
            DemoDocument(verdict=verdict, folder=str(out), steps=steps, fault=fault, found=found)
        )
    return 0 if good else 1


def _tell_in_short(made: Sequence[Record]) -> None:
    """Say what came of each command, one line each."""
    click.echo("\nThe evening in short")
    for record in made:
        if record.command != "note":
            pulled = record.command == "check" and record.channel is not None
            parts = (record.command, "--unplug" if pulled else None, record.channel)
            about = " ".join(dict.fromkeys(part for part in parts if part is not None))
            click.echo(f"  {record.document.verdict.value.upper():9}{about}")


def _tell_what_was_found(fault: Planted, made: Sequence[Record]) -> bool:
    """Say what the records say of a fault; whether they say anything.

    A caution counts where it is the check's; elsewhere it may be about how the hands worked.
    """
    from calib.mule.faults import KINDS
    from calib.store.documents.check import CheckDocument
    from calib.store.documents.finding import Severity

    sound = next((r for r in made if isinstance(r.document, CheckDocument)), None)
    told = [
        finding
        for record in made
        if record is not sound
        for finding in record.document.findings
        if finding.severity in (Severity.FAIL, Severity.UNKNOWN)
        or (finding.severity is Severity.CAUTION and isinstance(record.document, CheckDocument))
    ]
    about = f"{fault.kind}:{fault.severity} on {fault.target} ({KINDS[fault.kind].about})"
    if not told:
        click.echo(f"The fault {about} was NOT found.", err=True)
        return False
    click.echo(f"The fault was {about}. The first that was said of it:\n  {told[0].text}")
    return True


def _write_rig(out: Path, text: str) -> Path:
    """Write the demo's rig file; a folder with somebody's own is left alone."""
    from calib.mule.rigfile import OURS
    from calib.store.files import refused_as

    rig = out / "rig.toml"
    hint = "Name another folder with --out."
    with refused_as(UsageError, f"{out} cannot be used", hint):
        out.mkdir(parents=True, exist_ok=True)
        if rig.exists() and not rig.read_text(encoding="utf-8").startswith(OURS):
            raise UsageError(f"{rig} is not the demo's: it was left alone.", hint)
        rig.write_text(text, encoding="utf-8")
    return rig


def _run(task: Task, device: Device, rig: Path) -> DemoStep:
    """Run one command as a person would, with the simulated person's hands."""
    from calib.cli import cli
    from calib.mule.person import BRISK, ObedientPerson
    from calib.mule.stage import Stage
    from calib.store.documents.printed import DemoStep

    device.speed = task.speed
    device.act(Stage.hands_off)
    if task.before is not None:
        device.act(task.before)
    person = ObedientPerson(
        device, BRISK, ready=task.ready, answers=task.answers, tell=_tell_asked, looks=device.seen
    )
    person.step_back()
    click.echo(f"\n$ calib {task.text}")
    arguments = [*task.arguments, "--rig", str(rig)]
    try:
        with _stdout_into(rig.parent, task.page):
            code = cli.main(arguments, prog_name="calib", standalone_mode=False, obj=person)
    except BrokenOffError as error:  # a dead control answers nobody; the evening goes on
        click.echo(f"calib: {error.what} {error.hint}", err=True)
        code = error.exit_code
    return DemoStep(command=task.text, exit_code=code, as_expected=code in task.ends)


def _tell_asked(text: str) -> None:
    """Show what the simulated person was asked to do."""
    short = text if len(text) <= LONGEST_ASKED else f"{text[:LONGEST_ASKED]} ..."
    click.echo(f"    asked: {short}", err=True)


@contextmanager
def _stdout_into(out: Path, page: str | None) -> Iterator[None]:
    """Send what the command prints into a page of the demo's folder, where one is named."""
    if page is None:
        yield
        return
    path = out / page
    with path.open("w", encoding="utf-8") as file, redirect_stdout(file):
        yield
    click.echo(f"  written to {path}")
