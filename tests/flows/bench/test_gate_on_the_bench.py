"""The gate over one mounting of each bad kind, through the whole evening on the simulated bench.

The campaign over hundreds of them is `python -m tests.bench.gate`.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from calib.store.documents.finding import Severity
from tests.bench.gate import KINDS, bad, evening, sound


@pytest.mark.parametrize("number", range(len(KINDS)))
def test_no_bad_mounting_is_trusted(tmp_path: Path, number: int) -> None:
    """Reversed, turned, exchanged, scaled, clipped, bare, slow, drifting, dead, stale, missing."""
    document = evening(bad(number), tmp_path)
    assert not document.trusted
    assert document.verdict in (Severity.FAIL, Severity.UNKNOWN)
    assert any(e.action for e in document.evidence if e.verdict is not Severity.PASS)


@pytest.mark.parametrize("number", range(3))
def test_a_sound_mounting_is_trusted(tmp_path: Path, number: int) -> None:
    """A gate that never opens would be no gate."""
    document = evening(sound(number), tmp_path)
    why = [(e.name, e.text) for e in document.evidence if e.verdict is not Severity.PASS]
    assert document.trusted, why
