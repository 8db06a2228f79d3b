"""The page of ``calib check``: the verdict, a row a channel, then every finding with its action."""

from __future__ import annotations

from calib.show.console import Screen, Text
from calib.show.page import (
    STYLES,
    bullet_lines,
    caution_lines,
    finding_lines,
    headline,
    note_lines,
    print_page,
    provenance_lines,
    verdict_lines,
)
from calib.store.documents.check import ChannelCheck, CheckDocument, CheckFigures, PulledWire
from calib.store.documents.finding import Finding, Severity
from calib.store.text import neutral

NAME_CHARS = 12
FIGURE_CHARS = 50


def show_check(document: CheckDocument, console: Screen) -> None:
    """Verdict, channels and the first finding at a glance; then the others and what is unseen."""
    odd = [each for each in document.findings if each.severity is not Severity.PASS]
    glance = [
        headline(*_about(document)),
        *verdict_lines(document.verdict),
        Text(),
        *_channel_lines(document),
        *(_pulled_line(each) for each in document.pulled),
        Text(),
        *_finding_lines(odd[:1]),
    ]
    details = [
        *_finding_lines(odd[1:]),
        *_unseen_lines(document.cannot_see),
        *provenance_lines(document),
        Text(),
        *caution_lines(document.cautions),
    ]
    print_page(console, glance, details)


def _about(document: CheckDocument) -> tuple[str, str]:
    if document.pulled:
        return "wires pulled on purpose", ""
    kind = "quick check" if document.quick else "bench check"
    about = kind if document.condition is None else f"{kind}, {document.condition}"
    against = document.compared_with
    return about, "nothing to compare with" if against is None else f"against {against}"


def _channel_lines(document: CheckDocument) -> list[Text]:
    return [_channel_line(name, channel) for name, channel in document.channels.items()]


def _channel_line(name: str, channel: ChannelCheck) -> Text:
    word = channel.verdict.value.upper()
    line = Text("  ", no_wrap=True)
    line.append(f"{word:<8}", style=STYLES[channel.verdict])
    line.append(f" {neutral(name, NAME_CHARS):<{NAME_CHARS + 1}}", style="bold")
    line.append(_summary(channel)[:FIGURE_CHARS])
    return line


def _summary(channel: ChannelCheck) -> str:
    """What is odd about a channel in two words, else its figures."""
    odd = [each.code for each in channel.findings if each.severity is not Severity.PASS]
    if odd:
        return ", ".join(code.replace("-", " ") for code in odd[:2])
    figures = channel.figures
    if figures is None:
        return "every pulled wire reads outside the travel" if channel.findings else ""
    return _figures(figures, channel.role)


def _figures(figures: CheckFigures, role: str) -> str:
    if role == "switch":
        return "changes as it should"
    if figures.rest is not None and figures.full is not None:
        back = "" if figures.return_s is None else f"   back in {figures.return_s:.2f} s"
        return f"{figures.rest.mean:.3f} to {figures.full.mean:.3f} {figures.unit}{back}"
    if figures.degC is not None:
        return f"{figures.degC:.1f} degC"
    if figures.rest is not None:
        return f"{figures.rest.mean:.3f} {figures.unit}"
    return ""


def _pulled_line(pulled: PulledWire) -> Text:
    whose = "controller's display" if pulled.basis == "controller" else "logger"
    return Text(f"  {pulled.wire:<8} {pulled.low:6.3f} to {pulled.high:6.3f} V   {whose}")


def _finding_lines(findings: list[Finding]) -> list[Text]:
    """Findings in the order of the document: causes before what follows from them."""
    return [
        line
        for finding in findings
        for line in (*finding_lines([finding]), *_against_limit(finding))
    ]


def _unseen_lines(said: tuple[str, ...]) -> list[Text]:
    """What is beyond this logger, under its heading; nothing where all can be seen."""
    if not said:
        return []
    rows = [row for text in said for row in bullet_lines(text)]
    return [Text(" WHAT THIS LOGGER CANNOT SEE", style="bold"), *rows, Text()]


def _against_limit(finding: Finding) -> list[Text]:
    """The figure beside its limit; nothing where either is missing."""
    if finding.value is None or finding.limit is None:
        return []
    unit = f" {finding.unit}" if finding.unit else ""
    return note_lines(f"{finding.value:.3g}{unit}, limit {finding.limit:.3g}{unit}", 11)
