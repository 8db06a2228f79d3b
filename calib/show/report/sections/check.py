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
    """Channel by channel: verdict, figures before and after, findings; or the wires pulled."""
    about_all = [each for each in document.findings if each.channel not in document.channels]
    of_channels = [
        [element("h4", name), findings_list(channel.findings)]
        for name, channel in document.channels.items()
        if channel.findings
    ]
    blind = [element("li", sentence) for sentence in document.cannot_see]
    return section_of(
        record,
        _title(document),
        _pulled(document) if document.pulled else _compared(context, document),
        findings_list(about_all),
        of_channels,
        [element("p", "This logger cannot see:"), element("ul", blind)] if blind else None,
        findings=False,
    )


def _title(document: CheckDocument) -> str:
    if document.pulled:
        return f"Wires pulled on purpose: {', '.join(document.channels)}"
    return "Quick bench check" if document.quick else "Bench check"


def _pulled(document: CheckDocument) -> Markup:
    rows = [
        (
            each.wire,
            f"{each.low:.3f} to {each.high:.3f} V",
            each.basis,
            "never" if each.settle_s is None else f"{each.settle_s:.2f} s",
            f"{each.inside} of {each.samples}",
        )
        for each in document.pulled
    ]
    return table(("wire pulled", "reads", "whose reading", "settled", "inside the travel"), rows)


def _compared(context: Context, document: CheckDocument) -> Markup:
    before = _earlier(context, document.compared_with)
    against = "There was no earlier record to compare with."
    if document.compared_with is not None:
        against = f"Compared with record {document.compared_with}."
    rows = [
        row
        for name, channel in document.channels.items()
        for row in _rows(name, channel, before.get(name))
    ]
    return element(
        "div",
        element("p", against, class_="made"),
        table(("input", "verdict", "figure", "before", "now"), rows),
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
    verdict: Markup | str = verdict_badge(channel.verdict)
    if not now:
        yield name, verdict, "no figure", NOTHING, NOTHING
    for number, (figure, value) in enumerate(now.items()):
        yield name, "" if number else verdict, figure, then.get(figure, NOTHING), value


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
