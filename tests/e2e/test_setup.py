"""``calib setup`` over real pseudo-terminals: what it finds, assumes, keeps, and cannot tell."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from calib.cli import main
from calib.link.layouts.lines import checksum
from calib.store.rig import load_rig
from tests.e2e.running import bench, calib
from tests.feeder import Feeder, Step

NAMES = ("t_ms", "a0", "a1")
Write = Callable[[int, int, str], str]
"""A line of time, count and decimals."""


def _with_sum(line: str) -> str:
    return f"{line}*{checksum(line.lstrip('$').encode()):02X}"


LAYOUTS: dict[str, Write] = {
    "delimited": lambda t, a, b: f"{t},{a},{b}",
    "pairs": lambda t, a, b: f"t_ms={t} a0={a} a1={b}",
    "json": lambda t, a, b: f'{{"t_ms":{t},"a0":{a},"a1":{b}}}',
    "nmea": lambda t, a, b: _with_sum(f"$IIXDR,G,{t},,t_ms,V,{a},,a0,U,{b},V,a1"),
}


def script(write: Write, *, header: str = "", mark: str = ".") -> Iterator[Step]:
    """A logger at 50 Hz for four seconds: a clock in ms, counts at rest, volts."""
    yield header.encode()
    for n in range(200):
        volts = f"{0.84 + 0.001 * (n % 3):.3f}".replace(".", mark)
        yield f"{write(20 * n, 512 + n % 2, volts)}\r\n".encode()
        yield 0.02


def setup(
    folder: Path, port: str, capsys: pytest.CaptureFixture[str], *more: str, code: int = 0
) -> dict[str, Any]:
    """``calib setup --yes --json`` in this process; its document."""
    rig = ("--rig", str(folder / "rig.toml"))
    with pytest.raises(SystemExit, match=rf"^{code}$"):
        main(["setup", *rig, "--yes", "--json", "--listen", "1", "--port", port, *more])
    document: dict[str, Any] = json.loads(capsys.readouterr().out)
    return document


def codes(document: dict[str, Any]) -> set[str]:
    """Codes of the findings."""
    return {finding["code"] for finding in document["findings"]}


def origins(document: dict[str, Any], table: str) -> dict[str, str]:
    """Where each value of a table comes from."""
    return {each["key"]: each["origin"] for each in document["settings"] if each["table"] == table}


@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_layout_is_found_and_can_be_measured(
    layout: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The rig file that setup writes reads the very logger it was made from."""
    columns = ("--column", "throttle=a0", "--column", "regen=a1")
    header = "t_ms,a0,a1\r\n" if layout == "delimited" else ""
    with Feeder(script(LAYOUTS[layout], header=header)) as feeder:
        document = setup(tmp_path, feeder.path, capsys, *columns)
    rig = load_rig(tmp_path / "rig.toml")
    assert rig.link.layout == layout
    assert (rig.time.column, rig.time.unit) == ("t_ms", "ms")
    assert (rig.channels["throttle"].unit, rig.channels["regen"].unit) == ("count", "V")
    assert document["created"] is True
    with Feeder(script(LAYOUTS[layout], header=header)) as feeder:
        again = ["--rig", str(rig.path), "--port", feeder.path]
        with pytest.raises(SystemExit, match=r"^0$"):
            main(["record", *again, "--for", "0.5", "--json"])
    assert json.loads(capsys.readouterr().out)["capture"]["samples"] > 10


