"""How long a live line waits: for names, for a first capture, for a logger to come back."""

from __future__ import annotations

import itertools
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from serial.tools import list_ports
from serial.tools.list_ports_common import ListPortInfo

import calib.link.line
from calib.errors import PortError, UsageError
from calib.link.line import LiveLine, open_line, open_source
from calib.link.spool import Chunk
from calib.link.transport import Source
from calib.store.rig import Rig
from calib.store.samples import EventKind, Samples
from tests.hands import VOLT_RIG, make_rig

STEP_S = 1.0 / 16.0
"""Each look at the queue takes so long here, which the clock can count without a rounding."""


@dataclass
class Stage:
    """The computer's clock, and what is in the queue by it; it stands in for both."""

    sends: Callable[[int], bytes | PortError]
    """By the number of the look."""
    now_s: float = 1000.0
    looks: int = 0
    is_lost: bool = False
    heard: list[str] = field(default_factory=list)
    slept_s: list[float] = field(default_factory=list)

    def monotonic(self) -> float:
        """What time it is, in s."""
        return self.now_s

    def sleep(self, seconds: float) -> None:
        """Let time pass."""
        assert seconds >= 0.0
        self.slept_s.append(seconds)
        self.now_s += seconds

    def take(self, wait_s: float) -> list[Chunk]:
        """What came within a sixteenth of a second."""
        assert wait_s == 0.08
        self.now_s += STEP_S
        data = self.sends(self.looks)
        self.looks += 1
        if isinstance(data, PortError):
            raise data
        return [Chunk(data, self.now_s)] if data else []

    def lost(self) -> bool:
        """Whether bytes were lost since the last look."""
        lost, self.is_lost = self.is_lost, False
        return lost

    def listen(self, *, on: bool) -> None:
        """Whether somebody listens."""
        self.heard.append("on" if on else "off")

    def recover(self) -> None:
        """The line is back."""
        self.heard.append("back")

    def close(self) -> None:
        """Nothing to give back."""


class Still:
    """A source that gives nothing, until it is closed."""

    def __init__(self, *, stuck: bool = False) -> None:
        """It is open."""
        self.closed = threading.Event()
        self._stuck = stuck

    def read(self) -> bytes:
        """Nothing."""
        self.closed.wait(0.001)
        return b""

    def close(self) -> None:
        """It is closed; a stuck one says that it cannot be."""
        self.closed.set()
        if self._stuck:
            raise PortError("cannot be closed.", "")


def on_stage(patch: pytest.MonkeyPatch, stage: Stage) -> None:
    """Clock and queue of a line are those of the stage."""
    patch.setattr(calib.link.line, "time", stage)
    patch.setattr(calib.link.line, "Spool", lambda: stage)


def rig_named(folder: Path, column: str = '"a0"', more: str = "") -> Rig:
    """A rig with one lever in a column."""
    return make_rig(folder, VOLT_RIG.replace('"a0"', column) + more)


def row(number: int) -> bytes:
    """One line of a logger without a header."""
    return b"%d,%d\n" % (10 * number, number % 7)


def first_runs(line: LiveLine, count: int) -> list[Samples]:
    """So many runs of a capture, which then ends."""
    blocks = line.blocks()
    runs = [next(blocks) for _ in range(count)]
    blocks.close()  # type: ignore[attr-defined]
    return runs


