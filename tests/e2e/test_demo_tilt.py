"""The tilt part of the demo: what was measured over the pseudo-terminal is what the bench is."""

from __future__ import annotations

from pathlib import Path
from typing import TypeVar

import pytest

from calib.cli.demo import SEED
from calib.mule.bench import Bench, draw_bench
from calib.store.documents.finding import Document, Severity
from calib.store.documents.tilt import (
    LevelDocument,
    PosesDocument,
    SignsDocument,
    StillDocument,
    SurgeDocument,
    TrustDocument,
)
from calib.store.records import load_records
from tests.e2e.conftest import Ran

D = TypeVar("D", bound=Document)


@pytest.fixture(scope="module")
def bench() -> Bench:
    """The very bench that the demo draws."""
    return draw_bench(SEED)


def _newest(folder: Path, kind: type[D]) -> D:
    return [each.document for each in load_records(folder) if isinstance(each.document, kind)][-1]


def test_the_zero_is_that_of_the_simulated_sensor(plain: Ran, bench: Bench) -> None:
    """Its own offset, as a logger with its own reference sees it, within the stated 95 %."""
    level = _newest(plain.out, LevelDocument)
    volts = bench.pitch.zero_v + bench.pitch.v_per_deg * bench.pitch.offset_deg
    seen_V = volts * 5.0 / bench.logger.converter.reference_v
    truth = (seen_V - bench.pitch.zero_v) / bench.pitch.v_per_deg
    assert level.pitch is not None
    assert level.method == "turned"
    # half a code of skew is a tenth of a degree here, and no part of the stated uncertainty
    assert level.pitch.zero == pytest.approx(truth, abs=level.pitch.u95 + 0.13)


def test_floor_and_rider_are_those_of_the_simulated_garage(plain: Ran, bench: Bench) -> None:
    """The floor's rise along the machine, and how far the tail sags under a rider."""
    pitch = _newest(plain.out, LevelDocument).pitch
    assert pitch is not None
    assert pitch.floor_slope is not None
    assert pitch.floor_slope_u is not None
    rise = abs(bench.garage.floor.rise_x_deg)
    assert abs(pitch.floor_slope) == pytest.approx(rise, abs=3 * pitch.floor_slope_u)
    assert pitch.rider_tilt == pytest.approx(bench.garage.rider_tilt_deg, abs=0.6)


def test_the_truing_is_that_of_the_simulated_accelerometer(plain: Ran, bench: Bench) -> None:
    """Bias within 3 mg of the bench's own, on every axis."""
    poses = _newest(plain.out, PosesDocument)
    assert poses.claim == "full"
    assert poses.bias == pytest.approx(bench.accel.bias_g, abs=0.003)


def test_sign_surge_and_rest_pass_and_the_gate_opens(plain: Ran) -> None:
    """A sound machine with full evidence is trusted at the end of the evening."""
    signs = _newest(plain.out, SignsDocument)
    assert (signs.pitch_sign, signs.axis_ok) == (1, True)
    assert signs.lag_s == pytest.approx(0.08, abs=0.08)
    assert _newest(plain.out, SurgeDocument).fused is True
    assert _newest(plain.out, StillDocument).verdict is Severity.PASS
    trust = _newest(plain.out, TrustDocument)
    assert trust.trusted, [(e.name, e.text) for e in trust.evidence]
