"""Writes what is known into the rig file, and says what it is now and what could not be told."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import msgspec

from calib.book import entries
from calib.checks.order import judged
from calib.guide.setup.draft import WHY, Proposed
from calib.guide.setup.guided import Told
from calib.guide.setup.plan import Asked, Sent, draft_rig
from calib.link.detect.clock import ClockColumn
from calib.link.detect.layout import GOOD_SHARE
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.printed import ColumnSeen, Origin, RateTried, Setting, SetupDocument
from calib.store.rig import Rig, load_rig
from calib.store.rig_writing import edit_rig
from calib.store.text import counted, neutral

_TRUE_IT = entries("setup")["true it"]
"""What to do about each kind of value that is assumed, in the order of telling."""

_SHOWN = 6
"""Columns that are named in one sentence: own choice."""


def make_rig(
    path: Path, rig: Rig | None, told: Told, asked: Asked, cautions: Sequence[str]
) -> SetupDocument:
    """Write or change the rig file, and say what is known of it.

    Args:
        path: The rig file.
        rig: As it was; None where it was not there.
        told: What the logger sends, and what working the parts, or moving the machine, told.
        asked: What the person said.
        cautions: For the page.

    Raises:
        UsageError: What was asked for cannot be.
        RigError: The file cannot be written, or a value is none that it may hold.
    """
    sent = told.sent
    settings, edit = draft_rig(sent, asked, rig, told.proposals).settle(path)
    if edit.entries:
        edit_rig(path, edit)
    made = load_rig(path)
    columns = _columns(sent, made)
    tried = () if sent.found is None else sent.found.tried
    findings = [
        *told.findings,
        *_on_lines(sent),
        *_on_clock(sent, made),
        *_on_channels(sent, made),
        *_on_assumed(settings),
        *_on_rest(sent, columns, made),
    ]
    return SetupDocument(
        **judged(findings, tuple(cautions)),
        rig=str(path),
        created=rig is None,
        port=sent.port,
        tried=tuple(
            RateTried(baud=each.baud, received_bytes=each.received, understood_pct=100 * each.merit)
            for each in tried
        ),
        settings=settings,
        columns=columns,
    )


def carried_on(document: SetupDocument, before: SetupDocument) -> SetupDocument:
    """A later part of one run: what an earlier part had made or changed is of this run too."""
    changed = {(each.table, each.key) for each in before.settings if each.changed}
    settings = tuple(
        msgspec.structs.replace(each, changed=each.changed or (each.table, each.key) in changed)
        for each in document.settings
    )
    created = document.created or before.created
    return msgspec.structs.replace(document, created=created, settings=settings)


def _columns(sent: Sent, rig: Rig) -> tuple[ColumnSeen, ...]:
    """Each column with what the rig file makes of it."""
    uses = {sent.place(channel.column): name for name, channel in rig.channels.items()}
    if rig.time.column is not None:
        uses[sent.place(rig.time.column)] = "time"
    return tuple(
        ColumnSeen(
            number=column.index,
            name=neutral(column.name, 40) if sent.named else None,
            low=column.low,
            high=column.high,
            use=uses.get(column.index),
        )
        for column in sent.columns
    )


def usb_proposal(identity: str) -> Proposed:
    """By what a logger is known again, whatever its port is called.

    Args:
        identity: Vendor, product and serial number, neutral.
    """
    return Proposed(("link",), "usb", identity, Origin.FOUND, WHY["usb"])


def another_logger(identity: str, truings: int) -> Finding:
    """The rig file was made for another logger.

    Args:
        identity: The one that is there now.
        truings: How many channels' truings were taken out of the file: they are the other one's.
    """
    gone = f" {counted(truings, 'truing')} made with that one went out of it." if truings else ""
    return said.caution("another-logger", identity=identity, gone=gone)


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
    clock_unit = ("time", "unit")  # the clock's own finding says it
    assumed = [each for each in settings if each.origin is Origin.ASSUMED]
    for key, advice in _TRUE_IT.items():
        same = [each for each in assumed if each.key == key and (each.table, key) != clock_unit]
        if not same:
            continue
        values = ", ".join(dict.fromkeys(str(each.value) for each in same))
        channels = [each.table.partition(".")[2] for each in same]
        of = f" of {_listed(channels)}" if all(channels) else ""
        advice = advice.format(channel=channels[0])
        yield said.caution(
            "value-assumed",
            channel=channels[0] or None,
            the_key=key,
            values=values,
            of=of,
            why=same[0].why,
            advice=advice[:1].upper() + advice[1:],
        )


def _on_rest(sent: Sent, columns: Sequence[ColumnSeen], rig: Rig) -> Iterator[Finding]:
    """Columns of which nothing is known, and a machine without a control."""
    names = [sent.shown(column.number) for column in columns if column.use is None]
    if names:
        yield said.caution(
            "columns-unused" if sent.timed else "columns-unused/file",  # whose parts nobody works
            unused=len(names),
            columns=len(columns),
            listed=_listed(names),
            first=names[0],
        )
    if not rig.with_role("control", "wheel") and not rig.has_tilt:
        yield said.unknown("no-control" if sent.timed else "no-control/file")


def _not_sent(what: str, column: str | int, channel: str | None = None) -> Finding:
    name = neutral(str(column), 40)
    return said.fail("column-missing/setup", channel=channel, what=what, name=name)


def _listed(names: Sequence[str]) -> str:
    """Names in a row, cut where there are many."""
    shown = [neutral(name, 40) for name in names[:_SHOWN]]
    more = len(names) - len(shown)
    return ", ".join(shown) + (f" and {more} more" if more else "")
