"""Every input of the logger: the bench check, its scale against a meter, and a bare capture."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import zip_longest

from calib.show.console import Text
from calib.show.page import STYLES, list_lines
from calib.show.view import Figure, Table, View, expanded, known, number, spread_text, tables
from calib.store.documents.check import ChannelCheck, CheckDocument, CheckFigures, CheckLevel
from calib.store.documents.finding import Severity
from calib.store.documents.meter import MeterDocument
from calib.store.documents.record import RecordDocument
from calib.store.text import counted, neutral

NAME_CHARS = 12
FIGURE_CHARS = 50
NOTHING = "–"


def check_view(
    document: CheckDocument, before: Mapping[str, CheckFigures | None] | None = None
) -> View:
    """What is shown of a check.

    Args:
        document: The check.
        before: The figures of the check that it was compared with, by channel; None to leave the
            table of figures out.
    """
    names = ", ".join(document.channels)
    channels = [_channel_line(name, channel) for name, channel in document.channels.items()]
    if document.pulled:
        about, against = f"wires of {names} pulled on purpose", ""
        title, readings = f"Wires pulled on purpose: {names}", _pulled(document)
    else:
        earlier, condition = document.compared_with, document.condition
        against = "nothing to compare with" if earlier is None else f"against {earlier}"
        kind = "quick bench check" if document.quick else "bench check"
        about = "quick check" if document.quick else kind
        about = about if condition is None else f"{about}, {condition}"
        title = f"{kind.capitalize()}, {against}"
        readings = () if before is None else (_compared(document, before),)
    return View(
        document,
        about=about,
        right=against,
        title=title,
        tables=readings,
        told=tuple(each for each in document.findings if each.severity is not Severity.PASS),
        picture=(*channels, Text()),
        more=list_lines("WHAT THIS LOGGER CANNOT SEE", document.cannot_see),
    )


def _channel_line(name: str, channel: ChannelCheck) -> Text:
    """Its verdict, its name, and what is odd about it in two words, else its figures."""
    return Text.assemble(
        "  ",
        (f"{channel.verdict.value.upper():<8}", STYLES[channel.verdict]),
        (f" {neutral(name, NAME_CHARS):<{NAME_CHARS + 1}}", "bold"),
        _summary(channel)[:FIGURE_CHARS],
    )


def _summary(channel: ChannelCheck) -> str:
    odd = [each.code for each in channel.findings if each.severity is not Severity.PASS]
    if odd:
        return ", ".join(code.replace("-", " ") for code in odd[:2])
    figures = channel.figures
    if figures is None:
        return "every pulled wire reads outside the travel" if channel.findings else ""
    if channel.role == "switch":
        return "changes as it should"
    if figures.rest is not None and figures.full is not None:
        back = "" if figures.return_s is None else f"   back in {figures.return_s:.2f} s"
        return f"{figures.rest.mean:.3f} to {figures.full.mean:.3f} {figures.unit}{back}"
    if channel.role == "wheel":
        return "no pulse while it stands"
    if figures.degC is not None:
        return f"{figures.degC:.1f} degC"
    return _mean(figures.rest, figures.unit) or ""


def _pulled(document: CheckDocument) -> tuple[Table, ...]:
    rows = tuple(
        (
            each.wire,
            f"{each.low:.3f} to {each.high:.3f} V",
            "controller's display" if each.basis == "controller" else "logger",
            "never" if each.settle_s is None else f"{each.settle_s:.2f} s",
            f"{each.inside} of {each.samples}",
        )
        for each in document.pulled
    )
    return tables(("wire pulled", "reads", "whose", "settled in", "inside the travel"), rows)


def _compared(document: CheckDocument, before: Mapping[str, CheckFigures | None]) -> Table:
    """A row a channel; each figure now, and in brackets what the earlier check held."""
    checks = document.channels
    columns = {
        "input": [*checks],
        "verdict": [each.verdict.value.upper() for each in checks.values()],
    }
    for title, said in FIGURES.items():
        cells = []
        for name, each in checks.items():
            held = (each.figures, before.get(name))
            value, was = (None if figures is None else said(figures) for figures in held)
            cells.append(value or "" if was is None else f"{value or NOTHING} (was {was})")
        if any(cells):
            columns[title] = [cell or NOTHING for cell in cells]
    return Table(tuple(columns), tuple(zip(*columns.values(), strict=True)))


def _mean(level: CheckLevel | None, unit: str) -> str | None:
    return None if level is None else number(level.mean, 3, unit)


FIGURES: Mapping[str, Callable[[CheckFigures], str | None]] = {
    "rest": lambda figures: _mean(figures.rest, figures.unit),
    "full travel": lambda figures: _mean(figures.full, figures.unit),
    "slowest return": lambda figures: number(figures.return_s, 2, "s"),
    "noise": lambda figures: number(figures.noise, 4, figures.unit),
    "temperature": lambda figures: number(figures.degC, 1, "degC"),
}
"""What a check holds of a channel, by name."""


def meter_view(document: MeterDocument) -> View:
    """What is shown of a truing."""
    curve = document.curve
    return View(
        document,
        about=f"{document.channel} against a meter",
        right=counted(len(document.points), "reading"),
        title=f"Scale of {document.channel}",
        figures=_trued(document),
        facts=known(
            ("trued from", number(document.from_V, 2, "V")),
            ("trued to", number(document.to_V, 2, "V")),
            ("true volts a logger's volt", number(document.gain, 4, "", expanded(document.u_gain))),
            ("offset", number(document.offset_V, 4, "V", expanded(document.u_offset_V))),
            ("rows of its curve", None if curve is None else f"{len(curve)}"),
        ),
        tables=_pairs(document),
    )


def _trued(document: MeterDocument) -> tuple[Figure, ...]:
    """How well its volts are known now, and where; nothing where it was not trued."""
    u_V = next((each.value for each in document.findings if each.code == "trued"), None)
    expanded_V = expanded(u_V)
    if expanded_V is None or document.from_V is None or document.to_V is None:
        return ()
    middle_V = 0.5 * (document.from_V + document.to_V)
    label = f"trued, at {middle_V:.1f} V to within (95 %)"
    return (Figure(label, f"±{1e3 * expanded_V:.0f}", "mV"),)


def _pairs(document: MeterDocument) -> tuple[Table, ...]:
    residuals_V = document.residuals_V[: len(document.points)]
    rows = tuple(
        (
            f"{point.logger:.3f} V{spread_text(expanded(point.u_logger), 3)}",
            f"{point.meter:.3f} V{spread_text(expanded(point.u_meter), 3)}",
            "not known" if residual_V is None else f"{1e3 * residual_V:+.1f} mV",
        )
        for point, residual_V in zip_longest(document.points, residuals_V)
    )
    return tables(("logger", "meter", "meter less line"), rows)


def record_view(document: RecordDocument) -> View:
    """What is shown of a bare capture: the range of each channel."""
    rows = tuple(
        (name, f"{seen.low:.3f}", f"{seen.high:.3f}", f"{seen.median:.3f}", seen.unit)
        for name, seen in document.channels.items()
    )
    head = ("channel", "lowest", "highest", "median", "unit")
    return View(document, about="captured", tables=tables(head, rows))