def test_names_that_are_asked_for_are_waited_for_three_seconds(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A board that starts sends its header late; without one it is said how to give the names."""
    stage = Stage(row)
    on_stage(monkeypatch, stage)
    source = Still()
    with pytest.raises(UsageError, match="sends 2 columns and no header line"):
        LiveLine(rig_named(tmp_path), source)
    assert stage.now_s == 1000.0 + 3.0 + STEP_S
    assert source.closed.is_set()


def test_names_that_are_not_needed_are_not_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Columns by their place, by the list of the rig file, or a header that came."""
    header = [b"x\n", b"t,a0\n", b"1,2\n"]
    for rig, sends, looks in (
        (rig_named(tmp_path, "1"), row, 3),
        (rig_named(tmp_path, more='[link]\ncolumns = ["t", "a0"]\n'), row, 3),
        (rig_named(tmp_path), lambda look: header[look], 3),
    ):
        stage = Stage(sends)
        on_stage(monkeypatch, stage)
        LiveLine(rig, Still()).close()
        assert stage.looks == looks


def test_a_name_that_the_header_does_not_have_is_not_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What reads it says so; the time column is told at once."""
    stage = Stage(lambda look: [b"x\n", b"t,b0\n", b"1,2\n"][look])
    on_stage(monkeypatch, stage)
    with pytest.raises(UsageError, match="the time column 'ms' is not sent"):
        LiveLine(rig_named(tmp_path, more='[time]\ncolumn = "ms"\n'), Still())
    assert stage.looks == 3


@pytest.mark.parametrize(("waited_s", "kept"), [(0.25, True), (0.28125, False)])
def test_what_came_while_the_columns_were_found_is_of_a_capture_that_follows_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, waited_s: float, kept: bool
) -> None:
    """Within a quarter of a second; later the person was asked to do something in between.

    Arrival counts from the first line that came, or from the begin of the capture.
    """
    stage = Stage(row)
    on_stage(monkeypatch, stage)
    line = LiveLine(rig_named(tmp_path, "1"), Still())
    stage.now_s += waited_s
    runs = first_runs(line, 2)
    line.close()
    assert runs[0].rows == (["10,1", "20,2"] if kept else [])
    assert runs[1].rows == ["30,3"]
    arrival_s = [run.arrival_s.tolist() for run in runs]
    assert arrival_s == ([[2 * STEP_S] * 2, [waited_s + 3 * STEP_S]] if kept else [[], [STEP_S]])
    assert runs[1].time_s.tolist() == [waited_s + STEP_S if kept else 0.0]
    assert stage.heard == [*([] if kept else ["off"]), "on", "off"]


def test_runs_come_every_fiftieth_of_a_second(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What a look did not take is slept; a look that took longer is followed by the next."""
    stage = Stage(row)
    on_stage(monkeypatch, stage)
    line = LiveLine(rig_named(tmp_path, "1"), Still())
    monkeypatch.setattr(stage, "take", lambda _: [Chunk(b"1,2\n", stage.now_s)])
    first_runs(line, 3)
    assert stage.slept_s == pytest.approx([0.02])
    stage.slept_s.clear()
    monkeypatch.undo()
    on_stage(monkeypatch, stage)
    first_runs(line, 4)
    assert stage.slept_s == [0.0, 0.0]
    line.close()


@pytest.mark.parametrize(("outlasts_s", "silent_s"), [(0.0, 5.0), (30.0, 30.0)])
def test_a_line_that_falls_silent_is_waited_for_as_long_as_was_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, outlasts_s: float, silent_s: float
) -> None:
    """Else for the five seconds of every line."""
    stage = Stage(lambda look: row(look) if look < 6 else b"")
    on_stage(monkeypatch, stage)
    line = LiveLine(rig_named(tmp_path, "1"), Still(), outlasts_s=outlasts_s)
    with pytest.raises(PortError, match="silent for 5 s"):
        list(line.blocks())
    line.close()
    assert stage.now_s == 1000.0 + 6 * STEP_S + silent_s


def test_a_line_without_a_name_for_its_logger_ends_with_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What it sent before is given out, the line that was cut told."""
    sent = [b"x\n", row(1), row(2), b"30,3\n40"]
    stage = Stage(lambda look: sent[look] if look < len(sent) else PortError("gone.", ""))
    on_stage(monkeypatch, stage)
    line = LiveLine(rig_named(tmp_path, "1"), Still())
    runs: list[Samples] = []
    with pytest.raises(PortError, match="gone"):
        runs.extend(line.blocks())
    line.close()
    assert [text for run in runs for text in run.rows] == ["10,1", "20,2", "30,3"]
    assert [each.raw for run in runs for each in run.rejected][-1] == b"40"


def test_a_logger_that_was_unplugged_is_waited_for_twenty_seconds(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With an empty run at each look, so that a screen stays alive; then the break is told."""
    stage = Stage(lambda look: row(look) if look < 6 else PortError("gone.", ""))
    on_stage(monkeypatch, stage)
    line = LiveLine(rig_named(tmp_path, "1"), Still(), lambda: None)
    runs: list[Samples] = []
    with pytest.raises(PortError, match="gone"):
        runs.extend(line.blocks())
    line.close()
    gone_s = 1000.0 + 7 * STEP_S
    assert stage.now_s == pytest.approx(gone_s + 20.0, abs=0.09)
    assert sum(map(len, runs)) == 5
    assert len(runs) == 1 + 3 + 1 + 250


