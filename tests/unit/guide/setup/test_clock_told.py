"""What setup says of a clock: whether it runs as its name says."""

from __future__ import annotations

from pathlib import Path

import pytest

from calib.guide.setup.guided import Told
from calib.guide.setup.making import make_rig
from calib.guide.setup.plan import Asked, look_at
from calib.link.detect.layout import Stated, likeliest
from calib.link.detect.rate import RateFound, Tried
from calib.link.spool import Chunk
from calib.store.documents.finding import Severity

TENTH_S = 0.1


@pytest.mark.parametrize(
    ("counts", "severity"),
    [(100, Severity.PASS), (121, Severity.CAUTION), (119, Severity.PASS), (10, Severity.CAUTION)],
)
def test_a_name_that_the_pace_contradicts_is_believed_and_said(
    tmp_path: Path, counts: int, severity: Severity
) -> None:
    """A column called t_ms counts a thousand a second, give or take a fifth."""
    lines = [b"t_ms,a0\r\n", *(b"%d,512\r\n" % (counts * index) for index in range(60))]
    chunks = [Chunk(line, TENTH_S * index) for index, line in enumerate(lines)]
    heard = likeliest(chunks, Stated(), whole_start=True)
    rate = Tried(115200, heard=heard)
    sent = look_at(heard, (), RateFound(rate, heard, (rate,)), "/dev/x")
    document = make_rig(tmp_path / "rig.toml", None, Told((), (), sent), Asked(), ())
    (told,) = (each for each in document.findings if each.code == "clock")
    assert told.severity is severity
    assert told.value == pytest.approx(10.0 * counts)
    unit = next(each for each in document.settings if (each.table, each.key) == ("time", "unit"))
    assert unit.value == "ms"
