"""The JSON Schema of every document, from the structs that write them."""

from __future__ import annotations

from typing import Any, get_args

import msgspec

from calib.errors import UsageError
from calib.store.documents.finding import Document, ErrorDocument
from calib.store.documents.history import HistoryDocument
from calib.store.documents.kinds import AnyDocument
from calib.store.documents.printed import (
    DemoDocument,
    LoggerCodeDocument,
    PortsDocument,
    ReportDocument,
    StatusDocument,
    WatchDocument,
)
from calib.store.documents.setup import SetupDocument
from calib.store.documents.sheet import SheetDocument
from calib.store.records import Record
from calib.store.text import neutral

DIALECT = "https://json-schema.org/draft/2020-12/schema"


Kind = type[Document] | type[ErrorDocument]


def _name(kind: Kind) -> str:
    """``calib.travel/1`` is the document of ``travel``."""
    return str(kind.__struct_config__.tag).removeprefix("calib.").partition("/")[0]


_PRINTED: tuple[Kind, ...] = (
    *get_args(AnyDocument),
    DemoDocument,
    HistoryDocument,
    LoggerCodeDocument,
    PortsDocument,
    ReportDocument,
    SetupDocument,
    SheetDocument,
    StatusDocument,
    WatchDocument,
    ErrorDocument,
)

KINDS: dict[str, Kind] = {_name(kind): kind for kind in _PRINTED}
"""Documents by name: what ``--json`` prints."""

NAMES = (*sorted(KINDS), "record-file")

LISTS = ("findings", "limits")
"""Published lists, which are printed like a schema and are none."""


def schema_of(name: str) -> dict[str, Any]:
    """The JSON Schema of a document; ``record-file`` is the envelope that files in records/ have.

    Raises:
        UsageError: There is no such document; the hint lists those that there are.
    """
    kind = Record if name == "record-file" else KINDS.get(name)
    if kind is None:
        raise UsageError(
            f"There is no document named {neutral(name)!r}.",
            f"There are: {', '.join((*NAMES, *LISTS))}.",
        )
    schema = msgspec.json.schema(kind)
    for part in schema["$defs"].values():
        if "properties" in part:  # a missing figure is null, never absent
            part["required"] = list(part["properties"])
    return {"$schema": DIALECT, "title": f"calib {name}", **schema}
