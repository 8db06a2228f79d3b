"""The bench check: every input now, beside what the earlier record held."""

from __future__ import annotations

from collections.abc import Iterator

from calib.show.report.context import Context
from calib.show.report.markup import Markup, element, table
from calib.show.report.parts import findings_list, section_of, verdict_badge
from calib.store.documents.check import ChannelCheck, CheckDocument, CheckFigures
from calib.store.records import Record

NOTHING = "–"


def section(context: Context, record: Record, document: CheckDocument) -> Markup:
    """Channel by channel: verdict, figures before and after, findings."""
    before = _earlier(context, document.compared_with)
    against = "There was no earlier record to compare with."
    if document.compared_with is not None:
        against = f"Compared with record {document.compared_with}."
    blind = [element("li", sentence) for sentence in document.cannot_see]
    return section_of(
        record,
        "Quick bench check" if document.quick else "Bench check",
        element("p", against, class_="made"),
        table(
            ("input", "verdict", "figure", "before", "now"),
            [
                row
                for name, channel in document.channels.items()
                for row in _rows(name, channel, before.get(name))
            ],
        ),
        [
            [element("h4", name), findings_list(channel.findings)]
            for name, channel in document.channels.items()
            if channel.findings
        ],
        element("div", element("p", "This logger cannot see:"), element("ul", blind))
        if blind
        else None,
    )


def _earlier(context: Context, record_id: str | None) -> dict[str, CheckFigures | None]:
    """The figures of the check that it was compared with; empty where it is not one."""
    for record in context.evidence.records:
        if record.id == record_id and isinstance(record.document, CheckDocument):
            return {name: each.figures for name, each in record.document.channels.items()}
    return {}


def _rows(
    name: str, channel: ChannelCheck, before: CheckFigures | None
) -> Iterator[tuple[Markup | str, ...]]:
    now = {} if channel.figures is None else _values(channel.figures)
    then = {} if before is None else _values(before)
    first: tuple[Markup | str, Markup | str] = (name, verdict_badge(channel.verdict))
    if not now:
        yield (*first, "no figure", NOTHING, NOTHING)
    for number, (figure, value) in enumerate(now.items()):
        yield (*(first if number == 0 else ("", "")), figure, then.get(figure, NOTHING), value)


def _values(figures: CheckFigures) -> dict[str, str]:
    """What is known of a channel, by name, with unit."""
    rest, full = figures.rest, figures.full
    known = (
        ("rest", None if rest is None else rest.mean, figures.unit),
        ("full travel", None if full is None else full.mean, figures.unit),
        ("slowest return", figures.return_s, "s"),
        ("noise", figures.noise, figures.unit),
        ("supply", figures.supply_V, "V"),
        ("temperature", figures.degC, "degC"),
    )
    return {name: f"{value:.3f} {unit}" for name, value, unit in known if value is not None}
