"""What setup says of a rig file: what it found, what it assumed, what it could not tell."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from calib.guide.setup.plan import Sent, unclaimed
from calib.link.detect.layout import GOOD_SHARE
from calib.link.detect.rate import RateFound
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.setup import Origin, Setting
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


def judge_setup(
    sent: Sent, found: RateFound | None, settings: Sequence[Setting], rig: Rig
) -> tuple[Finding, ...]:
    """Every finding on a rig file as it is now.

    Args:
        sent: What the logger sends.
        found: Its rate; None for a file.
        settings: What was looked at, and where it comes from.
        rig: The rig file as it is now.
    """
    return (
        *_on_lines(sent, found),
        *_on_clock(sent, rig),
        *_on_channels(sent, rig),
        *_on_assumed(settings),
        *_on_rest(sent, rig),
    )


def _on_lines(sent: Sent, found: RateFound | None) -> Iterator[Finding]:
    """Rate and layout."""
    heard = sent.heard
    at = "" if found is None else f" at {found.best.baud} baud"
    sound = heard.share >= GOOD_SHARE
    yield Finding(
        code="lines",
        severity=Severity.PASS if sound else Severity.CAUTION,
        text=f"{_layout_words(sent)}{at}: {heard.lines - heard.rejected} of {heard.lines} lines "
        "were understood.",
        value=100 * heard.share,
        limit=100 * GOOD_SHARE,
        unit="%",
        action="" if sound else "Look at ground wire, cable and rate; then run it again.",
    )
    if not sent.named:
        yield Finding(
            code="no-header",
            severity=Severity.CAUTION,
            text="The logger names no columns, so they go by number, from 0.",
            action="A column that is added to its code moves the others: run 'calib setup' then.",
        )
    elif heard.names is not None and heard.names != sent.names:
        yield Finding(
            code="names-differ",
            severity=Severity.FAIL,
            text="'columns' in the rig file gives other names than the logger's header: "
            f"{_listed(heard.names)}.",
            action="Take 'columns' out of [link], unless you renamed them on purpose.",
        )


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
        yield Finding(
            code="clock",
            severity=Severity.PASS,
            text=f"Samples are taken to come evenly, {rig.time.rate_hz:g} a second, as stated.",
        )
        return
    if column is None:
        text, action = (
            "No column goes with time, so arrival at the computer serves.",
            ("A time column in its lines is worth having: USB hands lines over in bursts."),
        )
        if clock is not None:
            pace = f", {clock.pace_hz:.4g} a second," if sent.timed else ""
            text = (
                f"Column {_name(sent, clock.index)} rises evenly{pace} and that may be s, ms or us."
            )
            action = "State --time-column and --time-unit, or --time-column none."
        elif not sent.timed:
            text = "No column of the file is a clock, so nothing in it has a time."
            action = "State the rate at which it was logged: --rate-hz N."
        yield Finding(code="no-clock", severity=Severity.CAUTION, text=text, action=action)
        return
    index = sent.place(column)
    if index is None:
        yield _not_sent("The time column", column)
    elif rig.time.unit == "text" or index in sent.heard.stamped:
        yield Finding(
            code="clock",
            severity=Severity.PASS,
            text=f"Column {_name(sent, index)} is a wall clock.",
        )
    elif clock is None or clock.index != index:
        yield Finding(
            code="clock-uneven",
            severity=Severity.UNKNOWN,
            text=f"Column {_name(sent, index)} does not rise evenly with time, as far as was "
            f"heard: {sent.heard.samples} samples.",
            action="Listen longer with --listen, or state another --time-column.",
        )
    else:
        yield from _on_pace(sent, rig)


def _on_pace(sent: Sent, rig: Rig) -> Iterator[Finding]:
    """Whether the clock runs as its unit says."""
    clock, unit = sent.clock, rig.time.unit
    if clock is None:
        return
    name = _name(sent, clock.index)
    if not sent.timed:
        yield Finding(
            code="clock",
            severity=Severity.CAUTION,
            text=f"Column {name} is taken for the clock in {unit}; a file cannot tell its pace.",
            action="State --time-unit where that is wrong.",
        )
        return
    per_s = 1.0 / rig.time.seconds_per_count
    odd = abs(clock.pace_hz / per_s - 1.0) > 0.2
    yield Finding(
        code="clock",
        severity=Severity.CAUTION if odd else Severity.PASS,
        text=f"Column {name} is the clock in {unit}: it counts {clock.pace_hz:.4g} a second"
        + (f", and {per_s:g} were expected." if odd else "."),
        value=clock.pace_hz,
        limit=per_s,
        unit="1/s",
        action="A simulated bench may run fast; on a real logger state --time-unit." if odd else "",
    )
    if clock.by_one:
        yield Finding(
            code="clock-or-counter",
            severity=Severity.CAUTION,
            text=f"Column {name} rises by one a line: a clock and a count of lines look alike.",
            action="If it counts lines, state --time-column none: lost lines would stop the clock.",
        )


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
            yield Finding(
                code="unit",
                severity=Severity.FAIL,
                text=f"{name} sent {column.high:.0f}, and full_scale says that no count is above "
                f"{channel.full_scale - 1:.0f}.",
                value=column.high,
                limit=channel.full_scale - 1,
                unit="count",
                action="State the right --full-scale.",
                channel=name,
            )
        volts = channel.role in ("pitch", "roll") and channel.unit in ("count", "V", "mV")
        if volts and None in (channel.zero_V, channel.sensitivity_V_per_deg):
            yield Finding(
                code="angle-scale-unknown",
                severity=Severity.UNKNOWN,
                text=f"{name} comes in volts, and how many make a degree is not known.",
                action=f"State --set channels.{name}.zero_V=… and --set "
                f"channels.{name}.sensitivity_V_per_deg=…, as its data sheet gives them.",
                channel=name,
            )
        if channel.unit == "raw" and channel.role != "other":
            yield Finding(
                code="unit-unknown",
                severity=Severity.UNKNOWN,
                text=f"The unit of {name} is not known: {column.low:.4g} to {column.high:.4g}.",
                action=f"State it: --unit {name}=count with --full-scale and --reference-V, or V, "
                "deg, g ...",
                channel=name,
            )


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
        yield Finding(
            code="value-assumed",
            severity=Severity.CAUTION,
            text=f"{key} = {values}{of} is assumed, not known: {same[0].why}.",
            action=f"{advice[:1].upper()}{advice[1:]}.",
            channel=channels[0] or None,
        )


def _on_rest(sent: Sent, rig: Rig) -> Iterator[Finding]:
    """Columns of which nothing is known, and a machine without a control."""
    rest = unclaimed(sent, rig)
    if rest:
        names = [_name(sent, column.index) for column in rest]
        yield Finding(
            code="columns-unused",
            severity=Severity.CAUTION,
            text=f"Nothing is known of {len(rest)} of {len(sent.columns)} columns: "
            f"{_listed(names)}.",
            action=_work_or(sent, "work the parts", f"--column NAME={names[0]}"),
        )
    if not rig.with_role("control", "wheel") and not rig.has_tilt:
        yield Finding(
            code="no-control",
            severity=Severity.UNKNOWN,
            text="Which column is the throttle is not known; nothing can be measured yet.",
            action=_work_or(sent, "work it", "--column throttle=COLUMN"),
        )


def _work_or(sent: Sent, work: str, option: str) -> str:
    """What to do about a column that nobody named; the parts of a file cannot be worked."""
    live = f"Run 'calib setup' without --yes and {work}, or state {option}."
    return live if sent.timed else f"State {option}."


def _not_sent(what: str, column: str | int, channel: str | None = None) -> Finding:
    return Finding(
        code="column-missing",
        severity=Severity.FAIL,
        text=f"{what} is column {neutral(str(column), 40)} in the rig file, and the logger sends "
        "no such column.",
        action="State --column or --time-column, or look at the logger's code.",
        channel=channel,
    )


def _name(sent: Sent, index: int) -> str:
    return neutral(str(sent.reference(index)), 40)


def _listed(names: Sequence[str]) -> str:
    """Names in a row, cut where there are many."""
    shown = [neutral(name, 40) for name in names[:_SHOWN]]
    more = len(names) - len(shown)
    return ", ".join(shown) + (f" and {more} more" if more else "")
