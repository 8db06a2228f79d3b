"""A document as it was printed, held against the schema that is published for it."""

from __future__ import annotations

from functools import cache

import jsonschema

from calib.store.schemas import schema_of


@cache
def _validator(name: str) -> jsonschema.Draft202012Validator:
    return jsonschema.Draft202012Validator(schema_of(name))


def hold(document: object, name: str) -> None:
    """Hold it; that each schema is one is proven once, in ``unit/store/test_schemas.py``."""
    _validator(name).validate(document)
