"""Which earlier check a new one is compared with."""

from __future__ import annotations

from collections.abc import Sequence

from calib.store.documents.check import CheckDocument
from calib.store.records import Record


def is_whole_check(record: Record) -> bool:
    """Whether a record holds a check of the inputs, and not of wires pulled on purpose."""
    return isinstance(record.document, CheckDocument) and record.document.is_bench_check


def check_to_compare(records: Sequence[Record], named: Record | None) -> Record | None:
    """The record that was named, else the last good check that still counts; None without one.

    A check that failed is never compared with: a fault on record would make the same fault pass.

    Args:
        records: All records, oldest first.
        named: The one that the person named.
    """
    if named is not None:
        return named
    for record in reversed(records):
        if record.superseded is None and is_whole_check(record) and record.document.verdict.is_good:
            return record
    return None
