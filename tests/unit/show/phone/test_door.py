from __future__ import annotations

import base64
import secrets

import pytest

from calib.show.phone.server import Door, Granted

DOOR = Door("192.168.1.20:4711", "t0kenOfTwentyTwoChars-")


def head(
    target: str = f"/{DOOR.token}/",
    method: str = "GET",
    hosts: tuple[str, ...] = (DOOR.host,),
    version: str = "HTTP/1.1",
) -> bytes:
    """The head of a request, as a browser sends it."""
    lines = [f"{method} {target} {version}", *(f"Host: {host}" for host in hosts), "Accept: */*"]
    return "\r\n".join([*lines, "", ""]).encode("latin-1")


def test_who_has_the_address_is_let_in() -> None:
    """The page and its frames, whole or their heads alone."""
    frames = f"/{DOOR.token}/frames"
    assert DOOR.let_in(head()) is Granted.PAGE
    assert DOOR.let_in(head(frames)) is Granted.FRAMES
    assert DOOR.let_in(head(method="HEAD")) is Granted.PAGE_HEAD
    assert DOOR.let_in(head(frames, method="HEAD")) is Granted.FRAMES_HEAD


@pytest.mark.parametrize(
    "target",
    [
        "/", "", "//", "/frames", "/favicon.ico", "/wrong/", "/wrong/frames", f"/{DOOR.token}",
        f"/{DOOR.token}/x", f"/{DOOR.token}//", f"/{DOOR.token}/../", f"/{DOOR.token}/frames/",
        f"/{DOOR.token[:-1]}/", f"/{DOOR.token}x/", f"/{DOOR.token.upper()}/", f"//{DOOR.token}/",
        f"/x/{DOOR.token}/", f"/{DOOR.token}/?x", f"/{DOOR.token}/%2e%2e/etc/passwd",
        f"http://{DOOR.host}/{DOOR.token}/", "/\xff\xfe/", "*",
    ],
)  # fmt: skip
def test_a_wrong_or_missing_token_and_every_other_path_are_refused(target: str) -> None:
    """There is one page and one stream; there are no folders and no files to ask for."""
    assert DOOR.let_in(head(target)) is None


@pytest.mark.parametrize(
    "method", ["POST", "PUT", "DELETE", "OPTIONS", "CONNECT", "TRACE", "PATCH", "get", "", "GET\t"]
)
def test_any_method_but_get_and_head_is_refused(method: str) -> None:
    """The page shows: there is nothing to be sent to it."""
    assert DOOR.let_in(head(method=method)) is None


@pytest.mark.parametrize(
    "hosts",
    [
        (), ("evil.example",), ("evil.example:4711",), ("192.168.1.20",), ("192.168.1.20:80",),
        ("localhost:4711",), (f"{DOOR.host}.evil.example",), (DOOR.host, "evil.example"),
        (DOOR.host, DOOR.host), ("",), ("\xff",),
    ],
)  # fmt: skip
def test_another_host_is_refused(hosts: tuple[str, ...]) -> None:
    """A name that was rebound to this address sends its own name; two names are a trick."""
    assert DOOR.let_in(head(hosts=hosts)) is None


@pytest.mark.parametrize("version", ["HTTP/0.9", "HTTP/2", "", "HTTP/1.1 x", "http/1.1"])
def test_another_protocol_is_refused(version: str) -> None:
    """Neither older nor newer, nor three words more."""
    assert DOOR.let_in(head(version=version)) is None


@pytest.mark.parametrize("noise", [b"", b"\r\n\r\n", b"\x00" * 4000, b"\x16\x03\x01\x02\r\n\r\n"])
def test_noise_is_refused(noise: bytes) -> None:
    """What is no request at all breaks nothing."""
    assert DOOR.let_in(noise) is None


def test_a_token_has_128_bits_and_is_another_each_time() -> None:
    """As long as its letters say, and drawn from the system's own source."""
    tokens = {Door("h").token for _ in range(100)}
    assert len(tokens) == 100
    assert {len(base64.urlsafe_b64decode(token + "==")) for token in tokens} == {16}


def test_tokens_are_compared_in_constant_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """By the comparison that is made for it, for every request that comes."""
    compared: list[bytes] = []

    def compare(given: bytes, own: bytes) -> bool:
        compared.append(given)
        return given == own

    monkeypatch.setattr(secrets, "compare_digest", compare)
    for request in (head(), head("/wrong/"), head(method="POST"), head(hosts=("evil.example",))):
        DOOR.let_in(request)
    ours = f"/{DOOR.token}/".encode()
    lines = [b"GET " + ours, b"GET /wrong/", b"POST " + ours, b"GET " + ours]
    assert compared == [line for line in lines for _ in Granted]
