from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from calib.checks.travel.judgement import judge_travel
from calib.checks.travel.numbers import TravelSettings
from calib.errors import UsageError
from calib.store.capture import read_capture
from calib.store.capture_writer import CaptureWriter
from calib.store.documents.finding import Severity
from calib.store.documents.travel import TravelDocument
from calib.store.samples import Samples
from tests.bench.hands import Hand, work
from tests.hands import COUNT_RIG, NOON, as_capture, as_samples, make_rig, pressed

TWO_TRACKS = """\
[channels.throttle]
role = "control"
column = "a0"
unit = "V"
second_track = "throttle_b"

[channels.throttle_b]
role = "control"
column = "a1"
unit = "V"
"""


def judge(
    folder: Path, volts: np.ndarray, rig_text: str = COUNT_RIG, **set_: float
) -> TravelDocument:
    """The document of a control that read `volts`, on a 10-bit logger unless said."""
    folder = folder / str(len(list(folder.iterdir())))
    folder.mkdir()
    rig = make_rig(folder, rig_text)
    readings = np.floor(volts * 1024.0 / 5.0) if 'unit = "count"' in rig_text else volts
    capture = as_capture(folder, rig, readings)
    return judge_travel(capture, rig, "throttle", TravelSettings(**set_), ())  # type: ignore[arg-type]


def test_budget_is_the_mean_s_uncertainty(tmp_path: Path) -> None:
    """The budget's lines are in order of size and their squares sum to the mean's u."""
    document = judge(tmp_path, pressed())
    assert document.rest is not None
    shares = [line.u for line in document.budget]
    assert shares == sorted(shares, reverse=True)
    assert sum(u**2 for u in shares) == pytest.approx(document.rest.u**2)
    assert {line.type for line in document.budget} == {"A", "B"}
    assert document.budget_full


def test_controller_s_own_volts(tmp_path: Path) -> None:
    """With both shown values the band is in the controller's volts, and says so."""
    unstated = COUNT_RIG.replace("reference_tolerance_pct = 1\n", "")
    volts = pressed(rest_V=1.0, full_V=4.0)
    own = judge(tmp_path, volts, unstated)
    shown = judge(tmp_path, volts, unstated, shown_rest_V=0.97, shown_full_V=3.88)
    assert (own.basis, shown.basis) == ("logger", "controller")
    assert own.dead_band is not None
    assert shown.dead_band is not None
    assert shown.dead_band.floor == pytest.approx(0.9725 + 0.03 * 2.91, abs=0.001)
    assert shown.dead_band.start >= (shown.dead_band.floor or 0.0)
    assert shown.dead_band.end <= 3.88
    assert not any(f.code == "scales-disagree" for f in shown.findings)


def test_scales_that_disagree(tmp_path: Path) -> None:
    """A controller that shows half a volt less blames ground and divider before the sensor."""
    document = judge(tmp_path, pressed(rest_V=1.0, full_V=4.0), shown_rest_V=0.5, shown_full_V=3.5)
    found = [f for f in document.findings if f.code == "scales-disagree"]
    assert [f.severity for f in found] == [Severity.UNKNOWN, Severity.UNKNOWN]
    assert "ground" in found[0].action


def test_one_shown_value_makes_no_scale(tmp_path: Path) -> None:
    """One shown value alone is wrong use; two that run the other way leave it unknown."""
    with pytest.raises(UsageError, match="give both"):
        judge(tmp_path, pressed(), shown_rest_V=0.8)
    document = judge(tmp_path, pressed(), shown_rest_V=4.0, shown_full_V=1.0)
    assert document.verdict is Severity.UNKNOWN
    assert any(f.code == "shown-values-odd" for f in document.findings)


