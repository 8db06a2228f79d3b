"""What setup says of a rig file: what it found, what it assumed, what it could not tell."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from calib.guide.setup.plan import Sent, unclaimed
from calib.link.detect.clock import ClockColumn
from calib.link.detect.layout import GOOD_SHARE
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.printed import Origin, Setting
from calib.store.rig import Rig
from calib.store.text import neutral

_TRUE_IT: dict[str, str] = {
    "column": "state --column {channel}=COLUMN where that is wrong",
    "reference_V": "true it with 'calib meter {channel}', or state --reference-V",
    "active": "state --set channels.{channel}.active=…",
    "full_scale": "state --full-scale as the logger's data sheet gives it",
    "divider": "state --divider where there is one",
    "unit": "state --unit {channel}=UNIT",
    "setting_step_V": "look it up in the controller's menu and state --set rig.setting_step_V=…",
    "wrap": "state --time-wrap where the logger's note says otherwise",
}

_SHOWN = 6
"""Columns that are named in one sentence: own choice."""


def judge_setup(sent: Sent, settings: Sequence[Setting], rig: Rig) -> tuple[Finding, ...]:
    """Every finding on a rig file as it is now.

    Args:
        sent: What the logger sends.
        settings: What was looked at, and where it comes from.
        rig: The rig file as it is now.
    """
    return (
        *_on_lines(sent),
        *_on_clock(sent, rig),
        *_on_channels(sent, rig),
        *_on_assumed(settings),
        *_on_rest(sent, rig),
    )


def _on_lines(sent: Sent) -> Iterator[Finding]:
    """Rate and layout."""
    heard = sent.heard
    sound = heard.share >= GOOD_SHARE
    yield said.finding(
        Severity.PASS if sound else Severity.CAUTION,
        "lines" if sound else "lines/few",
        100 * heard.share,
        100 * GOOD_SHARE,
        layout=_layout_words(sent),
        at="" if sent.found is None else f" at {sent.found.best.baud} baud",
        understood=heard.lines - heard.rejected,
        lines=heard.lines,
    )
    if not sent.named:
        yield said.caution("no-header")
    elif heard.names is not None and heard.names != sent.names:
        yield said.fail("names-differ", listed=_listed(heard.names))


def _layout_words(sent: Sent) -> str:
    link = sent.heard.link
    checked = ", each with a checksum" if link.checksum or link.layout == "nmea" else ""
    by = f" by {link.separator}" if link.separator and len(sent.columns) > 1 else ""
    comma = ", decimal comma" if link.decimal == "comma" else ""
    return f"{len(sent.columns)} columns, {link.layout}{by}{comma}{checked}"


def _on_clock(sent: Sent, rig: Rig) -> Iterator[Finding]:
    """The logger's clock."""
    clock, column = sent.clock, rig.time.column
    if rig.time.rate_hz is not None:
        yield said.passes("clock", rate_hz=rig.time.rate_hz)
        return
    if column is None:
        if clock is not None:
            pace = f", {clock.pace_hz:.4g} a second," if sent.timed else ""
            yield said.caution("no-clock/unit", name=sent.shown(clock.index), pace=pace)
        else:
            yield said.caution("no-clock/setup" if sent.timed else "no-clock/file")
        return
    index = sent.place(column)
    if index is None:
        yield _not_sent("The time column", column)
    elif rig.time.unit == "text" or index in sent.heard.stamped:
        yield said.passes("clock/on-clock", name=sent.shown(index))
    elif clock is None or clock.index != index:
        yield said.unknown("clock-uneven", name=sent.shown(index), samples=sent.heard.samples)
    else:
        yield from _on_pace(sent, clock, rig)


def _on_pace(sent: Sent, clock: ClockColumn, rig: Rig) -> Iterator[Finding]:
    """Whether the clock runs as its unit says."""
    name, unit = sent.shown(clock.index), rig.time.unit
    if not sent.timed:
        yield said.caution("clock/setup", name=name, the_unit=unit)
        return
    per_s = 1.0 / rig.time.seconds_per_count
    odd = abs(clock.pace_hz / per_s - 1.0) > 0.2
    yield said.finding(
        Severity.CAUTION if odd else Severity.PASS,
        "clock/odd-pace" if odd else "clock/pace",
        clock.pace_hz,
        per_s,
        name=name,
        the_unit=unit,
    )
    if clock.by_one:
        yield said.caution("clock-or-counter", name=name)


def _on_channels(sent: Sent, rig: Rig) -> Iterator[Finding]:
    """Whether the channels of the file are sent, and fit their scale."""
    for name, channel in rig.channels.items():
        index = sent.place(channel.column)
        if index is None:
            yield _not_sent(f"Channel {name}", channel.column, name)
            continue
        column = sent.columns[index]
        counted = channel.unit == "count" and channel.counts_per_g is None
        if counted and channel.full_scale is not None and column.high >= channel.full_scale:
            yield said.fail("unit/setup", column.high, channel.full_scale - 1, channel=name)
        volts = channel.role in ("pitch", "roll") and channel.unit in ("count", "V", "mV")
        if volts and None in (channel.zero_V, channel.sensitivity_V_per_deg):
            yield said.unknown("angle-scale-unknown", channel=name)
        if channel.unit == "raw" and channel.role != "other":
            yield said.unknown("unit-unknown", channel=name, low=column.low, high=column.high)


def _on_assumed(settings: Sequence[Setting]) -> Iterator[Finding]:
    """One finding for each kind of value that nobody measured or stated."""
    assumed = [
        each
        for each in settings
        if each.origin is Origin.ASSUMED
        and each.key in _TRUE_IT
        and (each.table, each.key) != ("time", "unit")  # the clock's own finding says it
    ]
    for key in _TRUE_IT:
        same = [each for each in assumed if each.key == key]
        if not same:
            continue
        values = ", ".join(dict.fromkeys(str(each.value) for each in same))
        channels = [each.table.partition(".")[2] for each in same]
        of = f" of {_listed(channels)}" if all(channels) else ""
        advice = _TRUE_IT[key].format(channel=channels[0])
        yield said.caution(
            "value-assumed",
            channel=channels[0] or None,
            the_key=key,
            values=values,
            of=of,
            why=same[0].why,
            advice=advice[:1].upper() + advice[1:],
        )


def _on_rest(sent: Sent, rig: Rig) -> Iterator[Finding]:
    """Columns of which nothing is known, and a machine without a control."""
    rest = unclaimed(sent, rig)
    if rest:
        names = [sent.shown(column.index) for column in rest]
        yield said.caution(
            "columns-unused" if sent.timed else "columns-unused/file",  # whose parts nobody works
            unused=len(rest),
            columns=len(sent.columns),
            listed=_listed(names),
            first=names[0],
        )
    if not rig.with_role("control", "wheel") and not rig.has_tilt:
        yield said.unknown("no-control" if sent.timed else "no-control/file")


def _not_sent(what: str, column: str | int, channel: str | None = None) -> Finding:
    return said.fail(
        "column-missing/setup", channel=channel, what=what, name=neutral(str(column), 40)
    )


def _listed(names: Sequence[str]) -> str:
    """Names in a row, cut where there are many."""
    shown = [neutral(name, 40) for name in names[:_SHOWN]]
    more = len(names) - len(shown)
    return ", ".join(shown) + (f" and {more} more" if more else "")
