"""``calib evening``: the open steps in their order, each done, done again, or left out."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import click
import pytest

from calib.cli import cli, evening
from calib.cli.options import Shared
from calib.cli.session import person_at
from calib.errors import BrokenOffError, StoppedError
from calib.store.documents.finding import Severity
from calib.store.documents.printed import StatusDocument, StatusStep
from tests.hands import NotingPerson


class Work:
    """Two open steps, and how each run of their commands ends."""

    def __init__(self, *ends: int | BaseException) -> None:
        """End so, one run after the other."""
        self.ends = list(ends)
        self.done: set[str] = set()
        self.never_done: set[str] = set()
        self.ran: list[str] = []

    def status(self, shared: object) -> StatusDocument:
        """What is open."""
        del shared
        steps = tuple(
            StatusStep(
                name=name,
                state="done" if name in self.done - self.never_done else "to do",
                text="",
                command=f"calib {name}",
            )
            for name in ("check", "level")
        )
        return StatusDocument(verdict=Severity.UNKNOWN, steps=steps)

    def run(self, arguments: list[str], **more: object) -> int:
        """One run of a command."""
        del more
        self.ran.append(arguments[0])
        end = self.ends.pop(0)
        if isinstance(end, BaseException):
            raise end
        if end == 0:
            self.done.add(arguments[0])
        return end


Go = Callable[..., int]


@pytest.fixture
def go(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Go:
    """An evening with that work and that person; its exit code."""
    command = evening.command

    def run(work: Work, person: NotingPerson, *options: str) -> int:
        monkeypatch.setattr("calib.cli.status.status_document", work.status)
        monkeypatch.setattr(cli, "main", work.run)
        arguments = ["--rig", str(tmp_path / "rig.toml"), *options]
        code = command.main(arguments, standalone_mode=False, obj=person)
        assert isinstance(code, int)
        return code

    return run


def test_the_open_steps_are_gone_through_in_their_order(go: Go) -> None:
    """Nothing is asked between two steps that end well."""
    work, person = Work(0, 0), NotingPerson()
    assert go(work, person) == 0
    assert work.ran == ["check", "level"]
    assert person.prompts == []


def test_what_did_not_end_well_is_done_again_or_left_out(go: Go) -> None:
    """Enter does it again, l leaves it out; what is left out makes the evening end with 1."""
    work = Work(1, BrokenOffError("Broken off: nobody.", "Again."), 0)
    assert go(work, NotingPerson(answers=("", "l"))) == 1
    assert work.ran == ["check", "check", "level"]


def test_where_nobody_is_asked_what_did_not_end_well_is_left_out(go: Go) -> None:
    """With --yes a port that is not there would else be tried for ever."""
    work, person = Work(1, 0), NotingPerson()
    assert go(work, person, "--yes") == 1
    assert work.ran == ["check", "level"]
    assert person.prompts == []


@pytest.mark.parametrize("end", [130, StoppedError("Stopped.", "Again."), click.Abort()])
def test_who_stops_a_step_where_nobody_is_asked_stops_the_evening(
    go: Go, end: int | BaseException
) -> None:
    """Else the next step would begin under hands that have left."""
    work = Work(end)
    assert go(work, NotingPerson(), "--yes") == 130
    assert work.ran == ["check"]


def test_what_ends_well_and_is_still_open_is_not_begun_again(go: Go) -> None:
    """Whether or not a step before it was left out: the evening ends, and says what is open."""
    work = Work(1, 0)
    work.never_done = {"level"}
    assert go(work, NotingPerson(answers=("l",))) == 1
    assert work.ran == ["check", "level"]


def test_ctrl_c_comes_back_to_the_same_place(go: Go) -> None:
    """Stopped in a step and told to stop: exit 130, and the step is open the next time."""
    work = Work(0, 130)
    assert go(work, NotingPerson(answers=("s",))) == 130
    again = Work(0)
    again.done = work.done
    assert go(again, NotingPerson()) == 0
    assert again.ran == ["level"]


def test_each_step_leaves_its_page_before_its_result_is_shown() -> None:
    """Else the card would be drawn on a screen that is given back, and nobody would read it."""
    person = NotingPerson()
    with (
        click.Context(click.Command("evening"), obj=person),
        person_at(Shared(Path("rig.toml"))) as given,
    ):
        assert given is person
        assert person.pages_left == 0
    assert person.pages_left == 1