def test_floor_or_limit_is_said(tmp_path: Path) -> None:
    """A quiet control is decided by the floor, one that wanders by the limit."""
    quiet = judge(tmp_path, pressed(rest_V=1.0, full_V=4.0))
    hand = Hand(rate_hz=100.0, hold_s=(0.6, 1.0), move_s=(0.1, 0.2), sd_between_V=0.02)
    wild = judge(tmp_path, work(hand, np.random.default_rng(5)).volts)
    assert quiet.dead_band is not None
    assert wild.dead_band is not None
    assert quiet.dead_band.start_decided_by == "floor"
    assert wild.dead_band.start_decided_by == "limit"
    assert any("Ten presses" in sentence for sentence in wild.advice)


def test_truing_is_advised_where_it_would_help(tmp_path: Path) -> None:
    """A loose reference brings the advice to true the logger, with both figures."""
    loose = COUNT_RIG.replace("tolerance_pct = 1", "tolerance_pct = 7.0")
    document = judge(tmp_path, pressed(rest_V=1.0, full_V=4.0), loose)
    assert any("calib meter" in s and "falls from 1.0" in s for s in document.advice)


def test_second_track(tmp_path: Path) -> None:
    """A second track that follows is said to agree; a missing column leaves it unknown."""
    document = judge(tmp_path, pressed(), TWO_TRACKS)
    assert document.verdict is Severity.UNKNOWN
    assert any(f.code == "second-track-unknown" for f in document.findings)


def test_a_tail_of_its_own_is_no_news(tmp_path: Path) -> None:
    """Noise with a plain tail has its limit from that tail, and nobody is told about it."""
    rng = np.random.default_rng(6)
    volts = pressed(hold_s=3.0, noise_V=0.0)
    plain = 'role = "control"\ncolumn = "a0"\nunit = "V"\n'
    even, odd = (
        judge(tmp_path, volts + 0.004 * noise, f"[channels.throttle]\n{plain}")
        for noise in (rng.normal(size=volts.shape), rng.exponential(size=volts.shape) - 1.0)
    )
    assert not any("normal" in f.code for document in (even, odd) for f in document.findings)
    assert even.rest is not None
    assert odd.rest is not None
    assert even.rest.limit_high is not None
    assert odd.rest.limit_high is not None
    assert odd.rest.limit_high - odd.rest.mean > 1.3 * (even.rest.limit_high - even.rest.mean)


RAIL = """\
[channels.throttle]
role = "control"
column = "a0"
unit = "V"
supply = "rail"

[channels.rail]
role = "supply"
column = "a1"
unit = "V"
"""


def test_the_logged_supply_bounds_every_number(tmp_path: Path) -> None:
    """On a logged rail of 3.3 V no threshold lies above it, and a small span is a share of it."""
    rig = make_rig(tmp_path, RAIL)
    volts = pressed(rest_V=0.6, full_V=2.5)
    rail = np.full(volts.shape, 3.3) + 0.001 * np.random.default_rng(7).normal(size=volts.shape)
    path = tmp_path / "captures" / "rail.csv"
    with CaptureWriter(path, rig, ["a0", "a1"], command="travel", started=NOON) as writer:
        both = as_samples(volts)
        writer.append(
            Samples(
                time_s=both.time_s,
                arrival_s=both.arrival_s,
                values=np.column_stack([volts, rail]),
                rows=[f"{a:.9g},{b:.9g}" for a, b in zip(volts, rail, strict=True)],
            )
        )
    document = judge_travel(read_capture(path), rig, "throttle", TravelSettings(), ())
    window = document.fault_window
    assert document.supply is not None
    assert document.supply.origin == "logged"
    assert window is not None
    assert window.high is not None
    assert 2.6 < window.high < 3.3
    assert not any(f.code == "small-span" for f in document.findings)


@pytest.mark.parametrize(("line", "origin"), [("", "assumed"), ("supply_V = 4.8\n", "stated")])
def test_an_unlogged_supply_is_stated_or_assumed(tmp_path: Path, line: str, origin: str) -> None:
    """Without a rail in the log the rig file's own figure counts; without one 5 V, called so."""
    document = judge(tmp_path, pressed(), COUNT_RIG + line)
    assert document.supply is not None
    assert document.supply.origin == origin
    assert (origin == "assumed") == any(f.code == "supply-assumed" for f in document.findings)


