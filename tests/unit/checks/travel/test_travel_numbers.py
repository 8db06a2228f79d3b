from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from calib.checks.travel.judgement import TravelSettings, judge_travel
from calib.errors import UsageError
from calib.store.documents.finding import Severity
from calib.store.documents.travel import TravelDocument
from tests.bench.hands import Hand, work
from tests.hands import COUNT_RIG, as_capture, make_rig, pressed

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
    own = judge(tmp_path, pressed(rest_V=1.0, full_V=4.0))
    shown = judge(tmp_path, pressed(rest_V=1.0, full_V=4.0), shown_rest_V=0.97, shown_full_V=3.88)
    assert (own.basis, shown.basis) == ("logger", "controller")
    assert own.dead_band is not None
    assert shown.dead_band is not None
    assert shown.dead_band.floor == pytest.approx(0.97 + 0.03 * 2.91, abs=0.002)
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
    loose = COUNT_RIG + "reference_tolerance_pct = 7.0\n"
    document = judge(tmp_path, pressed(rest_V=1.0, full_V=4.0), loose)
    assert any("calib meter" in s and "falls from 1.0" in s for s in document.advice)


def test_second_track(tmp_path: Path) -> None:
    """A second track that follows is said to agree; a missing column leaves it unknown."""
    document = judge(tmp_path, pressed(), TWO_TRACKS)
    assert document.verdict is Severity.UNKNOWN
    assert any(f.code == "second-track-unknown" for f in document.findings)


def test_noise_that_is_not_normal_is_told(tmp_path: Path) -> None:
    """Noise with a plain tail is told, and its limit comes from its own tail."""
    rng = np.random.default_rng(6)
    volts = pressed(hold_s=3.0, noise_V=0.0)
    volts = volts + 0.004 * (rng.exponential(size=volts.shape) - 1.0)
    plain = 'role = "control"\ncolumn = "a0"\nunit = "V"\n'
    document = judge(tmp_path, volts, f"[channels.throttle]\n{plain}")
    found = [f for f in document.findings if f.code == "noise-not-normal"]
    assert found
    assert "extrapolated" in found[0].text
