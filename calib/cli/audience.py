"""Who is told besides the terminal: a phone, a voice. They last as long as the command."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING, Final

import click

from calib.cli import NETWORK
from calib.errors import CalibError

if TYPE_CHECKING:
    from calib.cli.options import Shared
    from calib.guide.events import Audience, Listener
    from calib.show.phone.board import Board

ELSEWHERE: Final = ("192.0.2.1", 9)
"""An address that nobody has (RFC 5737). Nothing is sent there: the system only says by which of
its own addresses it would go."""

WITHOUT: Final = "The flow goes on without the phone."

_AUDIENCE: ContextVar[Audience | None] = ContextVar("audience", default=None)


def audience() -> Audience | None:
    """Who is told besides, of this command and of those that it starts."""
    return _AUDIENCE.get()


@contextmanager
def gathered(shared: Shared) -> Iterator[None]:
    """Have the voice and the phone that were asked for, while the block runs.

    Raises:
        StoppedError: Whether to serve the network was asked, and no answer came.
    """
    from calib.guide.events import Audience

    with ExitStack() as stack:
        voices = _voices(stack) if shared.speak else ()
        boards = _boards(shared, stack) if shared.phone else ()
        heard = (*voices, *(board.hear for board in boards))
        looks = tuple(board.look for board in boards)
        reads = tuple(board.read for board in boards)
        token = _AUDIENCE.set(Audience(heard, looks, reads))
        try:
            yield
        except CalibError as error:
            for board in boards:
                board.fail(error)
            raise
        finally:
            _AUDIENCE.reset(token)


def _voices(stack: ExitStack) -> tuple[Listener, ...]:
    """The laptop's voice; a word where it has none."""
    from calib.show.voice import PROGRAMS, Voice, speech_command

    command = speech_command()
    if command is None:
        click.echo(f"No speech program is here ({', '.join(PROGRAMS)}): bells only.", err=True)
        return ()
    return (stack.enter_context(Voice(command)),)


def _boards(shared: Shared, stack: ExitStack) -> tuple[Board, ...]:
    """What is served to the phone; a word where it cannot be, or is not wanted."""
    from calib.show.phone.board import Board
    from calib.show.phone.server import HERE, PhoneServer

    on_network = shared.phone == NETWORK
    board = Board()
    try:
        server = PhoneServer(board, _own_address() if on_network else HERE)
    except OSError as error:
        click.echo(f"No page for a phone: {error.strerror or error}. {WITHOUT}", err=True)
        return ()
    stack.callback(server.close)
    click.echo(f"Live page: {server.door.url}", err=True)
    if on_network:
        _show_code(shared, server.door.url)
        if not _is_wanted(shared):
            server.close()
            click.echo(f"Nothing is served. {WITHOUT}", err=True)
            return ()
    stack.enter_context(server)
    return (board,)


def _own_address() -> str:
    """This machine's address on the network to which it would send.

    Raises:
        OSError: It is on none.
    """
    import socket

    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        asking.connect(ELSEWHERE)
        return str(asking.getsockname()[0])


def _show_code(shared: Shared, url: str) -> None:
    """The address for a phone's camera: light on dark, whatever colours the terminal has."""
    import io

    import segno

    if shared.plain or not sys.stderr.isatty():
        return
    drawn = io.StringIO()
    segno.make_qr(url, error="l").terminal(drawn, compact=True)
    for row in drawn.getvalue().splitlines():
        click.secho(f"  {row}", fg="bright_white", bg="black", err=True)


def _is_wanted(shared: Shared) -> bool:
    """Whether the network may see the page; ``--yes`` says so.

    Raises:
        StoppedError: No answer came.
    """
    from calib.guide.asking import ask_until, one_of
    from calib.show.person import TerminalPerson

    if shared.yes:
        return True
    answers = one_of({"y": True, "yes": True, "n": False, "no": False})
    question = "Whoever is on this network and has this address sees the page. Serve it (y or n)?"
    person = TerminalPerson(plain=shared.plain)
    return ask_until(person, question, answers, "Type y or n.")
