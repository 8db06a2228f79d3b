from __future__ import annotations

import json
import re
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager

import pytest

from calib.guide.protocols import Live, Step
from calib.show.phone import server as serving
from calib.show.phone.board import Board
from calib.show.phone.server import MOST_ASKING, MOST_VIEWERS, REFUSAL, PhoneServer, page_answer

PATIENCE_S = 10.0


@contextmanager
def served() -> Iterator[tuple[PhoneServer, Board]]:
    """A server on this machine, and what it shows."""
    board = Board()
    with PhoneServer(board) as server:
        yield server, board


def connect(server: PhoneServer) -> socket.socket:
    """A client."""
    host, _, port = server.door.host.partition(":")
    return socket.create_connection((host, int(port)), timeout=PATIENCE_S)


def asking(server: PhoneServer, name: str = "", method: str = "GET", token: str = "") -> bytes:
    """A request."""
    path = f"/{token or server.door.token}/{name}"
    return f"{method} {path} HTTP/1.1\r\nHost: {server.door.host}\r\n\r\n".encode()


def answer(server: PhoneServer, request: bytes) -> bytes:
    """All that is answered to a request before the connection is closed."""
    with connect(server) as client:
        client.sendall(request)
        return rest(client)


def rest(client: socket.socket) -> bytes:
    """All that comes until the other end closes."""
    parts = []
    try:
        while part := client.recv(65536):
            parts.append(part)
    except ConnectionResetError:
        pass
    return b"".join(parts)


class Viewer:
    """A phone that reads one frame after the other."""

    def __init__(self, server: PhoneServer) -> None:
        """Open the stream."""
        self.client = connect(server)
        self.client.sendall(asking(server, "frames"))
        self._lines = self.client.makefile("rb")

    def frame(self) -> dict[str, object]:
        """The next frame; empty where the stream has ended."""
        for line in self._lines:
            if line.startswith(b"data: "):
                found: dict[str, object] = json.loads(line.removeprefix(b"data: "))
                return found
        return {}

    def page(self) -> dict[str, object]:
        """The page of the next frame."""
        found = self.frame()["page"]
        assert isinstance(found, dict)
        return found

    def close(self) -> None:
        """Leave."""
        self._lines.close()
        self.client.close()


def once_let_in(server: PhoneServer) -> str:
    """The verb that a viewer sees who comes again until there is a place."""
    verb, deadline_s = "full", time.monotonic() + PATIENCE_S
    while verb == "full" and time.monotonic() < deadline_s:
        with closing(Viewer(server)) as viewer:
            verb = str(viewer.page()["verb"])
    return verb


def test_the_page_comes_with_its_policy() -> None:
    """Its own script and style by their hashes, nothing from elsewhere, nothing kept."""
    with served() as (server, _):
        head, _, body = answer(server, asking(server)).decode().partition("\r\n\r\n")
    lines = dict(line.split(": ", 1) for line in head.splitlines()[1:])
    policy = lines["Content-Security-Policy"]
    assert head.startswith("HTTP/1.1 200 ")
    assert policy.startswith("default-src 'none'; script-src 'sha256-")
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert lines["Referrer-Policy"] == "no-referrer"
    assert lines["X-Content-Type-Options"] == "nosniff"
    assert lines["Cache-Control"] == "no-store"
    assert int(lines["Content-Length"]) == len(body.encode())
    assert "Server" not in lines


def test_the_page_is_one_file_that_fetches_nothing_and_steers_nothing() -> None:
    """No address in it, no form, no field, nothing that would take a text for markup."""
    _, body = page_answer()
    text = body.decode()
    assert not re.findall(r"(?:https?:)?//(?=\w)|@import|url\(", text)
    assert not re.findall(r"innerHTML|outerHTML|insertAdjacent|document\.write|eval\(", text)
    assert not re.findall(r"<(?:form|input|a|iframe|img)\b|fetch\(|XMLHttp|sendBeacon", text)
    assert not re.findall(r"\son\w+=|\sstyle=", text)
    assert len(re.findall(r"<button", text)) == 1


def test_the_head_alone_has_no_body() -> None:
    """Of the page as of its stream."""
    with served() as (server, _):
        for name in ("", "frames"):
            sent = answer(server, asking(server, name, "HEAD"))
            assert sent.startswith(b"HTTP/1.1 200 ")
            assert sent.endswith(b"\r\n\r\n")
            assert sent.count(b"\r\n\r\n") == 1


def test_everything_else_is_refused_in_the_same_words() -> None:
    """Nobody learns from a refusal what was right: the bytes are the same, and nothing hints."""
    with served() as (server, _):
        good = asking(server)
        refused = [
            asking(server, token="wrong"),
            asking(server, "rig.toml"),
            asking(server, "../../etc/passwd"),
            asking(server, method="POST"),
            asking(server, "frames", method="DELETE"),
            good.replace(server.door.host.encode(), b"evil.example"),
            good.replace(b"HTTP/1.1", b"HTTP/0.9"),
            b"\r\n\r\n",
        ]
        assert {answer(server, each) for each in refused} == {REFUSAL}
    assert b"404" in REFUSAL
    assert REFUSAL.endswith(b"Content-Length: 0\r\n" + serving.COMMON.encode() + b"\r\n")


