"""The document of ``calib ports``: the serial ports of this computer."""

from __future__ import annotations

import msgspec

from calib.store.documents.finding import Document


class PortEntry(msgspec.Struct, frozen=True, kw_only=True):
    """One serial port; texts of a device are neutral.

    Attributes:
        path: Its name, for ``--port``.
        description: What the system calls it.
        maker: Who made it, by its own word.
        usb_serial: USB serial number; None where there is none.
        users: Programs that have it open.
    """

    path: str
    description: str
    maker: str
    usb_serial: str | None
    users: tuple[str, ...]


class PortsDocument(Document, frozen=True, kw_only=True, tag="calib.ports/1"):
    """Every serial port that the system lists.

    Attributes:
        ports: USB devices first.
    """

    ports: tuple[PortEntry, ...]
