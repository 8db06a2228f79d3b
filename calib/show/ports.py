"""The page of ``calib ports``, and how a user of this computer gets the right to a port."""

from __future__ import annotations

from collections.abc import Sequence

from calib.book import packaged
from calib.link.ports import Port
from calib.show.console import Screen, Text
from calib.show.page import finding_lines, headline
from calib.store.documents.printed import PortEntry, PortsDocument

USUAL_GROUP = "dialout"  # Debian's, Fedora's and their descendants'; Arch and openSUSE differ

_RULE = (
    'SUBSYSTEM=="tty", ATTRS{{idVendor}}=="{vendor:04x}", ATTRS{{idProduct}}=="{product:04x}", '
    'GROUP="{group}", MODE="0660", ENV{{ID_MM_PORT_IGNORE}}="1"'
)
_NO_RULE = "# plug the logger in and ask again: the rule needs its two ids"


def show_ports(document: PortsDocument, console: Screen) -> None:
    """Each port with what the system knows of it, and who has it open."""
    console.print(
        headline("serial ports", f"{len(document.ports)} found"),
        Text(),
        *(line for port in document.ports for line in _port_lines(port)),
        *finding_lines(document.findings),
    )


def _port_lines(port: PortEntry) -> list[Text]:
    about = ", ".join(part for part in (port.description, port.maker) if part)
    serial = f"serial number {port.usb_serial}" if port.usb_serial else ""
    rows = (about, serial, *(f"in use by {user}" for user in port.users))
    return [Text(f"  {port.path}", style="bold"), *(Text(f"      {row}") for row in rows if row)]


def access_help(system: str, ports: Sequence[Port], group: str | None) -> str:
    """What to type so that a logger's port can be opened and stays alone with calib, for a shell.

    Args:
        system: As ``sys.platform`` has it.
        ports: What is plugged in; a rule is made for each USB device.
        group: The group that owns such a port; the usual one when None.

    Source: the manual pages usermod(8) and udev(7); the mark for a modem manager from its own
    documentation, ID_MM_PORT_IGNORE.
    """
    name = {"win32": "windows", "darwin": "macos"}.get(system, "linux")
    group = group or USUAL_GROUP
    found = (port.identity for port in ports if port.identity is not None)
    devices = dict.fromkeys((each.vendor, each.product) for each in found)
    rules = [_RULE.format(vendor=v, product=p, group=group) for v, p in devices]
    text = packaged("access", f"{name}.txt").rstrip()
    return text.format(group=group, rules="\n".join(rules or [_NO_RULE]))
