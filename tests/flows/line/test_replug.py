from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import numpy as np
import pytest
from serial.tools import list_ports
from serial.tools.list_ports_common import ListPortInfo

import calib.link.health
import calib.link.line
from calib.errors import PortError
from calib.link.line import open_line
from calib.store.rig import Rig, load_rig
from calib.store.samples import EventKind, Samples
from tests.feeder import UNPLUG, Feeder, Step
from tests.tools import needs_posix


@pytest.fixture(autouse=True)
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Short patience, so that the tests are fast."""
    monkeypatch.setattr(calib.link.health, "PATIENCE_S", 1.0)
    monkeypatch.setattr(calib.link.line, "REPLUG_WAIT_S", 1.5)
    monkeypatch.setattr(calib.link.line, "LOOK_S", 0.02)


def rig_for(folder: Path, port: str | Path) -> Rig:
    """A rig file with a millisecond clock."""
    path = folder / "rig.toml"
    path.write_text(
        f'[link]\nport = "{port}"\n[time]\ncolumn = "t"\n'
        '[channels.lever]\nrole = "control"\ncolumn = "a"\nunit = "V"\n',
        encoding="utf-8",
    )
    return load_rig(path)


def logger(first: int, batches: int) -> Iterator[Step]:
    """A header, then ten lines each hundredth of a second; the clock starts at nought."""
    yield b"t,a\n"
    for batch in range(batches):
        numbers = range(10 * batch, 10 * batch + 10)
        yield b"".join(b"%d,%d\n" % (10 * n, first + n) for n in numbers)
        yield 0.01


def usb(path: str, serial_number: str) -> ListPortInfo:
    """A USB device on a port."""
    info = ListPortInfo(path)
    info.device, info.vid, info.pid, info.serial_number = path, 1, 2, serial_number
    return info


def kinds(runs: list[Samples]) -> list[EventKind]:
    """What happened on the line."""
    return [event.kind for run in runs for event in run.events]


def test_a_logger_comes_back_under_another_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Known again by its USB serial number; the break is an event, and nothing is joined."""
    here: list[ListPortInfo] = []
    monkeypatch.setattr(list_ports, "comports", lambda: here)
    runs: list[Samples] = []
    with (
        Feeder([*logger(0, 10), UNPLUG]) as before,
        Feeder(logger(1000, 100)) as after,
        Feeder(logger(5000, 100)) as stranger,
    ):
        here.append(usb(before.path, "A1"))
        with open_line(rig_for(tmp_path, before.path)) as line:
            for run in line.blocks():
                runs.append(run)
                if sum(map(len, runs)) >= 100 and len(here) == 1:
                    here[:] = [usb(stranger.path, "B2"), usb(after.path, "A1")]
                if sum(map(len, runs)) >= 300:
                    break
        assert not stranger.sent
    values = np.concatenate([run.values for run in runs])[:, 1]
    times = np.concatenate([run.time_s for run in runs])
    assert values[:100].tolist() == list(range(100))
    assert values[100] >= 1000
    assert (np.diff(values[100:]) == 1).all()
    (replug,) = [event for run in runs for event in run.events if event.kind is EventKind.REPLUG]
    assert replug.time_s == pytest.approx(times[99])
    assert times[100] - times[99] > 0.3  # what the computer saw pass
    assert (np.diff(times) > 0).all()


def test_a_link_of_its_own_is_opened_again(tmp_path: Path) -> None:
    """Where there is no USB identity, a name that belongs to the logger serves, such as by-id."""
    name = tmp_path / "by-id"
    runs: list[Samples] = []
    with Feeder([*logger(0, 10), UNPLUG]) as before, Feeder(logger(1000, 100)) as after:
        name.symlink_to(before.path)
        with open_line(rig_for(tmp_path, name)) as line:
            for run in line.blocks():
                runs.append(run)
                if sum(map(len, runs)) == 100 and str(name.readlink()) == before.path:
                    name.unlink()
                    name.symlink_to(after.path)
                if sum(map(len, runs)) >= 200:
                    break
    assert EventKind.REPLUG in kinds(runs)
    assert np.concatenate([run.values for run in runs])[-1, 1] >= 1000


def test_a_logger_that_stays_away_is_told(tmp_path: Path) -> None:
    """After the wait, the first error is raised; what came before was given out."""
    name = tmp_path / "by-id"
    runs: list[Samples] = []
    with Feeder([*logger(0, 10), UNPLUG]) as before:
        name.symlink_to(before.path)
        with (
            open_line(rig_for(tmp_path, name)) as line,
            pytest.raises(PortError, match="has gone: unplugged"),
        ):
            runs.extend(line.blocks())
    assert sum(map(len, runs)) == 100
    assert len(runs) > 10, "while it waits, empty runs keep the screen alive"


@needs_posix
def test_a_second_program_that_joins_is_named(tmp_path: Path) -> None:
    """Another reader takes bytes out of lines: rejected lines make calib look who it is."""
    steal = (
        "import os, sys, time\n"
        "fd = os.open(sys.argv[1], os.O_RDWR | os.O_NOCTTY)\n"
        "print('open', flush=True)\n"
        "while True:\n    os.read(fd, 50)\n    time.sleep(0.01)\n"
    )
    with Feeder(logger(0, 2000)) as feeder, open_line(rig_for(tmp_path, feeder.path)) as line:
        blocks = line.blocks()
        next(blocks)
        with subprocess.Popen(
            [sys.executable, "-c", steal, feeder.path], stdout=subprocess.PIPE
        ) as other:
            try:
                assert other.stdout is not None
                other.stdout.readline()
                with pytest.raises(PortError, match=rf"reads it too: .*\(process {other.pid}\)"):
                    for _ in blocks:
                        pass
            finally:
                other.kill()


def _left_to_a_stranger(folder: Path) -> bool:
    """A logger is unplugged and strangers come; whether one of them got its old number."""
    folder.mkdir()
    name = folder / "by-id"
    runs: list[Samples] = []
    strangers: list[Feeder] = []

    def gather(blocks: Iterator[Samples]) -> None:
        for run in blocks:
            runs.append(run)
            if not Path(before.path).exists():
                strangers.append(stack.enter_context(Feeder(logger(5000, 5))))

    with Feeder([*logger(0, 10), UNPLUG]) as before, ExitStack() as stack:
        name.symlink_to(before.path)
        with (
            open_line(rig_for(folder, name)) as line,
            pytest.raises(PortError, match="has gone"),
        ):
            gather(line.blocks())
        assert not any(stranger.sent for stranger in strangers)
        assert sum(map(len, runs)) == 100
        return before.path in [stranger.path for stranger in strangers]


def test_a_number_that_somebody_else_has_by_now_is_not_opened(tmp_path: Path) -> None:
    """A pseudo-terminal's number is given out again: a name that leads to the old one is left.

    Another program of this machine may be quicker than our stranger, but not each time.
    """
    assert any(_left_to_a_stranger(tmp_path / f"try{number}") for number in range(5))
