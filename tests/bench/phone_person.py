"""Persons who read nothing but the phone's page: the whole travel, in a real browser.

Run it with ``python -m tests.bench.phone_person --persons 50``. Each has a bench of its own on a
pseudo-terminal, ``calib travel throttle --phone`` in a process of its own, and the page open in
headless Chromium at 390 by 844. What stands on the page is read off it as text, twenty times a
second, and :class:`tests.habits.HabitualPerson` does that and nothing else, in real time.
The bar, that all of them end right, is from the request for this benchmark.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import re
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from calib.guide.protocols import Live, Step
from calib.mule.bench import Bench, draw_bench
from calib.mule.device import Device
from calib.mule.presence import announced
from calib.mule.rigfile import rig_text
from calib.mule.stage import Stage
from tests.bench import ledger
from tests.bench.obedient import KINDS, logged_V
from tests.e2e.devtools import Browser
from tests.e2e.running import started
from tests.habits import HabitualPerson

PRESSES: Final = 5
TRAVEL: Final = ("travel", "throttle", "--presses", f"{PRESSES}", "--phone", "--json", "--yes")
LOOK_S: Final = 0.05
LONGEST_S: Final = 180.0
GOOD: Final = ("pass", "caution")

READ = """
(() => {
  const text = id => document.getElementById(id).innerText.toLowerCase().replace(/\\s+/g, " ");
  return {
    state: document.body.dataset.state, verb: text("verb"), control: text("control"),
    count: text("count"), how: text("how"), all: document.body.innerText,
  };
})()
"""
"""What an eye finds on the page: the words, where they stand, and which look the page has."""


@dataclass(frozen=True, slots=True)
class Ended:
    """How one person's travel ended.

    Attributes:
        verdict: Of the document; how the command ended where there is none.
        right: Whether the dead band lies inside the bench's rest and full travel.
        shown: Whether the page ended with the verdict and the two values.
        presses: How often this person pressed.
        took_s: How long it took, s.
        text: What was on the page at the end.
    """

    verdict: str
    right: bool
    shown: bool
    presses: int
    took_s: float
    text: str

    @property
    def good(self) -> bool:
        """Whether it ended as it should."""
        return self.verdict in GOOD and self.right and self.shown


def step_on(page: dict[str, str]) -> Step | None:
    """What the page asks for; None where it asks for nothing."""
    if page["state"] not in ("live", "alarm"):
        return None
    verb, control, instead = page["verb"], page["control"], ""
    if verb.startswith("not "):
        instead = verb.removeprefix("not ")
        control, _, verb = control.partition(": ")
    counted = re.fullmatch(r"(\d+) of (\d+)", page["count"])
    done, wanted = (int(each) for each in counted.groups()) if counted else (0, None)
    return Step(verb, "", done, wanted, control=control, how=page["how"], instead=instead)


def address_of(running: subprocess.Popen[str]) -> str:
    """The page's address, once it is printed.

    Raises:
        RuntimeError: The command ended without it.
    """
    assert running.stderr is not None
    for line in running.stderr:
        if found := re.search(r"http://\S+", line):
            return found.group()
    message = "no address was printed"
    raise RuntimeError(message)


def work(seed: int) -> Ended:
    """One person at one bench, in a process of its own."""
    bench = draw_bench(seed, KINDS[seed % len(KINDS)])
    device = Device(Stage(bench, seed), seed=seed)
    with tempfile.TemporaryDirectory() as name, Browser(Path(name)) as browser:
        folder = Path(name)
        (folder / "rig.toml").write_text(rig_text(bench, device.path), encoding="utf-8")
        browser.size(390, 844)
        device.start()
        try:
            with announced(device.path), started(*TRAVEL, cwd=folder) as running:
                return _travel(bench, HabitualPerson(device, seed=seed), browser, running)
        finally:
            device.stop()


def _travel(
    bench: Bench, person: HabitualPerson, browser: Browser, running: subprocess.Popen[str]
) -> Ended:
    browser.open(address_of(running))
    began_s = time.monotonic()
    page: dict[str, str] = {}
    while running.poll() is None and time.monotonic() - began_s < LONGEST_S:
        page = browser.evaluate(READ)
        step = step_on(page)
        if step is not None:
            person.show(Live(step))
        time.sleep(LOOK_S)
    took_s = time.monotonic() - began_s
    page = browser.evaluate(READ)
    presses = person.pushed.get("throttle", 0)
    if running.poll() is None:
        return Ended("never ended", True, False, presses, took_s, page["all"])
    assert running.stdout is not None
    document: dict[str, Any] = json.loads(running.stdout.read())
    verdict, band = document.get("verdict", document.get("what", "")), document.get("dead_band")
    if verdict not in GOOD or band is None:
        return Ended(verdict, True, False, presses, took_s, page["all"])
    rest_V, full_V = (logged_V(bench, "throttle", share) for share in (0.0, 1.0))
    span_V = full_V - rest_V
    right = (band["start"] - rest_V) / span_V > 0.0 and (full_V - band["end"]) / span_V > 0.0
    values = (f"{band['start']:.2f} V", f"{band['end']:.2f} V")
    shown = page["verb"] == verdict and all(value in page["all"] for value in values)
    return Ended(verdict, right, shown, presses, took_s, page["all"])


def main() -> int:
    """Run, print, keep."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--persons", type=int, default=50)
    parser.add_argument("--processes", type=int, default=2)
    given = parser.parse_args()
    with multiprocessing.Pool(given.processes, maxtasksperchild=1) as pool:
        ends = pool.map(work, range(given.persons), chunksize=1)
    for seed, ended in enumerate(ends):
        if not ended.good:
            sys.stderr.write(f"  person {seed}: {ended}\n")
    good = sum(ended.good for ended in ends)
    met = good == given.persons
    verdicts = ", ".join(
        f"{name} {count}" for name, count in Counter(e.verdict for e in ends).items()
    )
    presses = Counter(ended.presses for ended in ends)
    slowest_s = max(ended.took_s for ended in ends)
    body = (
        f"{given.persons} persons at benches of their own read only the phone's page, in headless "
        f"Chromium at 390 by 844, and did what it says: {good} ended with pass or caution, a dead "
        f"band inside the bench's rest and full travel, and verdict and both values on the page "
        f"(bar {given.persons}: {'met' if met else 'missed'}).\n\n"
        f"Verdicts: {verdicts}. Presses a person: "
        f"{', '.join(f'{n} of them {count} times' for n, count in sorted(presses.items()))}. "
        f"Slowest: {slowest_s:.0f} s."
    )
    title = "People who read only the phone"
    return ledger.publish("phone_person", title, body, f"--persons {given.persons}", met=met)


if __name__ == "__main__":
    raise SystemExit(main())