@pytest.mark.parametrize("stuck", [False, True])
def test_a_logger_that_comes_back_is_joined_by_the_time_it_was_away(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stuck: bool
) -> None:
    """The old line is closed, and it is no matter if it cannot be; half a line is joined to none.

    The first line after the return is not believed, as after every opening.
    """
    sent: list[bytes | PortError] = [
        b"x\n",
        row(1),
        row(2),
        b"30,3\n40",
        PortError("gone.", ""),
        b",9\n50,5\n60,6\n",
    ]
    stage = Stage(lambda look: sent[look] if look < len(sent) else b"")
    on_stage(monkeypatch, stage)
    old, new = Still(stuck=stuck), Still()
    returns = iter([None, None, new])
    line = LiveLine(rig_named(tmp_path, "1"), old, lambda: next(returns))
    blocks = line.blocks()
    runs: list[Samples] = []
    while not any(each.rows[-1:] == ["60,6"] for each in runs):
        runs.append(next(blocks))
    line.close()
    assert old.closed.is_set()
    assert new.closed.is_set()
    assert [text for run in runs for text in run.rows] == ["10,1", "20,2", "30,3", "50,5", "60,6"]
    (event,) = [each for run in runs for each in run.events]
    assert event.kind is EventKind.REPLUG
    assert event.duration_s == pytest.approx(0.16)
    assert event.text == "the logger was unplugged and came back after 0.2 s"
    assert "back" in stage.heard


