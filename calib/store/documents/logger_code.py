"""The document of ``calib logger-code``: which files were written, and what such a logger sends."""

from __future__ import annotations

from calib.store.documents.finding import Document


class LoggerCodeDocument(Document, frozen=True, kw_only=True, tag="calib.logger-code/1"):
    """Source for a bare logger board, as written.

    Attributes:
        board: ``c`` or ``micropython``.
        files: The files written.
        columns: Names in the header line that the board will send.
        rate_hz: Lines a second.
        baud: Bits a second; None over USB, which has no such rate.
        checksum: Whether each line ends in ``*hh``.
    """

    board: str
    files: tuple[str, ...]
    columns: tuple[str, ...]
    rate_hz: int
    baud: int | None
    checksum: bool