def test_a_head_that_does_not_end_is_cut_off() -> None:
    """No more than four thousand bytes are ever read of a request."""
    with served() as (server, _), connect(server) as client:
        flood = (b"X-Long: " + b"x" * 1000 + b"\r\n") * 10_000
        with pytest.raises(OSError, match=r"reset|pipe"):
            client.sendall(flood)


def test_a_slow_client_is_let_go(monkeypatch: pytest.MonkeyPatch) -> None:
    """One that never ends its request holds nothing, and a phone is served beside fifty of them."""
    monkeypatch.setattr(serving, "ASK_S", 0.5)
    with served() as (server, _):
        slow = [connect(server) for _ in range(50)]
        for client in slow:
            client.sendall(b"GET / HTTP/1.1\r\n")
        assert answer(server, asking(server)).startswith(b"HTTP/1.1 200 ")
        assert [rest(client) for client in slow] == [b""] * 50
        for client in slow:
            client.close()


def test_of_many_that_do_not_ask_the_oldest_is_let_go(monkeypatch: pytest.MonkeyPatch) -> None:
    """However patient the server were: a phone is served, and files can still be opened."""
    monkeypatch.setattr(serving, "ASK_S", 1000.0)
    with served() as (server, _):
        slow = [connect(server) for _ in range(3 * MOST_ASKING)]
        assert answer(server, asking(server)).startswith(b"HTTP/1.1 200 ")
        assert {rest(client) for client in slow[: 2 * MOST_ASKING]} == {b""}
        slow[-1].sendall(asking(server))
        assert rest(slow[-1]).startswith(b"HTTP/1.1 200 ")
        for client in slow:
            client.close()


def test_a_viewer_that_takes_nothing_gives_up_its_place(monkeypatch: pytest.MonkeyPatch) -> None:
    """A phone that sleeps without a word: its place is free once the system holds enough for it."""
    monkeypatch.setattr(serving, "STALLED_S", 0.3)
    monkeypatch.setattr(serving, "LEAST_S", 0.0)
    with served() as (server, board):
        host, _, port = server.door.host.partition(":")
        asleep = []
        for _ in range(MOST_VIEWERS):
            client = socket.socket()
            client.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
            client.connect((host, int(port)))
            client.sendall(asking(server, "frames"))
            asleep.append(client)
        feeding, stop = threading.Event(), threading.Event()

        def feed() -> None:
            while not stop.wait(0.001):
                board.look(Live(Step("press", "x" * 150)))
                feeding.set()

        feeder = threading.Thread(target=feed)
        feeder.start()
        assert feeding.wait(PATIENCE_S)
        verb = once_let_in(server)
        stop.set()
        feeder.join()
        for client in asleep:
            client.close()
    assert verb == "press"


def test_four_may_look_on_and_a_fifth_is_told_so() -> None:
    """It is told that the page is full, and let in as soon as one of the four has left."""
    with served() as (server, board):
        board.look(Live(Step("press")))
        four = [Viewer(server) for _ in range(MOST_VIEWERS)]
        assert [each.page()["verb"] for each in four] == ["press"] * MOST_VIEWERS
        with closing(Viewer(server)) as fifth:
            assert fifth.page()["verb"] == "full"
            assert fifth.frame() == {}
        four.pop().close()
        assert once_let_in(server) == "press"
        for each in four:
            each.close()


def test_who_comes_late_sees_what_is_now() -> None:
    """The newest state and the last events, and then whatever follows."""
    with served() as (server, board):
        board.look(Live(Step("press")))
        board.look(Live(Step("hold")))
        with closing(Viewer(server)) as late:
            assert late.page()["verb"] == "hold"
            board.look(Live(Step("let go")))
            assert "let go" in [late.page()["verb"] for _ in range(3)]


def test_between_two_frames_nothing_but_the_newest_is_kept(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A flow may show itself as often as it likes: the next frame comes no sooner for it."""
    monkeypatch.setattr(serving, "LEAST_S", 1.0)
    with served() as (server, board), closing(Viewer(server)) as viewer:
        viewer.frame()
        for count in range(1, 101):
            board.look(Live(Step("press", "", count, 100)))
            time.sleep(0.001)
        assert viewer.page()["count"] == "100 of 100"


def test_a_page_that_nothing_happens_on_is_sent_again() -> None:
    """So that a phone knows that its link is alive while the flow waits for a key."""
    with served() as (server, _), closing(Viewer(server)) as viewer:
        assert [viewer.page()["verb"] for _ in range(3)] == ["wait"] * 3


def test_the_last_page_is_sent_before_the_server_goes() -> None:
    """The result is on the phone; then nothing answers at that address any more."""
    board = Board()
    with PhoneServer(board) as server:
        viewer = Viewer(server)
        viewer.frame()
        board.look(Live(Step("hold")))
    frames = [viewer.frame()]
    while frames[-1]:
        frames.append(viewer.frame())
    viewer.close()
    assert frames[-2]["over"] is True
    assert frames[-2]["page"]["verb"] == "hold"  # type: ignore[index]
    with pytest.raises(ConnectionRefusedError):
        connect(server)


def test_a_port_that_is_in_use_is_told() -> None:
    """As an error of the system, before anything else is begun."""
    with served() as (server, _):
        port = int(server.door.host.rpartition(":")[2])
        with pytest.raises(OSError, match="in use"):
            PhoneServer(Board(), port=port)
