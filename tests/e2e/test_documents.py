from __future__ import annotations

import json

from calib.store.schemas import KINDS
from tests.e2e.conftest import Ran
from tests.schemas import hold


def test_every_record_of_the_demo_holds_to_the_published_schemas(plain: Ran) -> None:
    """Each file in records/ against the record file's schema, its document against its own."""
    seen = set()
    for path in sorted((plain.out / "records").glob("*.json")):
        record = json.loads(path.read_text(encoding="utf-8"))
        hold(record, "record-file")
        name = record["document"]["schema"].removeprefix("calib.").partition("/")[0]
        assert name in KINDS
        hold(record["document"], name)
        seen.add(name)
    assert seen >= {"travel", "level", "signs", "surge", "still", "poses", "trust"}
