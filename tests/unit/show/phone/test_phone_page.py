from __future__ import annotations

import json

from calib.errors import PortError
from calib.guide.events import CABLE, Kind, LiveEvent
from calib.guide.protocols import Hold, Live, Reading, Step
from calib.show.phone.board import KEPT_EVENTS, Board
from calib.show.phone.page import Page, live_page
from calib.store.documents.display import DisplayDocument
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.sheet import VerifyDocument
from calib.store.documents.tilt import TrustDocument
from calib.store.documents.travel import DeadBand, TravelDocument
from tests.unit.evidence import travel

PRESS = Step(
    "press", "all the way", 2, 5, ("full presses",), control="throttle", how="slowly", place=(1, 3)
)  # fmt: skip


def page(step: Step = PRESS, *readings: Reading, since_s: float = 0.0) -> Page:
    """What is shown of a state."""
    return live_page(Live(step, readings, 300, 2, 3.0), since_s)


def throttle(value: float | None = 2.5, age_s: float = 0.0) -> Reading:
    """A control in the middle of its travel."""
    return Reading("throttle", value, "V", low=1.0, high=4.0, age_s=age_s)


def test_the_page_has_all_that_the_terminal_has() -> None:
    """Verb, control, count, way, place, what is needed, and what came so far."""
    shown = page()
    assert (shown.verb, shown.control, shown.count) == ("press", "throttle", "2 of 5")
    assert (shown.how, shown.place, shown.needs) == ("slowly", "step 1 of 3", ("full presses",))
    assert shown.small == "3 s, 300 samples, 2 rejected"


def test_what_is_left_of_a_hold_stands_in_place_of_the_way() -> None:
    """And the bar says it again."""
    shown = page(Step("hold", hold=Hold(0.25, 1.0)))
    assert (shown.how, shown.hold) == ("0.8 s", 0.25)


def test_a_value_has_its_place_on_the_ruler_of_its_supply() -> None:
    """0 to 5 V, with the span that was seen; an angle lies between the ends that were seen."""
    (shown,) = page(PRESS, throttle()).values
    assert (shown.text, shown.place, shown.seen) == ("2.50 V", 0.5, (0.2, 0.8))
    assert shown.ends == ("0.00 V", "5.00 V")
    (shown,) = page(PRESS, Reading("pitch", 1.0, "deg", low=-1.0, high=3.0)).values
    assert (shown.text, shown.place, shown.ends) == ("1.00°", 0.5, ("-1.00°", "3.00°"))


def test_a_dead_value_is_no_number() -> None:
    """Nothing came yet, it is old, or the flow itself has shown nothing for a while."""
    for reading, since_s in ((throttle(None), 0.0), (throttle(age_s=0.7), 0.0), (throttle(), 0.7)):
        (shown,) = page(PRESS, reading, since_s=since_s).values
        assert not shown.fresh
        assert "2.5" not in shown.text


def test_the_wrong_control_and_a_dead_line_are_alarms() -> None:
    """They look unlike any other page."""
    wrong = Step("press", control="throttle", instead="regen")
    assert [page(each).state for each in (PRESS, wrong, Step(CABLE))] == ["live", "alarm", "alarm"]


def test_texts_of_files_and_devices_are_neutral_and_short() -> None:
    """An escape sequence is shown as its letters, a flood is cut."""
    odd = "\x1b[2J\u202e" + "x" * 5000
    shown = page(
        Step(odd, odd, needs=(odd,) * 50, control=odd, how=odd, instead=odd),
        *(Reading(odd, 1.0, "V") for _ in range(500)),
    )
    sent = json.dumps([shown.verb, shown.control, shown.needs, shown.values[0].name])
    assert "\\u001b" not in sent
    assert "\u202e" not in shown.control
    assert len(shown.needs) + len(shown.values) < 20
    assert max(len(each) for each in (shown.verb, shown.detail, *shown.needs)) < 200


