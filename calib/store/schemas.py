"""The JSON Schema of every document, from the structs that write them."""

from __future__ import annotations

from typing import Any, get_args

import msgspec

from calib.errors import UsageError
from calib.store.documents.finding import Document, ErrorDocument
from calib.store.documents.kinds import AnyDocument
from calib.store.documents.printed import AnyPrinted
from calib.store.documents.sheet import SheetDocument
from calib.store.records import Record
from calib.store.text import neutral

DIALECT = "https://json-schema.org/draft/2020-12/schema"

Kind = type[Document] | type[ErrorDocument]

KINDS: dict[str, Kind] = {
    str(kind.__struct_config__.tag).removeprefix("calib.").partition("/")[0]: kind
    for kind in (*get_args(AnyDocument), *get_args(AnyPrinted), SheetDocument, ErrorDocument)
}
"""What ``--json`` prints, by name: ``calib.travel/1`` is the document of ``travel``."""

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
        raise UsageError.of("no-document", name=neutral(name), names=", ".join((*NAMES, *LISTS)))
    schema = msgspec.json.schema(kind)
    for part in schema["$defs"].values():
        if "properties" in part:  # a missing figure is null, never absent
            part["required"] = list(part["properties"])
    return {"$schema": DIALECT, "title": f"calib {name}", **schema}
