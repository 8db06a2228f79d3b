from __future__ import annotations

from collections.abc import Iterator

import pytest

from calib.errors import StoppedError
from calib.guide.protocols import Live, Person, Reading, Sound, Step
from calib.mule.bench import draw_bench
from calib.mule.device import Device
from calib.mule.person import SimulatedPerson, press_shown
from calib.mule.stage import Stage

PRESS = Live(Step("press", wanted=5), readings=(Reading("regen", 1.0, "V"),))


@pytest.fixture
def stage() -> Stage:
    """A bench at rest."""
    return Stage(draw_bench(1))


@pytest.fixture
def device(stage: Stage) -> Iterator[Device]:
    """A running device at fifty times real time."""
    device = Device(stage, speed=50.0)
    device.start()
    yield device
    device.stop()


def test_press_is_done_on_the_control_that_is_shown(stage: Stage, device: Device) -> None:
    """The verb makes the hands work the channel on the screen, once at a time."""
    person: Person = SimulatedPerson(device, reactions={"press": press_shown})
    for _ in range(5):
        person.show(PRESS)
    person.wait_until_ready("go on")
    assert not stage.controls["regen"].constant
    assert stage.controls["throttle"].constant
    assert 2.0 < stage.cursor_s < 20.0


def test_other_verbs_leave_the_hands_off(stage: Stage, device: Device) -> None:
    """A verb without a reaction moves nothing."""
    person = SimulatedPerson(device, reactions={"press": press_shown})
    person.show(Live(Step("hold still")))
    assert stage.cursor_s == 0.0


def test_ready_prompt_is_done_before_it_returns(stage: Stage, device: Device) -> None:
    """Turning end for end is over when the person says so."""
    person = SimulatedPerson(device, ready={"turn": lambda s: s.stand_again(turned=True)})
    person.wait_until_ready("Turn it end for end.")
    assert stage.heading_deg.last == 180.0
    assert device.hands_free


def test_answers_come_from_what_was_told_then_from_the_default(device: Device) -> None:
    """A question without answer and default stops the flow with the question named."""
    person = SimulatedPerson(device, answers={"wheelbase": "1230"})
    assert person.answer("Wheelbase in mm?") == "1230"
    assert person.answer("Name?", default="mule") == "mule"
    with pytest.raises(StoppedError, match="no answer to 'Colour"):
        person.answer("Colour?")


def test_each_new_request_is_told_once(device: Device) -> None:
    """Who looks on hears of a request when it changes, not five times a second."""
    told: list[str] = []
    person = SimulatedPerson(device, tell=told.append)
    for live in (PRESS, PRESS, Live(Step("release", done=1, wanted=5)), Live(Step("wait"))):
        person.show(live)
    assert told == ["press 0/5", "release 1/5", "wait"]


def test_sounds_are_heard(device: Device) -> None:
    """The person keeps what the bell said."""
    person = SimulatedPerson(device)
    person.sound(Sound.DONE)
    assert person.heard == [Sound.DONE]
