"""Logs as strangers write them, through the command line: ``python -m tests.bench.strangers``.

Every line format x every kind of time x three contents (presses, rest, poses) is written to a
file, ``calib setup --from`` makes its rig file, and the command that fits judges it. Three
outcomes: right (within the reference's uncertainty), refused (with a reason), wrong.
``--formats N`` takes every Nth format; ``--rotate`` takes one content for each format and time, in
turn. The open recordings, as they lie, are in ``tests/reference/test_log_clocks.py``.

The truth is the array from which the log was written. Bars, set before the first run: wrong under
pass or caution 0; refused at most 5 per cent; no gap made up; on bursts the scatter at 1 s within
5 per cent of that of the even clock; no edit between setup and answer for 90 per cent.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import itertools
import json
import os
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from multiprocessing import Pool
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calib.cli import main as calib_main
from calib.tilt.stillness import overlapping_deviation
from tests.bench import ledger
from tests.hands import pressed

Floats = NDArray[np.float64]
RATES_HZ = {"presses": 100.0, "rest": 50.0, "poses": 100.0}
REST_S = 260.0
REST_V, FULL_V = 1.05, 4.2
BIAS_G = np.array([0.021, -0.034, 0.047])
KINDS = ("even", "jittered", "bursts", "wall", "midnight", "restart", "none", "1 Hz")
CONTENTS = ("presses", "rest", "poses")
WRONG_USE = 2
"""Exit code of a rig file that a command cannot work with."""
MOST_REFUSED, MOST_SCATTER_OFF, LEAST_UNEDITED = 0.05, 0.05, 0.9


def contents(content: str) -> Floats:
    """Throttle in V and force in g, shape (n, 4), at the rate of the content."""
    rng = np.random.default_rng(11)
    if content == "presses":
        volts = pressed(rest_V=REST_V, full_V=FULL_V, presses=6, seed=4)
        force = np.tile([0.0, 0.0, 1.0], (len(volts), 1))
    elif content == "rest":
        count = round(REST_S * RATES_HZ["rest"])
        volts = np.full(count, 2.5) + rng.normal(0, 0.004, count)
        force = np.tile([0.0, 0.0, 1.0], (len(volts), 1))
    else:
        force = _poses(rng)
        volts = np.full(len(force), REST_V) + rng.normal(0, 0.002, len(force))
    force = force + BIAS_G + rng.normal(0, 0.002, force.shape)
    return np.column_stack([volts, force])


def _poses(rng: np.random.Generator) -> Floats:
    """Twenty poses of three seconds on the faces of a box and askew, moved by hand between."""
    ups = [*np.eye(3), *-np.eye(3), *rng.normal(0, 1, (14, 3))]
    parts: list[Floats] = []
    for up in ups:
        unit = np.asarray(up) / np.linalg.norm(up)
        if parts:
            share = np.linspace(0, 1, 80)[:, None]
            parts.append(parts[-1][-1] * (1 - share) + unit * share + rng.normal(0, 0.08, (80, 3)))
        parts.append(np.tile(unit, (320, 1)))
    return np.vstack(parts)


def stamps(kind: str, count: int, rate_hz: float) -> Floats | None:
    """Stamps in s of evenly taken samples, as a kind of clock gives them; None for none."""
    rng = np.random.default_rng(5)
    true_s = 12.0 + np.arange(count) / rate_hz
    if kind == "none":
        return None
    if kind == "jittered":
        return true_s + rng.uniform(-0.003, 0.003, count)
    if kind == "bursts":
        stamped = np.empty(count)
        first = 0
        while first < count:
            stop = min(first + int(rng.integers(2, 41)), count)
            stamped[first:stop] = true_s[stop - 1] + 0.0004 * np.arange(stop - first)
            first = stop
        at = count // 3
        stamped[at : at + 50] = np.maximum(stamped[at : at + 50], true_s[at + 49])
        return np.maximum.accumulate(stamped)
    if kind == "restart":
        return np.where(np.arange(count) < 40, true_s, true_s - true_s[40] + 0.4)
    if kind == "midnight":
        return true_s - 12.0 + 86_400.0 - 7.123
    if kind == "1 Hz":
        return np.floor(true_s)
    return true_s


@dataclass(frozen=True)
class Form:
    """One way to write a log.

    Attributes:
        name: Of it.
        line: A line of a stamp (None without a clock) and the numbers as text.
        header: The header line; None without one.
        names: Names of the four channels' columns, or their places.
        clock: How a stamp is written: ms, s, us or text.
        encode: The file's encoding.
        end: What ends a line.
    """

    name: str
    line: Callable[[str | None, list[str]], str]
    header: Callable[[bool], str] | None
    names: Callable[[bool], Sequence[str]]
    clock: str = "ms"
    encode: str = "utf-8"
    end: str = "\n"


NAMES = ("throttle", "ax", "ay", "az")


def _joined(mark: str) -> Callable[[str | None, list[str]], str]:
    return lambda stamp, nums: mark.join([*([] if stamp is None else [stamp]), *nums])


def _head(mark: str, first: str = "t_ms", names: Sequence[str] = NAMES) -> Callable[[bool], str]:
    return lambda timed: mark.join([*([first] if timed else []), *names])


def _named(names: Sequence[str] = NAMES) -> Callable[[bool], Sequence[str]]:
    return lambda _timed: names


def _placed(lead: int = 1) -> Callable[[bool], Sequence[str]]:
    return lambda timed: [str(place + (lead if timed else 0)) for place in range(4)]


def _commas(line: Callable[[str | None, list[str]], str]) -> Callable[[str | None, list[str]], str]:
    """With decimal commas."""
    return lambda stamp, nums: line(
        None if stamp is None else stamp.replace(".", ","), [n.replace(".", ",") for n in nums]
    )


def _around(before: str, after: str, mark: str = ",") -> Callable[[str | None, list[str]], str]:
    plain = _joined(mark)
    return lambda stamp, nums: f"{before}{plain(stamp, nums)}{after}"


def _each(before: str, after: str, mark: str) -> Callable[[str | None, list[str]], str]:
    return lambda stamp, nums: mark.join(
        f"{before}{text}{after}" for text in [*([] if stamp is None else [stamp]), *nums]
    )


def _pairs(form: str, mark: str, first: str = "t_ms") -> Callable[[str | None, list[str]], str]:
    def line(stamp: str | None, nums: list[str]) -> str:
        values = [*([(first, stamp)] if stamp is not None else []), *zip(NAMES, nums, strict=True)]
        return mark.join(form.format(name, value) for name, value in values)

    return line


def _labels(stamp: str | None, nums: list[str]) -> str:
    units = ("V", "g", "g", "g")
    shown = ("Gas pedal", "Acc X", "Acc Y", "Acc Z")
    values = ", ".join(f"{a}: {n} {u}" for a, n, u in zip(shown, nums, units, strict=True))
    return values if stamp is None else f"Time: {stamp} ms, {values}"


def _unnamed(stamp: str | None, nums: list[str]) -> str:
    return ", ".join([*([] if stamp is None else [stamp]), *_labels(None, nums).split(", ")])


def _units(stamp: str | None, nums: list[str]) -> str:
    values = [f"{n} {u}" for n, u in zip(nums, ("V", "g", "g", "g"), strict=True)]
    return ", ".join([*([] if stamp is None else [stamp]), *values])


def _json(*, quoted: bool, more: str = "") -> Callable[[str | None, list[str]], str]:
    def line(stamp: str | None, nums: list[str]) -> str:
        values = [*([("t_ms", stamp)] if stamp is not None else []), *zip(NAMES, nums, strict=True)]
        mark = '"' if quoted else ""
        return "{" + ", ".join(f'"{n}": {mark}{v}{mark}' for n, v in values) + more + "}"

    return line


def _esp(stamp: str | None, nums: list[str]) -> str:
    return f"I ({stamp or 7}) adc: " + ",".join(nums)


def _sometimes(what: str) -> Callable[[str | None, list[str]], str]:
    """A further column that is missing now and then."""
    counter = itertools.count()

    def line(stamp: str | None, nums: list[str]) -> str:
        last = what if next(counter) % 7 == 3 else "21.5"
        return ",".join([*([] if stamp is None else [stamp]), *nums, last])

    return line


def _extra(value: Callable[[int], str], mark: str = ",") -> Callable[[str | None, list[str]], str]:
    counter = itertools.count()

    def line(stamp: str | None, nums: list[str]) -> str:
        more = value(next(counter))
        return mark.join([*([] if stamp is None else [stamp]), *nums, more])

    return line


def _word_first(stamp: str | None, nums: list[str]) -> str:
    return ",".join(["left", *([] if stamp is None else [stamp]), *nums])


MORE = (*NAMES, "temp")
DEGREE = ("throttle", "ax", "ay", "az °")


def forms() -> list[Form]:
    """Every line format."""
    found = []
    for title, mark in (
        ("comma", ","), ("comma blank", ", "), ("semicolon", ";"), ("tab", "\t"), ("blank", " "),
        ("blanks", "   "), ("bar", " | "),
    ):  # fmt: skip
        found.append(Form(f"{title}, header", _joined(mark), _head(mark), _named()))
        found.append(Form(f"{title}, no header", _joined(mark), None, _placed()))
    for title, mark in (("semicolon", ";"), ("tab", "\t"), ("blank", " ")):
        line = _commas(_joined(mark))
        found.append(Form(f"decimal comma, {title}", line, _head(mark), _named()))
    head, named = _head(","), _named()
    units = _head(",", "ms", ("V", "g", "g", "g"))
    found += [
        Form("CR LF", _joined(","), head, named, end="\r\n"),
        Form("CR", _joined(","), head, named, end="\r"),
        Form("byte-order mark", _joined(","), head, named, encode="utf-8-sig"),
        Form("UTF-16", _joined(","), head, named, encode="utf-16"),
        Form("UTF-16, big end, no mark", _joined(","), head, named, encode="utf-16-be"),
        Form("degree in Latin-1", _joined(","), _head(",", "t_ms", DEGREE), _named(DEGREE),
             encode="latin-1"),
        Form("clock in s", _joined(","), _head(",", "t"), named, "s"),
        Form("clock in s, named time (s)", _joined(";"), _head(";", "Time (s)"), named, "s"),
        Form("clock in us", _joined(","), _head(",", "t_us"), named, "us"),
        Form("clock in us, named micros", _joined("\t"), _head("\t", "micros"), named, "us"),
        Form("clock named t", _joined(","), _head(",", "t"), named),
        Form("clock named Time", _joined(" "), _head(" ", "Time"), named),
        Form("ending comma", _around("", ","), lambda timed: head(timed) + ",", named),
        Form("ending semicolon", _around("", ";", ";"), None, _placed()),
        Form("comment above", _joined(","), lambda timed: "# a logger\n" + head(timed), named),
        Form("banner above", _joined(","), lambda timed: "Logger v2 ready!\n" + head(timed), named),
        Form("units below the header", _joined(","),
             lambda timed: head(timed) + "\n" + units(timed), named),
        Form("quotes", _each('"', '"', ","),
             lambda timed: ",".join(f'"{x}"' for x in head(timed).split(",")), named),
        Form("single quotes", _each("'", "'", ","), None, _placed()),
        Form("colours", _around("\x1b[32m", "\x1b[0m"),
             lambda timed: f"\x1b[1m{head(timed)}\x1b[0m", named),
        Form("brackets", _around("[", "]"), None, _placed()),
        Form("parentheses", _around("(", ")", ", "), None, _placed()),
        Form("braces", _around("{", "}", ", "), None, _placed()),
        Form("angles", _around("<", ">", ";"), None, _placed()),
        Form("each in brackets", _each("[", "]", ""), None, _placed()),
        Form("level", _around("[INFO] ", ""), None, _placed()),
        Form("level and tag", _around("INFO:adc:", ""), None, _placed()),
        Form("tag", _around("adc: ", ""), None, _placed()),
        Form("prompt", _around("> ", "", " "), None, _placed()),
        Form("counted prefix", _esp, None, _placed()),
        Form("units", _units, None, _placed()),
        Form("units and header", _units, _head(", "), named),
        Form("a word before", _word_first, lambda timed: "side," + head(timed), named),
        Form("switch HIGH LOW", _extra(lambda i: "HIGH" if i % 900 > 450 else "LOW"),
             _head(",", "t_ms", (*NAMES, "brake")), named),
        Form("switch on off", _extra(lambda i: "on" if i % 900 > 450 else "off", ";"),
             _head(";", "t_ms", (*NAMES, "brake")), named),
        Form("switch true false", _extra(lambda i: "true" if i % 900 > 450 else "false"), None,
             _placed()),
        Form("a constant word", _extra(lambda _: "ok"), _head(",", "t_ms", (*NAMES, "state")),
             named),
        Form("empty fields", _sometimes(""), _head(",", "t_ms", MORE), named),
        Form("nan", _sometimes("nan"), _head(",", "t_ms", MORE), named),
        Form("null", _sometimes("null"), _head(",", "t_ms", MORE), named),
        Form("N/A", _sometimes("N/A"), None, _placed()),
        Form("two dashes", _sometimes("--"), _head(",", "t_ms", MORE), named),
        Form("pairs", _pairs("{}={}", " "), None, named),
        Form("pairs, colons", _pairs("{}: {}", ", "), None, named),
        Form("pairs, semicolons", _pairs("{}={}", ";"), None, named),
        Form("pairs, bars", _pairs("{} = {}", " | "), None, named),
        Form("labels and units", _labels, None, _named(("Gas pedal", "Acc X", "Acc Y", "Acc Z"))),
        Form("a time, then labels", _unnamed, None,
             _named(("Gas pedal", "Acc X", "Acc Y", "Acc Z"))),
        Form("a time, then pairs", lambda s, n: (s or "") + "\t" + _pairs("{}={}", "\t")(None, n),
             None, named),
        Form("prefix and pairs", lambda s, n: "[INFO] " + _pairs("{}={}", " ")(s, n), None, named),
        Form("JSON lines", _json(quoted=False), None, named),
        Form("JSON, numbers quoted", _json(quoted=True), None, named),
        Form("JSON with null", _json(quoted=False, more=', "temp": null'), None, named),
        Form("JSON array", _around("[", "]", ", "), None, _placed()),
    ]  # fmt: skip
    return found


def _stamp_text(kind: str, form: Form, stamp_s: float) -> str:
    """One stamp as the form writes it."""
    if kind == "wall":
        at = datetime(2026, 5, 1, 14, 2, tzinfo=UTC) + timedelta(seconds=stamp_s)
        return at.strftime("%Y-%m-%d %H:%M:%S.") + f"{at.microsecond // 1000:03d}"
    if kind == "midnight":
        day_s = stamp_s % 86_400.0
        whole = int(day_s)
        return (
            f"{whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}."
            f"{int((day_s - whole) * 1000):03d}"
        )
    if kind == "1 Hz":
        return {"ms": f"{stamp_s * 1000:.0f}", "us": f"{stamp_s * 1e6:.0f}"}.get(
            form.clock, f"{stamp_s:.0f}"
        )
    return {"ms": f"{stamp_s * 1e3:.0f}", "us": f"{stamp_s * 1e6:.0f}"}.get(
        form.clock, f"{stamp_s:.4f}"
    )


def write_log(path: Path, form: Form, kind: str, values: Floats, rate_hz: float) -> None:
    """The log of a content."""
    times = stamps(kind, len(values), rate_hz)
    lines = [] if form.header is None else form.header(times is not None).split("\n")
    for number, row in enumerate(values):
        stamp = None if times is None else _stamp_text(kind, form, float(times[number]))
        lines.append(form.line(stamp, [f"{row[0]:.4f}", *(f"{x:.5f}" for x in row[1:])]))
    text = form.end.join(lines) + form.end
    path.write_bytes(text.encode(form.encode))


def run(*arguments: str) -> tuple[int, str, str]:
    """One command in this process: exit code, stdout, stderr."""
    out, err = io.StringIO(), io.StringIO()
    code = 0
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            calib_main(list(arguments))
        except SystemExit as ended:
            code = int(ended.code or 0)
    return code, out.getvalue(), err.getvalue()


@dataclass(frozen=True)
class Outcome:
    """What one case came to: right, refused or wrong, and why.

    A rig file that the command refuses to work with (exit 2) needs a hand edit.
    """

    form: str
    kind: str
    content: str
    word: str
    why: str = ""
    gaps: int = 0
    scatter_off: float | None = None
    unedited: bool = True  # the command took the rig file as setup had left it


def judge_case(case: tuple[int, str, str]) -> Outcome:
    """Write, set up and judge one log."""
    number, kind, content = case
    form = forms()[number]
    values = contents(content)
    with tempfile.TemporaryDirectory(prefix="strangers-") as folder:
        os.environ["COLUMNS"] = "100"
        log, rig = Path(folder) / "log.txt", Path(folder) / "rig.toml"
        write_log(log, form, kind, values, RATES_HZ[content])
        try:
            return _judged(form, kind, content, log, rig, values)
        except Exception as error:  # a traceback is the worst outcome of all
            return Outcome(form.name, kind, content, "wrong", f"{type(error).__name__}: {error}")


def _judged(form: Form, kind: str, content: str, log: Path, rig: Path, values: Floats) -> Outcome:
    counted_last = form.line is _esp and kind not in ("wall", "midnight")
    names = form.names(kind != "none" and not counted_last)
    options: list[str] = []
    for channel, name in zip(NAMES, names, strict=True):
        options += ["--column", f"{channel}={name}", "--role"]
        options += [f"{channel}=" + ("control" if channel == "throttle" else f"accel-{channel[1]}")]
        options += ["--unit", f"{channel}=" + ("V" if channel == "throttle" else "g")]
    if kind == "none":
        options += ["--rate-hz", f"{RATES_HZ[content]:g}"]
    rigged = ("--rig", str(rig), "--from", str(log), "--yes", "--json")
    code, out, err = run("setup", *rigged, *options)
    if code > 1:
        why = "setup: " + _what(out, err)
        return Outcome(form.name, kind, content, "refused", why, unedited=False)
    command = {
        "presses": ("travel", "throttle"), "rest": ("still", "throttle"), "poses": ("poses",)
    }[content]  # fmt: skip
    code, out, err = run(*command, *rigged)
    if code > 1:
        why = _what(out, err)
        return Outcome(form.name, kind, content, "refused", why, unedited=code != WRONG_USE)
    if "NaN" in out or " nan" in out:
        return Outcome(form.name, kind, content, "wrong", "NaN in the document")
    return _held_against(form, kind, content, json.loads(out), values)


def _what(out: str, err: str) -> str:
    try:
        return str(json.loads(out)["what"])[:160]
    except (ValueError, KeyError):
        return err.strip()[-160:]


def _held_against(
    form: Form, kind: str, content: str, document: dict[str, Any], values: Floats
) -> Outcome:
    """The outcome by the reference."""
    gaps = int(document["capture"]["gaps"])
    trusted = document["verdict"] in ("pass", "caution")
    off: float | None = None
    if content == "presses":
        rest, full = document["rest"], document["full"]
        faults = [
            *([] if rest and abs(rest["mean"] - REST_V) < 0.005 else ["rest"]),
            *([] if full and abs(full["mean"] - FULL_V) < 0.005 else ["full"]),
            *([] if document["presses"] == 6 else [f"{document['presses']} presses"]),
        ]
        back = document["return_s"]["median"]
        if back is not None and abs(back - 0.12) > (1.1 if kind == "1 Hz" else 0.06):
            faults.append(f"return {back:.3f} s")
    elif content == "rest":
        reference = overlapping_deviation(values[:, 0], round(RATES_HZ["rest"]))
        tau, sigma = np.array(document["tau_s"]), np.array(document["sigma"])
        off = float(np.interp(0.0, np.log(tau), np.log(sigma / reference))) if len(tau) else 9.9
        faults = [] if abs(off) < MOST_SCATTER_OFF else [f"scatter at 1 s off by {100 * off:.0f} %"]
        if document["hold_s"] and abs(document["hold_s"] - REST_S) > 5.0:
            faults.append(f"{document['hold_s']:.1f} s of rest")
    else:
        bias = document["bias"]
        faults = [] if bias and float(np.abs(np.array(bias) - BIAS_G).max()) < 0.003 else ["bias"]
    made_up = [] if gaps == 0 else [f"{gaps} gaps made up"]
    faults += made_up
    if not faults and trusted:
        return Outcome(form.name, kind, content, "right", gaps=gaps, scatter_off=off)
    why = "; ".join(faults) or "; ".join(
        each["text"] for each in document["findings"] if each["severity"] in ("fail", "unknown")
    )
    return Outcome(form.name, kind, content, "wrong" if trusted else "refused", why, gaps, off)


def report(outcomes: Sequence[Outcome]) -> tuple[str, bool]:
    """Tables and bars as Markdown, and whether the bars are met."""
    words = Counter(each.word for each in outcomes)
    total = len(outcomes)
    rows = [
        [kind, *(
            "/".join(
                str(sum(o.word == word for o in outcomes if (o.kind, o.content) == (kind, content)))
                for word in ("right", "refused", "wrong")
            )
            for content in CONTENTS
        )]
        for kind in KINDS
    ]  # fmt: skip
    gaps = sum(each.gaps for each in outcomes)
    bursts = (o.scatter_off for o in outcomes if o.kind == "bursts")
    offs = [abs(off) for off in bursts if off is not None]
    in_bursts = [o for o in outcomes if (o.kind, o.content) == ("bursts", "presses")]
    found = sum(each.word == "right" for each in in_bursts)
    unedited = sum(each.unedited for each in outcomes)
    met = (
        words["wrong"] == 0
        and words["refused"] <= MOST_REFUSED * total
        and gaps == 0
        and max(offs, default=0.0) <= MOST_SCATTER_OFF
        and unedited >= LEAST_UNEDITED * total
    )
    text = (
        f"{len({o.form for o in outcomes})} line formats, each setup and command through the "
        f"command line: {words['right']} right, {words['refused']} refused, {words['wrong']} wrong "
        f"of {total}; {gaps} gaps made up; scatter at 1 s on bursts off by at most "
        f"{100 * max(offs, default=0.0):.1f} %; all presses found in {found} of {len(in_bursts)} "
        f"logs in bursts; rig files taken as setup made them, {unedited} of {total}. "
        "Right/refused/wrong:\n\n"
        + ledger.table(["time", *CONTENTS], rows)
        + f"\n\nBars (wrong 0, refused {100 * MOST_REFUSED:.0f} %, gaps 0, scatter "
        f"{100 * MOST_SCATTER_OFF:.0f} %, unedited {100 * LEAST_UNEDITED:.0f} %): "
        f"{'met' if met else 'NOT met'}. Columns, roles and units were stated to setup as "
        "options; a log without a clock was given its rate."
    )
    return text, met


def main() -> int:
    """The corpus."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--formats", type=int, default=1, help="take every Nth format")
    parser.add_argument("--rotate", action="store_true", help="one content a format and time")
    parser.add_argument("--jobs", type=int, default=1)
    given = parser.parse_args()
    numbers = range(0, len(forms()), given.formats)
    cases = list(itertools.product(numbers, KINDS, CONTENTS))
    if given.rotate:
        cases = [
            case
            for case in cases
            if (case[0] + KINDS.index(case[1]) + CONTENTS.index(case[2])) % len(CONTENTS) == 0
        ]
    start_s = time.monotonic()
    outcomes: list[Outcome] = []
    with Pool(given.jobs) as pool:
        for each in pool.imap(judge_case, cases, chunksize=4):
            outcomes.append(each)
            if each.word != "right":
                print(f"{each.word:8} {each.form} | {each.kind} | {each.content}: {each.why}")
            if len(outcomes) % 24 == 0:
                print(f"{len(outcomes)} of {len(cases)}", flush=True)
    body, met = report(outcomes)
    print(body, f"\n{time.monotonic() - start_s:.0f} s", file=sys.stderr)
    if given.formats == 1:
        arguments = "--rotate" if given.rotate else ""
        ledger.write("strangers", "Logs as strangers write them", body, arguments)
    return 0 if met else 1


if __name__ == "__main__":
    raise SystemExit(main())
