"""A headless browser for tests, and a server that notes whether anything is fetched."""

from __future__ import annotations

import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

from tests.tools import require_program

PATIENCE_S = 90


def browse(page: Path, home: Path, *options: str) -> str:
    """The page's document after it was loaded, as the browser holds it.

    Args:
        page: The HTML file.
        home: Where the browser may keep its own files.
        options: More options of the browser.
    """
    done = subprocess.run(
        [
            require_program("chromium"),
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-component-update",
            f"--user-data-dir={home / 'browser'}",
            "--virtual-time-budget=4000",
            *options,
            "--dump-dom",
            page.as_uri(),
        ],
        check=True,
        capture_output=True,
        timeout=PATIENCE_S,
    )
    return done.stdout.decode("utf-8")


@contextmanager
def listener() -> Iterator[tuple[str, list[str]]]:
    """The address of a server on this machine, and the paths that were asked of it so far."""
    asked: list[str] = []

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            """Note the path."""
            asked.append(self.path)
            self.send_response(204)
            self.end_headers()

        def log_message(self, format: str, *args: object) -> None:
            """Say nothing."""

    server = HTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}", asked
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
