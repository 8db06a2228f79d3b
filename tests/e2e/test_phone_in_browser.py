"""The page for a phone in a real browser: what is seen, what is said, and what cannot happen."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

import pytest

import tests.tools
from calib.guide.events import CABLE, Audience, EventStream, Kind, LiveEvent
from calib.guide.protocols import Hold, Live, Reading, Sound, Step
from calib.show.phone.board import Board
from calib.show.phone.server import PhoneServer
from calib.show.spoken import spoken
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.travel import TravelDocument
from tests.e2e.devtools import Browser
from tests.e2e.test_report_in_browser import HOSTILE
from tests.unit.evidence import travel

LINK_LOST_S = 2.0
SIZES = [(390, 844), (844, 390), (320, 568), (1024, 768)]
THROTTLE = (Reading("throttle", 3.12, "V", low=0.98, high=4.07),)
SEVERAL = (*THROTTLE, Reading("pitch", 1.1, "deg", low=-1.0, high=4.0), Reading("rail", None, "V"))
ONE_VERB = Step("press", "all the way", 2, 5, ("full presses",), control="throttle", how="slowly")
FAILED = TravelDocument(
    verdict=Severity.FAIL,
    channel="throttle",
    presses=5,
    findings=(
        Finding(
            code="x",
            severity=Severity.FAIL,
            text="The throttle does not come back to rest: 1.31 V after letting go, 1.12 V before.",
            action="Clean and grease the grip, look at its spring, then measure again.",
        ),
    ),
)

Show = Callable[[Board], None]


def live(step: Step, readings: tuple[Reading, ...] = THROTTLE) -> Show:
    """A flow shows this."""
    return lambda board: board.look(Live(step, readings, 3120, 0, 12.0))


STATES: dict[str, Show] = {
    "press": live(ONE_VERB),
    "hold": live(Step("hold", "stay", 2, 5, control="throttle", hold=Hold(0.5, 0.8))),
    "let go": live(Step("let go", "all the way back", 3, 5, control="throttle")),
    "front up": live(Step("front up", "onto the plank", 1, 5, ("the front once more",)), SEVERAL),
    "not regen": live(Step("press", "", 2, 5, control="throttle", instead="regen")),
    CABLE: live(
        Step(CABLE, "no line for 4 s: look at plug and power; it goes on by itself", 2, 5),
        (Reading("throttle", 3.1, "V", 1.0, 4.0, age_s=4.0),),
    ),
    "turn round": lambda board: board.hear(
        LiveEvent(Kind.PROMPTED, "TURN ROUND. Then press Enter.", Step("TURN ROUND"))
    ),
    "pass": lambda board: board.read(travel()),
    "fail": lambda board: board.read(FAILED),
}
"""Each look that the page can have, by the loud words on it."""


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """One browser for all tests of this file; it may complain of links that were cut alone."""
    with Browser(tmp_path_factory.mktemp("browser")) as found:
        yield found
        assert [each for each in found.errors if "net::ERR_CONNECTION" not in each] == []


@contextmanager
def opened(browser: Browser) -> Iterator[tuple[Board, PhoneServer]]:
    """The page, open on a phone."""
    browser.size(390, 844)
    browser.prefer(color_scheme="light", reduced_motion="no-preference")
    board = Board()
    with PhoneServer(board) as server:
        browser.open(server.door.url)
        yield board, server


def loud(browser: Browser) -> str:
    """The largest words on the page."""
    return str(browser.evaluate("document.getElementById('verb').textContent")).casefold()


def wait_for(browser: Browser, words: str, longest_s: float = 10.0) -> float:
    """Wait until these are the loud words; how long that was, s."""
    loud_words = "document.getElementById('verb').textContent.toLowerCase()"
    return browser.wait_for(f"{loud_words} === {json.dumps(words)}", longest_s)


MEASURED = """
(() => {
  const box = id => document.getElementById(id).getBoundingClientRect();
  const letters = document.createRange();
  letters.selectNodeContents(document.getElementById("verb"));
  const verb = letters.getBoundingClientRect();
  const texts = [...document.querySelectorAll("p, b, li, span, div.text")];
  const sizes = texts.filter(each => each.offsetHeight > 0).map(
    each => parseFloat(getComputedStyle(each).fontSize));
  return {
    verb: [verb.left, box("verb").top, verb.right, box("verb").bottom],
    loud: ["left", "top", "right", "bottom"].map(side => box("loud")[side]),
    foot: [box("foot").top, box("foot").bottom],
    screen: [innerWidth, innerHeight],
    scrolls: [document.documentElement.scrollWidth, document.documentElement.scrollHeight],
    verbSize: parseFloat(getComputedStyle(document.getElementById("verb")).fontSize)
      * (new DOMMatrix(getComputedStyle(document.getElementById("verb")).transform)).d,
    others: Math.max(...sizes),
  };
})()
"""


@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize("words", STATES)
def test_the_verb_fills_its_place_on_every_screen(
    browser: Browser, words: str, width: int, height: int
) -> None:
    """Whole, within its place, the largest letters on the page; the caution stands below it."""
    with opened(browser) as (board, _):
        browser.size(width, height)
        STATES[words](board)
        wait_for(browser, words)
        found: dict[str, Any] = browser.evaluate(MEASURED)
    left, top, right, bottom = found["loud"]
    verb = found["verb"]
    assert left - 1 <= verb[0] < verb[2] <= right + 1
    assert top - 2 <= verb[1] < verb[3] <= bottom + 2
    assert found["verbSize"] >= found["others"]
    assert found["scrolls"] == found["screen"] == [width, height]
    assert bottom <= found["foot"][0] < found["foot"][1] <= height
    fills_width = verb[2] - verb[0] >= 0.75 * (right - left)
    fills_height = verb[3] - verb[1] >= 0.75 * (bottom - top)
    assert fills_width or fills_height


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("words", [*STATES, "no link"])
def test_the_page_is_accessible(browser: Browser, words: str, scheme: str) -> None:
    """No rule of WCAG A or AA is broken, contrast among them, in light and in dark."""
    axe = tests.tools.require_library("axe_core_python")
    assert axe.__file__ is not None
    source = (Path(axe.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
    with opened(browser) as (board, server), ExitStack() as link:
        browser.prefer(color_scheme=scheme, reduced_motion="reduce")
        STATES["press"](board)
        if words == "no link":
            link.enter_context(hanging(server))
        else:
            STATES[words](board)
        wait_for(browser, words)
        browser.evaluate(f"{source}; undefined")
        rules = '{runOnly: ["wcag2a", "wcag2aa", "wcag21aa", "best-practice"]}'
        found = browser.evaluate(
            f"axe.run(document, {rules}).then(r => ({{passes: r.passes.map(p => p.id),"
            "violations: r.violations.map(v => v.id + v.nodes.map(n => n.html).join())}))"
        )
        is_dark = browser.evaluate("matchMedia('(prefers-color-scheme: dark)').matches")
    assert is_dark is (scheme == "dark")
    assert "color-contrast" in found["passes"]
    assert found["violations"] == []


@contextmanager
def hanging(server: PhoneServer) -> Iterator[None]:
    """The link hangs: nothing comes, and nothing is closed."""
    on_again = threading.Event()
    server._loop.call_soon_threadsafe(on_again.wait)  # noqa: SLF001 (no public way to hang)
    try:
        yield
    finally:
        on_again.set()


def test_a_lost_link_is_as_large_as_the_verb_and_comes_back_by_itself(browser: Browser) -> None:
    """NO LINK within two seconds; no value of before is left; then the flow as it is now."""
    with opened(browser) as (board, server):
        STATES["press"](board)
        wait_for(browser, "press")
        with hanging(server):
            assert wait_for(browser, "no link") <= LINK_LOST_S
            assert "3.12" not in browser.evaluate("document.body.innerText")
            STATES["let go"](board)
        wait_for(browser, "let go")


def test_a_calib_that_was_killed_is_a_lost_link(browser: Browser) -> None:
    """No last page came, so nobody may take what stands there for the end."""
    board = Board()
    server = PhoneServer(board)
    with server:
        browser.open(server.door.url)
        STATES["press"](board)
        wait_for(browser, "press")
        server._loop.call_soon_threadsafe(server._socket.close)  # noqa: SLF001 (as a kill does)
        board.frame = lambda: (_ for _ in ()).throw(ConnectionError)  # type: ignore[method-assign]
        assert wait_for(browser, "no link") <= LINK_LOST_S


def test_the_result_stays_when_calib_has_gone(browser: Browser) -> None:
    """It says that it is the last page, and is no lost link two seconds later."""
    with opened(browser) as (board, _):
        STATES["pass"](board)
    wait_for(browser, "pass")
    time.sleep(LINK_LOST_S + 0.5)
    assert loud(browser) == "pass"
    assert "calib has ended" in browser.evaluate("document.body.innerText")
    assert "0.93 V" in browser.evaluate("document.body.innerText")


def test_what_is_spoken_is_what_happened(browser: Browser) -> None:
    """After one tap every event is said, in order, in our words; before it, nothing."""
    heard: list[str] = []
    with opened(browser) as (board, _):
        audience = Audience((lambda event: heard.append(spoken(event)), board.hear), (board.look,))
        stream = EventStream(audience=audience)
        stream.look(Live(Step("hand off", control="throttle")))
        wait_for(browser, "hand off")
        assert browser.evaluate("window.said") == []
        browser.tap("#sound")
        heard[:] = ["voice is on"]
        for step in (
            ONE_VERB,
            Step("hold", "", 2, 5, control="throttle", hold=Hold(0.1, 0.8)),
            Step("let go", "", 3, 5, control="throttle"),
            Step("press", "", 3, 5, control="throttle", instead="regen"),
            Step(CABLE),
            Step("press", "", 3, 5, control="throttle"),
        ):
            stream.look(Live(step))
            time.sleep(0.1)
        stream.hear(Sound.STOP)
        stream.end("Done.")
        audience.judged(travel())
        browser.wait_for(f"window.said.length >= {len(heard)}")
        assert browser.evaluate("window.said") == heard
    assert len(heard) > 9


def test_after_a_lost_link_only_the_newest_is_said(browser: Browser) -> None:
    """Nobody is told now what to do eight seconds ago."""
    with opened(browser) as (board, server):
        stream = EventStream(audience=Audience((board.hear,), (board.look,)))
        stream.look(Live(ONE_VERB))
        wait_for(browser, "press")
        browser.tap("#sound")
        with hanging(server):
            wait_for(browser, "no link")
            for verb in ("hold", "let go", "hold"):
                stream.look(Live(Step(verb, control="throttle")))
        wait_for(browser, "hold")
        browser.wait_for("window.said.length >= 3")
        assert browser.evaluate("window.said") == ["voice is on", "no link", "throttle, hold"]


def test_a_count_flashes_unless_little_motion_is_wanted(browser: Browser) -> None:
    """Bells are often muted; who is made ill by flashes is spared them."""
    for motion, flashes in (("no-preference", True), ("reduce", False)):
        with opened(browser) as (board, _):
            browser.prefer(reduced_motion=motion)
            STATES["press"](board)
            wait_for(browser, "press")
            browser.evaluate(
                "window.flashed = false; new MutationObserver(() => { window.flashed ||= "
                "document.body.classList.contains('flash'); })"
                ".observe(document.body, {attributes: true})"
            )
            board.hear(LiveEvent(Kind.COUNTED, "Counted: 3 of 5.", Step("press", "", 3, 5)))
            browser.wait_for("document.getElementById('event').textContent.startsWith('Counted')")
            assert browser.evaluate("window.flashed") is flashes


SMUGGLERS = "document.querySelectorAll('script, img, iframe, svg, link').length"


def test_hostile_texts_are_only_read(browser: Browser) -> None:
    """Names and details that try to be markup: no element more, nothing fetched, all seen."""
    with opened(browser) as (board, server):
        before = browser.evaluate(SMUGGLERS)
        for text in HOSTILE:
            step = Step("press", text, needs=(text,), control=text, how=text, instead=text)
            board.look(Live(step, (Reading(text, 1.0, "V"),)))
            board.hear(LiveEvent(Kind.ASKED, text, step))
            browser.wait_for(f"document.getElementById('event').textContent === {json.dumps(text)}")
        assert browser.evaluate("document.title") == "calib, live"
        assert "style='background:url(" in browser.evaluate("document.body.innerText")
        after = browser.evaluate(SMUGGLERS)
        fetched = browser.evaluate("performance.getEntriesByType('resource').map(e => e.name)")
        assert after == before
        assert {name.startswith(server.door.url) for name in fetched} <= {True}


SMUGGLED = """
(() => {
  const script = document.createElement("script"), image = document.createElement("div");
  script.textContent = "window.owned = 1";
  image.innerHTML = "<img src=x onerror='window.owned = 1'>";
  document.body.append(script, image);
})()
"""


def test_the_policy_runs_no_other_script(browser: Browser) -> None:
    """Were markup ever put in raw, its script would not run; without the policy it would."""
    with opened(browser):
        browser.evaluate(SMUGGLED)
        browser.wait_for("true")
        assert browser.evaluate("window.owned") is None
        assert any("Content Security Policy" in each for each in browser.errors)
    browser.call("Page.navigate", url="about:blank")
    browser.evaluate(SMUGGLED)
    assert browser.evaluate("window.owned") == 1
    browser.errors.clear()


def test_no_key_and_no_tap_changes_anything_in_calib(browser: Browser) -> None:
    """The page asks for two things, and sends nothing: its one button is its own voice."""
    with opened(browser) as (board, server):
        STATES["press"](board)
        wait_for(browser, "press")
        for place in ("#sound", "#verb", "#foot", "#sound"):
            browser.tap(place)
        browser.call("Input.dispatchKeyEvent", type="keyDown", key="Enter", text="\r")
        asked = browser.evaluate("performance.getEntriesByType('resource').map(e => e.name)")
        assert set(asked) <= {f"{server.door.url}frames"}
        assert loud(browser) == "press"
