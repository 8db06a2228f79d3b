"""``calib ports``: the serial ports of this computer."""

from __future__ import annotations

import sys
from typing import Annotated

import click

from calib.cli.flow import finish
from calib.cli.options import Shared, option, shared


@shared("as_json")
def command(shared: Shared, help_access: Annotated[bool, option()]) -> int:
    """List serial ports with what the system knows of them; none is opened.

    Options:
        --help-access: What to type for the right to use a port.
    """
    from calib.link.ports import group_of, known_ports
    from calib.show.ports import access_help, show_ports
    from calib.store.documents import said
    from calib.store.documents.finding import Severity
    from calib.store.documents.printed import PortEntry, PortsDocument
    from calib.store.text import neutral

    ports = known_ports()
    if help_access:
        usb = [port.path for port in ports if port.identity is not None]
        click.echo(access_help(sys.platform, ports, group_of(usb[0]) if usb else None))
        return 0
    document = PortsDocument(
        verdict=Severity.PASS if ports else Severity.UNKNOWN,
        findings=() if ports else (said.unknown("no-port"),),
        ports=tuple(
            PortEntry(
                path=port.path,
                description=port.description,
                maker=port.maker,
                usb_serial=None
                if port.identity is None or port.identity.serial is None
                else neutral(port.identity.serial, 40),
                users=port.users,
            )
            for port in ports
        ),
    )
    return finish(document, show_ports, as_json=shared.as_json)