def test_bytes_that_were_lost_end_the_line_that_was_held(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its head and the tail of another one are no line."""
    sent: list[bytes | PortError] = [b"x\n", row(1), row(2), b"30,3\n40", b",9\n50,5\n"]
    stage = Stage(lambda look: sent[look])
    on_stage(monkeypatch, stage)
    line = LiveLine(rig_named(tmp_path, "1"), Still())
    blocks = line.blocks()
    runs = [next(blocks), next(blocks)]
    stage.is_lost = True
    runs.append(next(blocks))
    line.close()
    assert [text for run in runs for text in run.rows] == ["10,1", "20,2", "30,3", "50,5"]


def test_a_reader_never_keeps_a_program_from_ending(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However long its read takes; a line that is closed has ended its reader."""
    before = set(threading.enumerate())
    on_stage(monkeypatch, Stage(row))
    line = LiveLine(rig_named(tmp_path, "1"), Still())
    readers = set(threading.enumerate()) - before
    assert [each.name for each in readers] == ["calib-reader"]
    assert all(each.daemon for each in readers)
    line.close()
    assert not any(each.is_alive() for each in readers)


@dataclass
class Ports:
    """What can be opened, by name, and what was."""

    patch: pytest.MonkeyPatch
    opened: list[str] = field(default_factory=list)
    refused: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        """Every port is ours from here on."""
        self.patch.setattr(calib.link.line, "Transport", self._open)

    def _open(self, port: str, baud: int) -> Source:
        assert baud == 9600
        self.opened.append(port)
        if port in self.refused:
            raise PortError("busy.", "")
        return Still()


def usb(path: str, number: str) -> ListPortInfo:
    """A USB device on a port."""
    info = ListPortInfo(path)
    info.device, info.vid, info.pid, info.serial_number = path, 1, 2, number
    return info


def runs_until(blocks: Iterator[Samples], enough: Callable[[], bool]) -> None:
    """Let a capture go on until something has happened."""
    for _ in range(1000):
        if enough():
            return
        next(blocks)
    pytest.fail("the line went on and on")


def test_a_logger_is_looked_for_four_times_a_second_by_its_usb_number(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Under whatever name; one that cannot be opened yet is looked for again."""
    here = [usb("/dev/none0", "A1")]
    looked_s: list[float] = []
    sent: list[bytes | PortError] = [b"x\n", row(1), row(2), row(3), PortError("gone.", "")]
    stage = Stage(lambda look: sent[look] if look < len(sent) else row(look))
    on_stage(monkeypatch, stage)

    def comports() -> list[ListPortInfo]:
        looked_s.append(stage.now_s)
        return here

    monkeypatch.setattr(list_ports, "comports", comports)
    ports = Ports(monkeypatch, refused={"/dev/none1"})
    rig = rig_named(tmp_path, "1", '[link]\nport = "/dev/none0"\nbaud = 9600\n')
    with open_line(rig) as line:
        blocks = line.blocks()
        runs_until(blocks, lambda: stage.looks == 5)
        looked_s.clear()
        here[:] = [usb("/dev/none0", "B2"), usb("/dev/none1", "A1")]
        runs_until(blocks, lambda: len(looked_s) == 3)
        here[:] = [usb("/dev/none2", "A1")]
        runs_until(blocks, lambda: "back" in stage.heard)
    assert ports.opened == ["/dev/none0", "/dev/none1", "/dev/none1", "/dev/none1", "/dev/none2"]
    steps_s = [after - before for before, after in itertools.pairwise(looked_s)]
    assert steps_s == pytest.approx([0.32] * 3)


@pytest.mark.parametrize(
    ("port", "linked", "again"),
    [("/dev/pts/997", None, False), ("by-id", "/dev/pts/997", False), ("by-id", "/dev/none0", True),
     ("/dev/none0", None, True), ("COM7", None, True)],
)  # fmt: skip
def test_a_logger_without_a_usb_number_is_known_by_a_name_of_its_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, port: str, linked: str | None, again: bool
) -> None:
    """Not by the number of a pseudo-terminal, which comes back as somebody else's."""
    if linked is not None:
        (tmp_path / port).symlink_to(linked)
        port = str(tmp_path / port)
    sent: list[bytes | PortError] = [b"x\n", row(1), row(2), row(3)]
    stage = Stage(lambda look: sent[look] if look < len(sent) else PortError("gone.", ""))
    on_stage(monkeypatch, stage)
    monkeypatch.setattr(list_ports, "comports", list)
    ports = Ports(monkeypatch, refused=set())
    rig = rig_named(tmp_path, "1", f'[link]\nport = "{port}"\nbaud = 9600\n')
    with open_line(rig) as line:
        blocks = line.blocks()
        if again:
            runs_until(blocks, lambda: "back" in stage.heard or len(ports.opened) > 1)
        else:
            with pytest.raises(PortError, match="gone"):
                runs_until(blocks, lambda: False)
            assert (stage.now_s < 1001.0) is (linked is None), "nothing else could be waited for"
    assert ports.opened == [port] * (2 if again else 1)


def test_a_name_that_leads_elsewhere_by_now_is_opened_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The logger came back behind the same link, on another pseudo-terminal."""
    name = tmp_path / "by-id"
    name.symlink_to("/dev/pts/997")
    sent: list[bytes | PortError] = [b"x\n", row(1), row(2), row(3)]
    stage = Stage(lambda look: sent[look] if look < len(sent) else PortError("gone.", ""))
    on_stage(monkeypatch, stage)
    monkeypatch.setattr(list_ports, "comports", list)
    ports = Ports(monkeypatch)
    rig = rig_named(tmp_path, "1", f'[link]\nport = "{name}"\nbaud = 9600\n')
    with open_line(rig) as line:
        blocks = line.blocks()
        runs_until(blocks, lambda: stage.looks == 5)
        name.unlink()
        name.symlink_to("/dev/pts/998")
        runs_until(blocks, lambda: len(ports.opened) > 1)
    assert ports.opened == [str(name)] * 2


def test_a_line_is_opened_patiently_only_where_that_is_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And the interpreter's turns are as they were when it is closed again."""
    before_s = sys.getswitchinterval()
    rig = rig_named(tmp_path, "1", '[link]\nport = "/dev/none0"\nbaud = 9600\n')
    for patience, silent_s in (({}, 5.0), ({"outlasts_s": 7.0}, 7.0)):
        stage = Stage(lambda look: row(look) if look < 6 else b"")
        on_stage(monkeypatch, stage)
        monkeypatch.setattr(list_ports, "comports", list)
        Ports(monkeypatch)
        with open_line(rig, **patience) as line:
            assert sys.getswitchinterval() == pytest.approx(0.0005)
            with pytest.raises(PortError, match="silent"):
                list(line.blocks())
        assert stage.now_s == 1000.0 + 6 * STEP_S + silent_s
    assert sys.getswitchinterval() == before_s
    with pytest.raises(UsageError, match="names no port"), open_line(rig_named(tmp_path)):
        pass


def test_a_declared_instrument_is_asked_and_any_other_line_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By its layout."""
    ports = Ports(monkeypatch)
    link = '[link]\nport = "/dev/none0"\nbaud = 9600\n'
    assert isinstance(open_source(rig_named(tmp_path, "1", link)), Still)
    scpi = open_source(rig_named(tmp_path, "1", link + 'layout = "scpi"\nqueries = ["A?"]\n'))
    assert type(scpi).__name__ == "ScpiPoller"
    assert ports.opened == ["/dev/none0"] * 2
