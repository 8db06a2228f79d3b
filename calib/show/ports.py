"""The page of ``calib ports``."""

from __future__ import annotations

from calib.show.console import Screen, Text
from calib.show.page import finding_lines, headline, print_lines
from calib.store.documents.ports import PortEntry, PortsDocument


def show_ports(document: PortsDocument, console: Screen) -> None:
    """Each port with what the system knows of it, and who has it open."""
    count = len(document.ports)
    lines = [headline("serial ports", f"{count} found"), Text()]
    for port in document.ports:
        lines.extend(_port_lines(port))
    print_lines(console, [*lines, *finding_lines(document.findings)])


def _port_lines(port: PortEntry) -> list[Text]:
    about = ", ".join(part for part in (port.description, port.maker) if part)
    lines = [Text(f"  {port.path}", style="bold", no_wrap=True)]
    lines += [Text(f"      {about}", no_wrap=True)] if about else []
    lines += [Text(f"      serial number {port.usb_serial}")] if port.usb_serial else []
    lines += [Text(f"      in use by {user}") for user in port.users]
    return lines
