from __future__ import annotations

import json
import math
from pathlib import Path

import jsonschema
import msgspec
import pytest

from calib.checks.sheet import make_sheet
from calib.checks.status import status_of
from calib.errors import UsageError
from calib.store.documents.finding import ErrorDocument
from calib.store.schemas import NAMES, schema_of
from tests.schemas import hold
from tests.unit.evidence import bench, travel


def validate(document: msgspec.Struct, name: str) -> None:
    """Hold a document as printed against its schema."""
    hold(json.loads(msgspec.json.encode(document)), name)


@pytest.mark.parametrize("name", NAMES)
def test_every_schema_is_a_valid_schema(name: str) -> None:
    """A schema that its own dialect refuses helps nobody."""
    jsonschema.Draft202012Validator.check_schema(schema_of(name))


def test_documents_as_printed_hold_to_their_schemas(tmp_path: Path) -> None:
    """Travel, sheet, status, error and a record file validate."""
    here = bench(tmp_path)
    record = here.keep(travel(), "grip")
    validate(travel(), "travel")
    validate(make_sheet(here.filed), "sheet")
    validate(status_of(here.filed), "status")
    validate(ErrorDocument(what="x", hint="y", exit_code=2), "error")
    validate(record, "record-file")


def test_a_missing_key_is_refused() -> None:
    """A missing figure is null, never absent, and the schema says so."""
    printed = json.loads(msgspec.json.encode(travel()))
    del printed["dead_band"]
    with pytest.raises(jsonschema.ValidationError, match="dead_band"):
        hold(printed, "travel")


def test_a_number_that_is_none_is_never_printed() -> None:
    """NaN and infinity become null on the way out."""
    assert b"NaN" not in msgspec.json.encode({"u": math.nan, "dof": math.inf})


def test_an_unknown_name_lists_the_known_ones() -> None:
    """The error names what there is."""
    with pytest.raises(UsageError, match="travel"):
        schema_of("no such")
