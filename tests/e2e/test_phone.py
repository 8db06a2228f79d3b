"""``--phone`` of a live command, as a program that opens the page's stream sees it."""

from __future__ import annotations

import json
import re
import socket
import subprocess
import threading
import time
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from tests.e2e.running import bench, started


class Phone:
    """Reads every frame of a running command's page, with the moment at which it came."""

    def __init__(self, running: subprocess.Popen[str]) -> None:
        """Wait for the address, and open the stream."""
        assert running.stderr is not None
        self.told = ""
        while "http://" not in self.told:
            self.told = running.stderr.readline()
        self.host, self.token = re.findall(r"http://([\d.:]+)/([\w-]+)/", self.told)[0]
        self.frames: list[tuple[float, dict[str, Any]]] = []
        self._thread = threading.Thread(target=self._read)
        self._thread.start()

    def connect(self) -> socket.socket:
        """Another connection."""
        address, _, port = self.host.partition(":")
        return socket.create_connection((address, int(port)), timeout=60)

    def seen(self) -> list[dict[str, Any]]:
        """Every page, once the stream has ended."""
        self._thread.join()
        return [frame["page"] for _, frame in self.frames]

    def _read(self) -> None:
        with self.connect() as client, client.makefile("rb") as lines:
            path = f"/{self.token}/frames"
            client.sendall(f"GET {path} HTTP/1.1\r\nHost: {self.host}\r\n\r\n".encode())
            for line in lines:
                if line.startswith(b"data: "):
                    frame = json.loads(line.removeprefix(b"data: "))
                    self.frames.append((time.monotonic(), frame))


def rest(running: subprocess.Popen[str]) -> str:
    """What the command prints, once it has ended; what it says is read away."""
    out, _ = running.communicate(timeout=90)
    return out


def test_a_travel_is_followed_to_its_verdict(tmp_path: Path) -> None:
    """Verbs, counts and values as they come, at most twenty a second; at last the two values."""
    command = ("travel", "throttle", "--yes", "--json", "--phone")
    with (
        bench(tmp_path, "--seed", "4", "--hands", "throttle", "--speed", "4"),
        started(*command, cwd=tmp_path) as running,
    ):
        phone = Phone(running)
        document = json.loads(rest(running))
        pages = phone.seen()
    assert running.returncode == 0
    assert {"press", "hold", "let go"} <= {page["verb"] for page in pages}
    assert {f"{count} of 5" for count in range(1, 6)} <= {page["count"] for page in pages}
    last = phone.frames[-1][1]
    assert last["over"]
    assert last["page"]["verb"] == document["verdict"]
    values = [document["dead_band"][end] for end in ("start", "end")]
    assert [number for _, number in last["page"]["figures"]] == [f"{each:.2f} V" for each in values]
    told = [event["text"] for event in last["told"]]
    assert told[-2:] == ["Done.", f"{document['verdict'].capitalize()}."]
    numbers = [event["number"] for _, frame in phone.frames for event in frame["told"]]
    assert set(numbers) == set(range(1, max(numbers) + 1))


def test_a_watch_is_shown_while_bad_requests_rain(tmp_path: Path) -> None:
    """Every channel, at most twenty frames a second; whatever is asked beside it is refused."""
    command = ("watch", "--for", "3", "--json", "--phone")
    refused: set[bytes] = set()
    with (
        bench(tmp_path, "--seed", "4", "--hands", "throttle"),
        started(*command, cwd=tmp_path) as running,
    ):
        phone = Phone(running)
        for request in 20 * (b"GET / HTTP/1.1\r\n\r\n", b"POST /x HTTP/1.1\r\n\r\n", b"\r\n\r\n"):
            with phone.connect() as client:
                client.sendall(request)
                refused.add(client.recv(4096))
        document = json.loads(rest(running))
        pages = phone.seen()
    assert len(refused) == 1
    assert document["verdict"] == "pass"
    assert document["gaps"] == 0
    watched = [page for page in pages if page["verb"] == "watch"]
    names = [value["name"] for value in watched[-1]["values"]]
    assert names == list(document["channels"])[: len(names)]
    times_s = [moment for moment, _ in phone.frames]
    assert len(times_s) / (times_s[-1] - times_s[0]) <= 21
    assert min(page["values"][0]["fresh"] for page in watched[5:-5])
    assert len([1 for first, then in pairwise(times_s) if then - first > 1.0]) == 0


def test_the_page_of_a_stopped_command_says_so(tmp_path: Path) -> None:
    """Ctrl-C: the last page is no verdict, and the port is closed with the command."""
    with (
        bench(tmp_path, "--seed", "4", "--hands", "throttle"),
        started("travel", "throttle", "--presses", "50", "--phone", cwd=tmp_path) as running,
    ):
        phone = Phone(running)
        while not any(frame["page"]["verb"] == "press" for _, frame in list(phone.frames)):
            time.sleep(0.05)
        running.send_signal(2)
        rest(running)
        last = phone.seen()[-1]
    assert running.returncode == 130
    assert last["state"] == "ended"
    with pytest.raises(ConnectionRefusedError):
        phone.connect()