def frame(board: Board) -> dict[str, object]:
    """What a phone would be sent."""
    sent, _ = board.frame()
    found: dict[str, object] = json.loads(sent)
    return found


def shown(board: Board) -> dict[str, object]:
    """The page in it."""
    found = frame(board)["page"]
    assert isinstance(found, dict)
    return found


def test_the_newest_wins() -> None:
    """States between two frames are not kept; the last events are, each with its number."""
    board = Board()
    for number in range(20):
        board.look(Live(Step("press", "", number, 20)))
        board.hear(LiveEvent(Kind.COUNTED, f"{number}", Step("press", "", number, 20)))
    told = frame(board)["told"]
    assert isinstance(told, list)
    assert shown(board)["count"] == "19 of 20"
    assert [each["number"] for each in told] == list(range(21 - KEPT_EVENTS, 21))


def test_a_flow_that_stops_showing_grows_old_on_the_phone() -> None:
    """The server keeps sending, and a value of three seconds ago must not look fresh."""
    now_s = [0.0]
    board = Board(clock=lambda: now_s[0])
    board.look(Live(PRESS, (throttle(),)))
    now_s[0] = 3.0
    assert [each["fresh"] for each in shown(board)["values"]] == [False]  # type: ignore[attr-defined]


def test_a_prompt_says_what_to_do_and_where() -> None:
    """Nobody stands before the machine and waits while the laptop waits for a key."""
    board = Board()
    board.hear(LiveEvent(Kind.PROMPTED, "TURN it round. Then press Enter.", Step("TURN")))
    assert shown(board)["state"] == "keyboard"
    assert shown(board)["verb"] == "TURN"


def test_a_good_result_has_its_figures_and_its_worst_finding() -> None:
    """Verdict, the two values, and the one next action."""
    board = Board()
    board.read(travel())
    result = shown(board)
    assert (result["verb"], result["state"]) == ("pass", "result")
    assert [label for label, _ in result["figures"]] == ["drive takes up at", "full drive from"]  # type: ignore[attr-defined]


def test_every_verdict_says_what_it_is_about() -> None:
    """Also that of a comparison with the display or of the gate, which have no large figure."""
    board = Board()
    documents = (
        (VerifyDocument(verdict=Severity.PASS, channel="grip"), "grip: what the controller shows"),
        (DisplayDocument(verdict=Severity.PASS), "what only the display shows"),
        (TrustDocument(verdict=Severity.FAIL), "trust in a tilt-based aid"),
    )
    for document, about in documents:
        board.read(document)
        assert shown(board)["control"] == about


def test_no_figure_stands_under_a_verdict_that_nobody_may_build_upon() -> None:
    """Under fail and unknown the cause stands there and what to do."""
    for verdict in (Severity.FAIL, Severity.UNKNOWN):
        finding = Finding(code="x", severity=verdict, text="It sticks.", action="Clean it.")
        board = Board()
        band = DeadBand(start=1.0, end=4.0, dead_travel_pct=5.0)
        board.read(
            TravelDocument(verdict=verdict, channel="grip", findings=(finding,), dead_band=band)
        )
        result = shown(board)
        assert (result["verb"], result["figures"]) == (verdict.value, [])
        assert result["state"] == "alarm"
        assert (result["detail"], result["needs"]) == ("It sticks.", ["Clean it."])


def test_a_command_that_could_not_work_says_why() -> None:
    """The port has gone: what was seen, and what to do."""
    board = Board()
    board.fail(PortError("The port has gone.", "Plug it in."))
    assert (shown(board)["verb"], shown(board)["needs"]) == ("stopped", ["Plug it in."])


def test_the_last_frame_says_that_it_is_the_last() -> None:
    """So that a result stays on a phone whose calib has gone, and is no lost link."""
    board = Board()
    assert frame(board)["over"] is False
    board.close()
    assert frame(board)["over"] is True
