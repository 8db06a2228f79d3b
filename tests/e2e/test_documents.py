from __future__ import annotations

import json

import jsonschema

from calib.store.schemas import KINDS, schema_of
from tests.e2e.conftest import Ran


def test_every_record_of_the_demo_holds_to_the_published_schemas(plain: Ran) -> None:
    """Each file in records/ against the record file's schema, its document against its own."""
    seen = set()
    for path in sorted((plain.out / "records").glob("*.json")):
        record = json.loads(path.read_text(encoding="utf-8"))
        jsonschema.validate(record, schema_of("record-file"))
        name = record["document"]["schema"].removeprefix("calib.").partition("/")[0]
        assert name in KINDS
        jsonschema.validate(record["document"], schema_of(name))
        seen.add(name)
    assert seen >= {"travel", "level", "signs", "surge", "still", "poses", "trust"}
