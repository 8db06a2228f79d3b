from __future__ import annotations

import time
from collections.abc import Iterator
from itertools import count, islice
from pathlib import Path

import msgspec
import numpy as np
import pytest

import calib.link.health
import calib.link.line
from calib.errors import PortError, UsageError
from calib.link.line import LiveLine, open_line
from calib.store.rig import Rig, load_rig
from calib.store.samples import EventKind, Samples
from tests.feeder import UNPLUG, Feeder, Step

RIG = """
[link]
port = "{port}"
[time]
column = "t_ms"
unit = "ms"
wrap = 4294967296
[channels.throttle]
role = "control"
column = "a0"
unit = "count"
full_scale = 1024
reference_V = 5.0
"""

HEADER = b"t_ms,a0,a1\r\n"


@pytest.fixture(autouse=True)
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Patience of half a second instead of five, so that the tests are fast."""
    monkeypatch.setattr(calib.link.health, "PATIENCE_S", 0.5)
    monkeypatch.setattr(calib.link.line, "NAMES_WAIT_S", 0.3)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Where the rig file lies."""
    return tmp_path


def rig_for(folder: Path, port: str) -> Rig:
    """A rig file for a port, read."""
    path = folder / "rig.toml"
    path.write_text(RIG.format(port=port), encoding="utf-8")
    return load_rig(path)


def lines(numbers: Iterator[int], count: int) -> bytes:
    """Lines of a logger at 100 Hz."""
    return b"".join(b"%d,%d,7\r\n" % (10 * n, n % 1024) for n in islice(numbers, count))


def listen(line: LiveLine, samples: int) -> list[Samples]:
    """Runs of samples until enough came."""
    runs = []
    for run in line.blocks():
        runs.append(run)
        if sum(map(len, runs)) >= samples:
            return runs
    return runs


def paced(batches: int) -> Iterator[Step]:
    """A header, then ten lines each hundredth of a second."""
    numbers = count()
    yield HEADER
    for _ in range(batches):
        yield lines(numbers, 10)
        yield 0.01


def test_every_line_comes_through_in_order(folder: Path) -> None:
    """What is sent after opening is received, timed by the device's clock, named by the header."""
    with Feeder(paced(50)) as feeder, open_line(rig_for(folder, feeder.path)) as line:
        assert line.columns == ("t_ms", "a0", "a1")
        runs = listen(line, 500)
    values = np.concatenate([run.values for run in runs])
    times = np.concatenate([run.time_s for run in runs])
    arrival = np.concatenate([run.arrival_s for run in runs])
    assert values[:, 1].tolist() == list(range(500))
    assert times == pytest.approx(np.arange(500) / 100)
    assert (np.diff(arrival) >= 0).all()
    assert 0 <= arrival[0] < 0.5
    assert [row for run in runs for row in run.rows][:2] == ["0,0,7", "10,1,7"]


def test_unplugging_gives_all_that_came_before(folder: Path) -> None:
    """A pseudo-terminal that goes is an unplugged logger: what it sent is kept, then it is told."""
    script = [*paced(20), UNPLUG]
    with Feeder(script) as feeder, open_line(rig_for(folder, feeder.path)) as line:
        runs: list[Samples] = []
        with pytest.raises(PortError, match="has gone: unplugged"):
            runs.extend(line.blocks())
    assert sum(map(len, runs)) == 200


def test_a_silent_port_is_told(folder: Path) -> None:
    """Nothing for the whole patience: silent, at which rate, and what to look at."""
    with Feeder([]) as feeder:
        rig = rig_for(folder, feeder.path)
        with pytest.raises(PortError, match=r"silent for .* at 115200 baud"), open_line(rig):
            pass


def test_a_logger_that_falls_silent_is_told(folder: Path) -> None:
    """The last sample is older than the patience."""
    with (
        Feeder(paced(5)) as feeder,
        open_line(rig_for(folder, feeder.path)) as line,
        pytest.raises(PortError, match=r"silent|no sample"),
    ):
        listen(line, 10_000)


def test_a_wrong_rate_is_called_so(folder: Path) -> None:
    """Mostly unprintable bytes are a wrong rate, and setup is suggested."""
    noise = bytes(np.random.default_rng(1).integers(0, 256, 4000, dtype=np.uint8))
    with Feeder([noise[i : i + 100] for i in range(0, 4000, 100)]) as feeder:
        rig = rig_for(folder, feeder.path)
        with (
            pytest.raises(PortError, match=r"mostly garbage.*wrong rate.*calib setup"),
            open_line(rig),
        ):
            pass