def test_without_a_header_columns_go_by_number(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Decimal comma, semicolons, no header: found, written, and said."""
    with Feeder(script(lambda t, a, b: f"{t};{a};{b}", mark=",")) as feeder:
        document = setup(tmp_path, feeder.path, capsys, "--column", "throttle=2")
    rig = load_rig(tmp_path / "rig.toml")
    assert (rig.link.separator, rig.link.decimal, rig.link.header) == ("semicolon", "comma", None)
    assert (rig.time.column, rig.channels["throttle"].column) == (0, 2)
    assert "no-header" in codes(document)


def test_the_rate_is_found_on_the_simulated_bench(tmp_path: Path) -> None:
    """The usual rate is garbage, the next one decodes; the header is not lost by it."""
    with bench(tmp_path, "--baud", "9600", "--hands", "still") as port:
        (tmp_path / "rig.toml").unlink()
        more = ("--port", port, "--column", "throttle=a0", "--divider", "1.5", "--json")
        done = calib("setup", "--yes", "--listen", "1.5", *more, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    document = json.loads(done.stdout)
    assert [each["baud"] for each in document["tried"]] == [115200, 9600]
    rig = load_rig(tmp_path / "rig.toml")
    assert (rig.link.baud, rig.link.header, rig.time.column) == (9600, True, "t_ms")
    assert rig.channels["throttle"].divider == 1.5


def test_what_is_assumed_is_marked_until_it_is_stated(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A reference of 5.0 V that nobody measured: said in the file, on the page and in JSON."""
    with Feeder(script(LAYOUTS["json"])) as feeder:
        document = setup(tmp_path, feeder.path, capsys, "--column", "throttle=a0")
    assert document["verdict"] == "caution"
    assert origins(document, "channels.throttle")["reference_V"] == "assumed"
    (finding,) = [each for each in document["findings"] if "reference_V" in each["text"]]
    assert "calib meter throttle" in finding["action"]
    text = (tmp_path / "rig.toml").read_text(encoding="utf-8")
    assert "reference_V = 5.0  # assumed 5.0: " in text
    with Feeder(script(LAYOUTS["json"])) as feeder:
        document = setup(tmp_path, feeder.path, capsys, "--reference-V", "5.0")
    assert origins(document, "channels.throttle")["reference_V"] == "stated"
    assert not [each for each in document["findings"] if "reference_V" in each["text"]]
    assert "reference_V = 5.0\n" in (tmp_path / "rig.toml").read_text(encoding="utf-8")


def test_a_second_run_changes_only_what_changed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The person's keys and comments stay; a run that finds the same leaves every byte."""
    path = tmp_path / "rig.toml"
    with Feeder(script(LAYOUTS["pairs"])) as feeder:
        setup(tmp_path, feeder.path, capsys, "--column", "throttle=a0")
    metered = "reference_V = 4.96  # metered on Sunday"
    text = re.sub("(?m)^reference_V = .*$", metered, path.read_text(encoding="utf-8"))
    text += "\n[tilt]\nwheelbase_mm = 1210  # tape\n"
    path.write_text(text, encoding="utf-8")
    with Feeder(script(LAYOUTS["pairs"])) as feeder:
        document = setup(tmp_path, feeder.path, capsys, "--column", "regen=a1")
        port = feeder.path
    after = path.read_text(encoding="utf-8")
    gone = [line for line in text.splitlines() if line not in after.splitlines()]
    assert [line.partition(" = ")[0] for line in gone] in ([], ["port"])
    assert metered in after
    assert origins(document, "channels.throttle")["reference_V"] == "kept"
    with Feeder(script(LAYOUTS["pairs"])) as feeder:
        path.write_text(after.replace(port, feeder.path), encoding="utf-8")
        before = path.read_bytes()
        document = setup(tmp_path, feeder.path, capsys)
    assert path.read_bytes() == before
    assert not any(each["changed"] for each in document["settings"])


def test_a_count_above_the_full_scale_of_the_file_fails(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What somebody wrote is not changed; that it cannot be is said."""
    scale = ("--full-scale", "256", "--reference-V", "5")
    with Feeder(script(LAYOUTS["json"])) as feeder:
        document = setup(tmp_path, feeder.path, capsys, "--column", "throttle=a0", *scale, code=1)
    assert document["verdict"] == "fail"
    assert "unit" in codes(document)


def test_without_a_control_the_verdict_is_unknown(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nobody said which column is the throttle, and at rest nothing tells: it is not guessed."""
    with Feeder(script(LAYOUTS["json"])) as feeder:
        document = setup(tmp_path, feeder.path, capsys, code=1)
    assert document["verdict"] == "unknown"
    assert {"no-control", "columns-unused"} <= codes(document)
    assert load_rig(tmp_path / "rig.toml").channels == {}


def test_a_text_log_serves_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """From a file all but port, rate and the clock's pace is found."""
    log = tmp_path / "log.txt"
    steps = script(LAYOUTS["delimited"], header="t_ms,a0,a1\r\n")
    log.write_bytes(b"".join(step for step in steps if isinstance(step, bytes)))
    with pytest.raises(SystemExit, match=r"^0$"):
        main(["setup", "--rig", str(tmp_path / "r.toml"), "--from", str(log), "--json", "--column",
              "throttle=a1"])  # fmt: skip
    document = json.loads(capsys.readouterr().out)
    assert (document["port"], document["tried"]) == (None, [])
    rig = load_rig(tmp_path / "r.toml")
    assert (rig.channels["throttle"].unit, rig.time.unit) == ("V", "ms")


def refused(
    folder: Path, capsys: pytest.CaptureFixture[str], *arguments: str, code: int = 2
) -> str:
    """The one line in which a run is refused."""
    with pytest.raises(SystemExit, match=rf"^{code}$"):
        main(["setup", "--rig", str(folder / "rig.toml"), "--yes", *arguments])
    err = capsys.readouterr().err
    assert "Traceback" not in err
    return err.splitlines()[-1]


def test_without_a_port_nothing_is_opened(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With --yes nobody can be asked: the ports are listed, and it ends."""
    assert "No port is chosen" in refused(tmp_path, capsys)


def test_no_instrument_is_asked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A rig file that declares a polled instrument is left alone."""
    path = tmp_path / "rig.toml"
    path.write_text('[link]\nport = "/dev/x"\nlayout = "scpi"\nqueries = ["MEAS:VOLT?"]\n')
    assert "setup asks none" in refused(tmp_path, capsys)


def test_a_bad_rig_file_is_told_before_the_port_is_opened(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It is read first: the port of this name could not be opened."""
    (tmp_path / "rig.toml").write_text("[link]\nbawd = 9600\n")
    assert "bawd" in refused(tmp_path, capsys, "--port", "/dev/ttyNowhere9")


def test_an_unknown_column_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Those that there are are listed, and no file is made."""
    with Feeder(script(LAYOUTS["json"])) as feeder:
        line = refused(
            tmp_path, capsys, "--port", feeder.path, "--column", "throttle=b7", "--listen", "0.5"
        )
    assert "no column 'b7'; it sends 0 (t_ms), 1 (a0), 2 (a1)" in line
    assert list(tmp_path.iterdir()) == []


def test_nothing_is_sent(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Not one byte goes to the logger."""
    with Feeder(script(LAYOUTS["json"])) as feeder:
        setup(tmp_path, feeder.path, capsys, "--column", "throttle=a0")
        assert feeder.received() == b""


def test_a_name_from_the_logger_does_no_harm(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Markup and quotes in a header reach the file as text and come back as they were."""
    name = 'a"]<b>=1'
    with Feeder(script(LAYOUTS["delimited"], header=f"t_ms,a0,{name}\r\n")) as feeder:
        setup(tmp_path, feeder.path, capsys, "--column", "throttle=2")
    assert load_rig(tmp_path / "rig.toml").channels["throttle"].column == name


def test_a_board_that_does_not_start_again_can_still_be_measured(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The header was heard once; the file keeps its names, and no second one has to come."""
    write = LAYOUTS["delimited"]
    with Feeder(script(write, header="t_ms,a0,a1\r\n")) as feeder:
        setup(tmp_path, feeder.path, capsys, "--column", "throttle=a0")
    rig = load_rig(tmp_path / "rig.toml")
    assert rig.link.columns == NAMES
    with Feeder(script(write)) as feeder:
        again = ["--rig", str(rig.path), "--port", feeder.path]
        with pytest.raises(SystemExit, match=r"^0$"):
            main(["record", *again, "--for", "0.5", "--json"])
    assert json.loads(capsys.readouterr().out)["capture"]["samples"] > 10


def test_what_a_plain_name_says_of_a_control_is_written_and_called_assumed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Regen brakes; of a grip nobody knows."""
    columns = ("--column", "regen=a0", "--column", "grip=a1", "--role", "grip=control")
    with Feeder(script(LAYOUTS["delimited"], header="t_ms,a0,a1\r\n")) as feeder:
        document = setup(tmp_path, feeder.path, capsys, *columns)
    rig = load_rig(tmp_path / "rig.toml")
    assert (rig.channels["regen"].acts, rig.channels["grip"].acts) == ("brake", None)
    assert origins(document, "channels.regen")["acts"] == "assumed"
    assert "channels.regen.acts" in rig.assumed
