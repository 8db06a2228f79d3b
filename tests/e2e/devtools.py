"""A headless browser that is told what to do, over its own pipe: no library is needed for it.

Source: the Chrome DevTools Protocol; with --remote-debugging-pipe its messages are JSON ended by a
zero byte, read from file 3 and written to file 4.
"""

from __future__ import annotations

import base64
import json
import os
import select
import subprocess
import time
from pathlib import Path
from typing import Any, Self

from tests.tools import require_program

PATIENCE_S = 30.0

STUB = """
window.said = [];
Object.defineProperty(window, "speechSynthesis", {value: {
  pending: false, cancel() {}, speak(line) { window.said.push(line.text); },
}});
"""
"""In place of the browser's voice: keeps what it was given to say."""


class Browser:
    """Chromium with one page; a context manager."""

    def __init__(self, home: Path, *, stubs_voice: bool = True) -> None:
        """Start it; ``home`` is where it may keep its own files."""
        told, self._to = os.pipe()
        self._from, answered = os.pipe()
        chromium = (
            f"exec {require_program('chromium')} --headless --no-sandbox --disable-gpu "
            "--no-first-run --disable-component-update --disable-background-networking "
            f"--remote-debugging-pipe "
            f"--user-data-dir='{home / 'browser'}' about:blank 3<&{told} 4>&{answered}"
        )
        self._process = subprocess.Popen(
            ["bash", "-c", chromium], pass_fds=(told, answered), stderr=subprocess.DEVNULL
        )
        os.close(told)
        os.close(answered)
        self._number = 0
        self._rest = b""
        self.errors: list[str] = []
        self._session: str | None = None
        targets = self.call("Target.getTargets")["targetInfos"]
        target = next(each["targetId"] for each in targets if each["type"] == "page")
        attached = self.call("Target.attachToTarget", targetId=target, flatten=True)
        self._session = attached["sessionId"]
        self.call("Page.enable")
        self.call("Log.enable")
        self.call("Runtime.enable")
        if stubs_voice:
            self.call("Page.addScriptToEvaluateOnNewDocument", source=STUB)

    def __enter__(self) -> Self:
        """The browser."""
        return self

    def __exit__(self, *_: object) -> None:
        """End it."""
        os.close(self._to)
        try:
            self._process.wait(PATIENCE_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        os.close(self._from)

    def call(self, method: str, **given: object) -> dict[str, Any]:
        """Have it do something; its answer."""
        self._number += 1
        message: dict[str, object] = {"id": self._number, "method": method, "params": given}
        if self._session is not None:
            message["sessionId"] = self._session
        os.write(self._to, json.dumps(message).encode() + b"\0")
        deadline_s = time.monotonic() + PATIENCE_S
        while time.monotonic() < deadline_s:
            answer = self._message(deadline_s)
            if answer.get("id") == self._number:
                if "error" in answer:
                    raise RuntimeError(answer["error"])
                found: dict[str, Any] = answer["result"]
                return found
            self._note(answer)
        message_text = f"{method} was not answered"
        raise TimeoutError(message_text)

    def open(self, url: str) -> None:
        """Go to a page, and wait until it shows something that came."""
        self.call("Page.navigate", url=url)
        self.wait_for("document.readyState === 'complete' && 'state' in document.body.dataset")

    def evaluate(self, expression: str) -> Any:
        """The value of an expression in the page."""
        done = self.call(
            "Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True
        )
        if "exceptionDetails" in done:
            raise RuntimeError(done["exceptionDetails"])
        return done["result"].get("value")

    def wait_for(self, expression: str, longest_s: float = PATIENCE_S) -> float:
        """Wait until an expression holds; how long that was, s."""
        began_s = time.monotonic()
        while time.monotonic() - began_s < longest_s:
            if self.evaluate(expression):
                return time.monotonic() - began_s
            time.sleep(0.02)
        message = f"never came: {expression}\n{self.evaluate('document.body.innerText')}"
        raise TimeoutError(message)

    def size(self, width: int, height: int) -> None:
        """Have the screen of a phone."""
        self.call(
            "Emulation.setDeviceMetricsOverride",
            width=width, height=height, deviceScaleFactor=1, mobile=True,
        )  # fmt: skip

    def prefer(self, **features: str) -> None:
        """Prefer dark or light, much motion or little."""
        named = [
            {"name": f"prefers-{k.replace('_', '-')}", "value": v} for k, v in features.items()
        ]
        self.call("Emulation.setEmulatedMedia", features=named)

    def tap(self, selector: str) -> None:
        """Tap on the middle of an element, as a finger does."""
        box = self.evaluate(
            f"(b => [b.x + b.width / 2, b.y + b.height / 2])"
            f"(document.querySelector({json.dumps(selector)}).getBoundingClientRect())"
        )
        for kind in ("mousePressed", "mouseReleased"):
            self.call(
                "Input.dispatchMouseEvent", type=kind, x=box[0], y=box[1], button="left",
                clickCount=1,
            )  # fmt: skip

    def picture(self, path: Path) -> None:
        """Keep what is on the screen."""
        path.write_bytes(base64.b64decode(self.call("Page.captureScreenshot")["data"]))

    def _message(self, deadline_s: float) -> dict[str, Any]:
        while b"\0" not in self._rest:
            left_s = max(0.0, deadline_s - time.monotonic())
            if not select.select([self._from], [], [], left_s)[0]:
                message = "the browser says nothing"
                raise TimeoutError(message)
            part = os.read(self._from, 1 << 20)
            if not part:
                message = "the browser has gone"
                raise ConnectionError(message)
            self._rest += part
        first, self._rest = self._rest.split(b"\0", 1)
        found: dict[str, Any] = json.loads(first)
        return found

    def _note(self, event: dict[str, Any]) -> None:
        """Keep what the page's console complains of."""
        if event.get("method") == "Log.entryAdded" and event["params"]["entry"]["level"] == "error":
            self.errors.append(event["params"]["entry"]["text"])
        elif event.get("method") == "Runtime.exceptionThrown":
            self.errors.append(json.dumps(event["params"]["exceptionDetails"]))