def test_text_in_another_layout_is_shown(folder: Path) -> None:
    """Readable text without a sample: the last line is shown, neutral."""
    with Feeder([b"hello \x1b[31m garage\r\n"] * 12) as feeder:
        rig = rig_for(folder, feeder.path)
        with (
            pytest.raises(PortError, match=r"the last line was: hello \\x1b\[31m garage"),
            open_line(rig),
        ):
            pass


def test_a_logger_without_header_needs_listed_columns(folder: Path) -> None:
    """Names cannot be guessed: it is said how to give them, and then they are taken."""
    body = [step for step in paced(80) if step != HEADER]
    with Feeder(body) as feeder:
        rig = rig_for(folder, feeder.path)
        with (
            pytest.raises(UsageError, match=r"3 columns and no header.*'columns' in"),
            open_line(rig),
        ):
            pass
    with Feeder(body) as feeder:
        rig = rig_for(folder, feeder.path)
        link = msgspec.structs.replace(rig.link, columns=("t_ms", "a0", "a1"))
        with open_line(msgspec.structs.replace(rig, link=link)) as line:
            assert line.columns == ("t_ms", "a0", "a1")


def test_a_missing_time_column_is_told(folder: Path) -> None:
    """The rig file's time column must be sent."""
    with Feeder([b"ms,a0\r\n", b"0,1\r\n10,2\r\n", 0.1]) as feeder:
        rig = rig_for(folder, feeder.path)
        with (
            pytest.raises(UsageError, match=r"time column 't_ms' is not sent.*ms, a0"),
            open_line(rig),
        ):
            pass


def test_a_restart_in_the_middle_is_an_event(folder: Path) -> None:
    """Banner, header again, time back at nought: all told, and the header is no rejected line."""
    script = [*paced(5), b"boot!\r\n", *paced(5), 1.0]
    with Feeder(script) as feeder, open_line(rig_for(folder, feeder.path)) as line:
        runs = listen(line, 100)
    events = [event.kind for run in runs for event in run.events]
    assert sorted(events) == [EventKind.BANNER, EventKind.RESET]
    assert [line.reason for run in runs for line in run.rejected] == ["not numbers in this layout"]
    assert (np.diff(np.concatenate([run.time_s for run in runs])) > 0).all()


def test_what_came_between_two_captures_is_in_neither(folder: Path) -> None:
    """Each call of blocks is a capture of its own, from nought, of what comes from then on."""
    with Feeder(paced(400)) as feeder, open_line(rig_for(folder, feeder.path)) as line:
        first = np.concatenate([run.values for run in listen(line, 100)])
        while feeder.sent < 20_000:
            time.sleep(0.01)
        runs = listen(line, 100)
    second = np.concatenate([run.values for run in runs])
    assert second[0, 1] > first[-1, 1] + 50
    assert runs[0].time_s[:1].tolist() in ([], [0.0])
    assert (np.diff(second[:, 0]) == 10).all()
    assert [line.reason for run in runs for line in run.rejected] in ([], ["part of a line"])


def test_what_came_before_a_late_first_capture_is_not_in_it(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A person who was asked to pull a wire first is not judged by what came before."""
    monkeypatch.setattr("calib.link.line.FRESH_S", 0.0)
    with Feeder(paced(400)) as feeder, open_line(rig_for(folder, feeder.path)) as line:
        while feeder.sent < 20_000:
            time.sleep(0.01)
        runs = listen(line, 100)
    values = np.concatenate([run.values for run in runs])
    assert values[0, 1] > 50
    assert runs[0].time_s[:1].tolist() in ([], [0.0])


class Burst:
    """A source that has much to give at once."""

    def __init__(self, numbers: Iterator[int]) -> None:
        """Everything is there from the start."""
        self._burst = [HEADER, *(lines(numbers, 100_000) for _ in range(3))]

    def read(self) -> bytes:
        """The burst, more than is decoded in one go; then nothing."""
        if self._burst:
            return self._burst.pop(0)
        time.sleep(0.01)
        return b""

    def close(self) -> None:
        """Nothing to let go of."""


def test_samples_that_waited_to_be_decoded_are_not_taken_for_silence(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A computer that falls behind a quick logger is late; the line is not dead for that."""
    monkeypatch.setattr(calib.link.health, "PATIENCE_S", 0.1)
    line = LiveLine(rig_for(folder, "none"), Burst(count()))
    seen = 0
    try:
        for samples in line.blocks():
            seen += len(samples)
            if seen == 300_000:
                break
            time.sleep(0.15)  # longer than the patience, as a busy analysis would be
    finally:
        line.close()
    assert seen == 300_000
