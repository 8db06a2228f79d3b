"""A bench check: the verdict, a row a channel, then every finding with its action."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from calib.show.console import Screen, Text
from calib.show.page import STYLES, bullet_lines, print_view
from calib.show.view import Table, View, number
from calib.store.documents.check import ChannelCheck, CheckDocument, CheckFigures, CheckLevel
from calib.store.documents.finding import Severity
from calib.store.text import neutral

NAME_CHARS = 12
FIGURE_CHARS = 50
NOTHING = "–"


def show_check(document: CheckDocument, console: Screen) -> None:
    """Verdict, the first finding and the channels at a glance; then the others, what is unseen."""
    channels = [_channel_line(name, channel) for name, channel in document.channels.items()]
    unseen = _unseen_lines(document.cannot_see)
    print_view(console, check_view(document), document, [*channels, Text()], more=unseen)


def check_view(
    document: CheckDocument, before: Mapping[str, CheckFigures | None] | None = None
) -> View:
    """What is shown of a check.

    Args:
        document: The check.
        before: The figures of the check that it was compared with, by channel; None to leave the
            table of figures out.
    """
    against = document.compared_with
    if document.pulled:
        about, right = f"wires of {', '.join(document.channels)} pulled on purpose", ""
    else:
        kind = "quick check" if document.quick else "bench check"
        about = kind if document.condition is None else f"{kind}, {document.condition}"
        right = "nothing to compare with" if against is None else f"against {against}"
    odd = tuple(each for each in document.findings if each.severity is not Severity.PASS)
    tables = _pulled(document) if document.pulled else ()
    if before is not None and not document.pulled:
        tables = (_compared(document, before),)
    return View(about, right, document.verdict, odd, tables=tables)


def summary_of(channel: ChannelCheck) -> str:
    """What is odd about a channel in two words, else its figures."""
    odd = [each.code for each in channel.findings if each.severity is not Severity.PASS]
    if odd:
        return ", ".join(code.replace("-", " ") for code in odd[:2])
    figures = channel.figures
    if figures is None:
        return "every pulled wire reads outside the travel" if channel.findings else ""
    return _figures(figures, channel.role)


def _channel_line(name: str, channel: ChannelCheck) -> Text:
    word = channel.verdict.value.upper()
    line = Text("  ", no_wrap=True)
    line.append(f"{word:<8}", style=STYLES[channel.verdict])
    line.append(f" {neutral(name, NAME_CHARS):<{NAME_CHARS + 1}}", style="bold")
    line.append(summary_of(channel)[:FIGURE_CHARS])
    return line


def _figures(figures: CheckFigures, role: str) -> str:
    if role == "switch":
        return "changes as it should"
    if figures.rest is not None and figures.full is not None:
        back = "" if figures.return_s is None else f"   back in {figures.return_s:.2f} s"
        return f"{figures.rest.mean:.3f} to {figures.full.mean:.3f} {figures.unit}{back}"
    if role == "wheel":
        return "no pulse while it stands"
    if figures.degC is not None:
        return f"{figures.degC:.1f} degC"
    if figures.rest is not None:
        return f"{figures.rest.mean:.3f} {figures.unit}"
    return ""


def _unseen_lines(sentences: tuple[str, ...]) -> list[Text]:
    """What is beyond this logger, under its heading; nothing where all can be seen."""
    if not sentences:
        return []
    rows = [row for text in sentences for row in bullet_lines(text)]
    return [Text(" WHAT THIS LOGGER CANNOT SEE", style="bold"), *rows]


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
    return (Table(("wire pulled", "reads", "whose", "settled in", "inside the travel"), rows),)


def _compared(document: CheckDocument, before: Mapping[str, CheckFigures | None]) -> Table:
    """A row a channel; each figure now, and in brackets what the earlier check held."""
    rows = tuple(
        (
            name,
            channel.verdict.value.upper(),
            *(_now_and_before(channel.figures, before.get(name), figure) for figure in FIGURES),
        )
        for name, channel in document.channels.items()
    )
    used = [place for place, _ in enumerate(FIGURES, 2) if any(row[place] for row in rows)]
    head = ("input", "verdict", *FIGURES)
    kept = (0, 1, *used)
    return Table(
        tuple(head[place] for place in kept),
        tuple(tuple(row[place] or NOTHING for place in kept) for row in rows),
    )


FIGURES: Mapping[str, Callable[[CheckFigures], str | None]] = {
    "rest": lambda figures: _mean(figures.rest, figures.unit),
    "full travel": lambda figures: _mean(figures.full, figures.unit),
    "slowest return": lambda figures: number(figures.return_s, 2, "s"),
    "noise": lambda figures: number(figures.noise, 4, figures.unit),
    "temperature": lambda figures: number(figures.degC, 1, "degC"),
}
"""What a check holds of a channel, by name."""


def _mean(level: CheckLevel | None, unit: str) -> str | None:
    return None if level is None else number(level.mean, 3, unit)


def _now_and_before(now: CheckFigures | None, before: CheckFigures | None, figure: str) -> str:
    value = None if now is None else FIGURES[figure](now)
    was = None if before is None else FIGURES[figure](before)
    if was is None:
        return value or ""
    return f"{value or NOTHING} (was {was})"