def test_no_threshold_beyond_what_the_logger_reads(tmp_path: Path) -> None:
    """A 12-bit logger on 3.3 V without a divider gets no threshold above 3.3 V, and is told why."""
    rig_text = COUNT_RIG.replace("1024", "4096").replace("5.0", "3.3")
    rig = make_rig(tmp_path, rig_text)
    counts = np.floor(pressed(rest_V=0.8, full_V=2.9) * 4096.0 / 3.3)
    document = judge_travel(
        as_capture(tmp_path, rig, counts), rig, "throttle", TravelSettings(), ()
    )
    assert document.fault_window is not None
    assert document.fault_window.high is None
    assert any(f.code == "beyond-the-logger" for f in document.findings)


def test_volts_without_a_stated_step_have_one(tmp_path: Path) -> None:
    """A quiet logger that sends volts in two decimals gets no limit within its own step."""
    plain = 'role = "control"\ncolumn = "a0"\nunit = "V"\n'
    volts = np.round(pressed(rest_V=0.913, noise_V=0.0003), 2)
    document = judge(tmp_path, volts, f"[channels.throttle]\n{plain}")
    assert document.rest is not None
    assert document.rest.limit_high is not None
    assert document.rest.limit_high - document.rest.mean > 0.008
    assert any("bows by ±1 step, assumed" in line.source for line in document.budget)


def test_limits_that_no_wire_can_read_are_unknown(tmp_path: Path) -> None:
    """Where the levels scatter so far that a limit would lie below ground, no number is given."""
    hand = Hand(presses=3, rate_hz=100.0, hold_s=(0.6, 1.0), move_s=(0.1, 0.2), sd_between_V=0.2)
    documents = [
        judge(tmp_path, work(hand, np.random.default_rng(seed)).volts) for seed in range(8)
    ]
    for document in documents:
        for level in (document.rest, document.full):
            if level is not None:
                for limit in (level.limit_low, level.limit_high):
                    assert limit is None or 0.0 <= limit <= 5.0
    unknown = [d for d in documents if any(f.code == "limit-outside" for f in d.findings)]
    assert unknown
    assert all(d.dead_band is None and not d.verdict.is_good for d in unknown)


ON_A_RAIL = """\
[channels.throttle]
role = "control"
column = "a0"
unit = "V"
supply_V = 3.3
"""


@pytest.mark.parametrize(("rest_V", "full_V", "where"), [
    (0.8, 3.4, "above the supply (3.3 V, stated)"), (-0.05, 2.6, "below 0 V"),
])  # fmt: skip
def test_a_level_that_no_supply_can_bring_about_is_unknown(
    tmp_path: Path, rest_V: float, full_V: float, where: str
) -> None:
    """Full travel above its rail, or rest below ground, is a wrong scale: no number, and why.

    Neither the hand nor the spread is blamed for it.
    """
    document = judge(tmp_path, pressed(rest_V=rest_V, full_V=full_V), ON_A_RAIL)
    said = {finding.code: finding for finding in document.findings}
    assert where in said["level-impossible"].text
    assert document.verdict is Severity.UNKNOWN
    assert (document.rest is None, document.full is None) == (rest_V < 0.0, full_V > 3.3)
    assert (document.dead_band, document.fault_window) == (None, None)
    assert not {"dead-travel", "limit-outside"} & set(said)


@pytest.mark.parametrize(("supply_V", "span_V", "short"), [
    (5.0, 1.95, True), (5.0, 2.05, False), (3.3, 1.28, True), (3.3, 1.36, False),
])  # fmt: skip
def test_the_least_span_goes_with_what_feeds_the_sensor(
    tmp_path: Path, supply_V: float, span_V: float, short: bool
) -> None:
    """Two volts are the least of a sensor on 5 V, and two fifths of any other supply."""
    rig_text = f"{COUNT_RIG}supply_V = {supply_V}\n"
    document = judge(tmp_path, pressed(rest_V=0.8, full_V=0.8 + span_V), rig_text)
    assert any(finding.code == "span-short" for finding in document.findings) is short
