"""Whether an ordinary hand gets right values or a word: `python -m tests.bench.ordinary_hands`.

Nobody works a control as a test bench does. The kinds of hand below are what people do: squeeze in
a tenth of a second or in fifteen, tremble, tap twice, leave the thumb on, sag while they hold, stop
in two stages, halt on the way in or out. Every capture is judged as `calib travel` judges it, from
50 Hz to 1 kHz, on 8 to 12 bits and on volts with two and three decimals. The rig file states a
reference of ±1 %: what one that nobody held against a meter costs (±7 %, a tenth of the travel at
four volts) is no hand's doing. Exit code 1 when a bar is missed.
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
import tempfile
import zlib
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from calib.checks.travel.judgement import judge_travel
from calib.checks.travel.numbers import TravelSettings
from calib.store.capture import Capture
from calib.store.documents.finding import Severity
from calib.store.documents.travel import TravelDocument
from calib.store.rig import Rig, load_rig
from tests.bench.ledger import table, write
from tests.bench.ordinary import KINDS, Kind, Logger, draw_logger, path_of, read

BEYOND_REST_PCT = 10.0
"""A start beyond true rest by more than this share of the true span is wrong, and so is one on the
far side of rest."""

SHORT_OF_FULL_PCT = 15.0
"""An end short of the true stop by more than this share of the true span is wrong, and so is one
beyond the stop."""

MOST_WRONG = 0
"""Captures with verdict pass or caution and a wrong start or end."""

LEAST_BENIGN = 0.95
"""Share of the captures of each benign kind that get values: squeezes of 0.2 to 5 s, sags to 2 %,
stops in two stages to 2 %, thumbs to 1 %, tremble to 1 % either way."""

MOST_FALSE = 0
"""Captures said to have drop-outs, to be reversed or never to have moved, where they did not."""

TYPED = (Severity.PASS, Severity.CAUTION)
FALSE_CODES = ("drop-outs", "drop-outs-low", "drop-outs-high", "no-answer", "never-released")
TURNED_CODES = ("reversed", "which-end-is-rest")


@dataclass(frozen=True)
class Outcome:
    """What one capture came to.

    Attributes:
        valued: It got values to type in.
        wrong: They lie outside the bars.
        false: Codes that say what was not so.
        codes: Codes of its findings beyond pass.
        start_pct: Start beyond true rest, per cent of the true span; None without a value.
        short_pct: End short of the true stop, likewise.
        which: Seed and logger, to look at it again.
    """

    valued: bool
    wrong: bool
    false: tuple[str, ...]
    codes: tuple[str, ...]
    start_pct: float | None
    short_pct: float | None
    which: str


def rig_of(logger: Logger, folder: Path) -> Rig:
    """The rig file of a logger."""
    scale = (
        'unit = "V"\n'
        if logger.bits is None
        else f'unit = "count"\nfull_scale = {2**logger.bits}\nreference_V = 5.0\n'
    )
    path = folder / f"{logger.name}.toml"
    if not path.exists():
        head = '[channels.throttle]\nrole = "control"\ncolumn = "a0"\n'
        head += "reference_tolerance_pct = 1.0\n"
        path.write_text(head + scale, encoding="utf-8")
    return load_rig(path)


def judged(kind: Kind, seed: int, folder: Path) -> tuple[Logger, TravelDocument]:
    """One capture of a kind of hand, judged as `calib travel` judges it."""
    rng = np.random.default_rng([zlib.crc32(kind.name.encode()), seed])
    logger = draw_logger(rng)
    time_s, readings = read(path_of(kind, rng), logger, rng)
    capture = Capture(
        path=Path("hand.csv"),
        digest=lambda: "0" * 64,
        columns=("a0",),
        time_s=time_s,
        arrival=lambda: time_s,
        values={"a0": readings},
    )
    return logger, judge_travel(capture, rig_of(logger, folder), "throttle", TravelSettings(), ())


def outcome(kind: Kind, seed: int, folder: Path) -> Outcome:
    """One capture held against the truth."""
    logger, document = judged(kind, seed, folder)
    span_V = logger.full_V - logger.rest_V
    band = document.dead_band
    start_pct = short_pct = None
    if band is not None:
        start_pct = 100.0 * (band.start - logger.rest_V) / span_V
        short_pct = 100.0 * (logger.full_V - band.end) / span_V
    valued = band is not None and document.verdict in TYPED
    right = (
        start_pct is not None
        and short_pct is not None
        and 0.0 <= start_pct <= BEYOND_REST_PCT
        and 0.0 <= short_pct <= SHORT_OF_FULL_PCT
    )
    codes = tuple(each.code for each in document.findings if each.severity is not Severity.PASS)
    turned = TURNED_CODES if span_V > 0.0 else ()
    return Outcome(
        valued=valued,
        wrong=valued and not right,
        false=tuple(code for code in codes if code in (*FALSE_CODES, *turned)),
        codes=codes,
        start_pct=start_pct,
        short_pct=short_pct,
        which=f"{kind.name}, seed {seed}: {logger}",
    )


def run(job: tuple[int, int]) -> list[Outcome]:
    """All captures of one kind."""
    index, captures = job
    with tempfile.TemporaryDirectory() as folder:
        return [outcome(KINDS[index], seed, Path(folder)) for seed in range(captures)]


def line(kind: Kind, outcomes: list[Outcome]) -> tuple[str, ...]:
    """One line of the table."""
    valued = [each for each in outcomes if each.valued]
    starts = [each.start_pct for each in valued if each.start_pct is not None]
    shorts = [each.short_pct for each in valued if each.short_pct is not None]
    told = Counter(code for each in outcomes for code in set(each.codes))
    return (
        kind.name + (" (benign)" if kind.benign else ""),
        f"{len(valued) / len(outcomes):.3f}",
        str(sum(each.wrong for each in outcomes)),
        str(sum(bool(each.false) for each in outcomes)),
        f"{np.median(starts):.1f}, {np.max(starts):.1f}" if starts else "",
        f"{np.median(shorts):.1f}, {np.max(shorts):.1f}" if shorts else "",
        ", ".join(f"{code} {count / len(outcomes):.2f}" for code, count in told.most_common(4)),
    )


def main() -> int:
    """Run the campaign, print the table and keep it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--captures", type=int, default=200)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--only", default="", help="kinds with this in their name")
    parser.add_argument("--show", action="store_true", help="name the captures that went wrong")
    options = parser.parse_args()
    picked = [index for index, kind in enumerate(KINDS) if options.only in kind.name]
    with multiprocessing.Pool(options.processes) as pool:
        results = pool.map(run, [(index, options.captures) for index in picked], chunksize=1)
    rows = [line(KINDS[index], each) for index, each in zip(picked, results, strict=True)]
    every = [each for outcomes in results for each in outcomes]
    wrong = sum(each.wrong for each in every)
    false = sum(bool(each.false) for each in every)
    least = min(
        (
            sum(each.valued for each in outcomes) / len(outcomes)
            for index, outcomes in zip(picked, results, strict=True)
            if KINDS[index].benign
        ),
        default=1.0,
    )
    met = wrong <= MOST_WRONG and least >= LEAST_BENIGN and false <= MOST_FALSE
    header = (
        "hand", "get values", "wrong", "falsely told", "start beyond rest %: median, most",
        "end short of the stop %: median, most", "told",
    )  # fmt: skip
    body = (
        f"{table(header, rows)}\n\n{len(every)} captures; {wrong} wrong values (bar "
        f"{MOST_WRONG}), {false} falsely told (bar {MOST_FALSE}), fewest values of a benign hand "
        f"{least:.3f} (bar {LEAST_BENIGN}): bars {'met' if met else 'MISSED'}.\n"
    )
    sys.stdout.write(body)
    if options.show:
        for each in every:
            if each.wrong or each.false:
                sys.stdout.write(
                    f"{each.which}: {each.start_pct}, {each.short_pct}, {each.codes}\n"
                )
    elif not options.only:
        write("ordinary_hands", "Ordinary hands", body)
    return 0 if met else 1


if __name__ == "__main__":
    raise SystemExit(main())
