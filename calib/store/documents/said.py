"""Findings in the words of ``calib/data/findings.txt``: what judges gives figures, never sentences.

An entry is named by its finding's code, or by the code and what tells its wordings apart
(``clips/travel``). A word in braces is the figure of that name, or a part of it (``pulled.low``),
as ``str.format`` writes it; with an ``m`` before the format in thousandths; with a ``|`` in place
of a format it is a count and its noun, one and many.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from string import Formatter
from typing import Any, Final

from calib.book import entries
from calib.store.documents.codes import BOOK
from calib.store.documents.finding import Finding, Severity
from calib.store.text import counted


class _Words(Formatter):
    """Fills in figures, thousandths, counts with their nouns."""

    def format_field(self, value: Any, format_spec: str) -> str:
        """One figure as the words have it."""
        if "|" in format_spec:
            return counted(int(value), *format_spec.split("|"))
        if format_spec.startswith("m"):
            return self.format_field(1000.0 * value, format_spec[1:])
        return str(super().format_field(value, format_spec))


Findings = Iterator[Finding]
"""What whoever judges has to say."""

_WORDS: Final = _Words()


def finding(
    severity: Severity,
    entry: str,
    value: float | None = None,
    limit: float | None = None,
    *,
    unit: str | None = None,
    channel: str | None = None,
    **figures: object,
) -> Finding:
    """A finding in its words.

    Args:
        severity: How bad it is.
        entry: Its entry in the table.
        value: The figure that was found; the words may name it, as they may ``limit`` and
            ``channel`` and ``unit``.
        limit: The figure it was held against.
        unit: The unit of both, where the entry does not give it.
        channel: The channel it is about.
        figures: What else the words name.
    """
    fields = entries(BOOK)[entry]
    stated = fields.get("unit") if unit is None else unit
    named = {"value": value, "limit": limit, "channel": channel, "unit": stated, **figures}
    return Finding(
        code=entry.partition("/")[0],
        severity=severity,
        text=_WORDS.vformat(fields["text"], (), named),
        value=value,
        limit=limit,
        unit=stated,
        action=_WORDS.vformat(fields.get("action", ""), (), named),
        channel=channel,
    )


def above(
    entry: str, value: float | None, limit: float, bad: Severity = Severity.CAUTION, **named: Any
) -> Findings:
    """A finding where a figure is above its limit; none where it is not, or nobody knows it."""
    if value is not None and value > limit:
        yield finding(bad, entry, value, limit, **named)


def below(
    entry: str, value: float | None, limit: float, bad: Severity = Severity.CAUTION, **named: Any
) -> Findings:
    """The same of a figure below its limit."""
    if value is not None and value < limit:
        yield finding(bad, entry, value, limit, **named)


def within(
    good: str, far: str, value: float, limit: float, bad: Severity = Severity.CAUTION, **named: Any
) -> Finding:
    """A pass where a figure, either way, is within its limit; else the other entry.

    Args:
        good: The entry of a pass.
        far: The entry of all else.
        value: The figure that was found.
        limit: The figure it is held against.
        bad: How bad all else is.
        named: What else the words of both name, and ``unit`` and ``channel``.
    """
    passed = abs(value) <= limit
    severity, entry = (Severity.PASS, good) if passed else (bad, far)
    return finding(severity, entry, value, limit, **named)


passes = partial(finding, Severity.PASS)
caution = partial(finding, Severity.CAUTION)
unknown = partial(finding, Severity.UNKNOWN)
fail = partial(finding, Severity.FAIL)
