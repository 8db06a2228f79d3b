"""Which earlier check a new one is compared with."""

from __future__ import annotations

from calib.checks.file.standing import Evidence
from calib.store.documents.check import CheckDocument
from calib.store.records import Record


def check_to_compare(evidence: Evidence, named: Record | None) -> Record | None:
    """The record that was named, else the last good check that still counts; None without one.

    A check that failed is never compared with: a fault on record would make the same fault pass.

    Args:
        evidence: What is on file.
        named: The one that the person named.
    """
    if named is not None:
        return named
    found = evidence.comparable(CheckDocument, about=lambda check: check.is_bench_check)
    return None if found is None else found[0]
