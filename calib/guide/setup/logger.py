"""Which logger it is: a second one in the same folder is told."""

from __future__ import annotations

from calib.guide.setup.draft import Proposed
from calib.store.documents import said
from calib.store.documents.finding import Finding
from calib.store.documents.setup import Origin
from calib.store.text import counted


def usb_proposal(identity: str) -> Proposed:
    """By what a logger is known again, whatever its port is called.

    Args:
        identity: Vendor, product and serial number, neutral.
    """
    return Proposed(("link",), "usb", identity, Origin.FOUND, "the logger is known again by it")


def another_logger(identity: str, truings: int) -> Finding:
    """The rig file was made for another logger.

    Args:
        identity: The one that is there now.
        truings: How many channels' truings were taken out of the file: they are the other one's.
    """
    gone = f" {counted(truings, 'truing')} made with that one went out of it." if truings else ""
    return said.caution("another-logger", identity=identity, gone=gone)
