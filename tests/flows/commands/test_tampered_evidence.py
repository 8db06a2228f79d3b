"""Ordinary ways in which evidence on file could fool `trust`, each through the command line."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path

import pytest

from calib.cli import main
from calib.store.documents.finding import Severity
from calib.store.documents.tilt import SurgeDocument
from calib.store.files import metadata_path
from tests.fake_clock import FakeClock
from tests.tilt_evening import EIGHT, all_poses, judged, run


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> FakeClock:
    """Eight in the evening, on a clock that only the test moves."""
    return FakeClock(monkeypatch, EIGHT)


@pytest.fixture
def here(sound: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, clock: FakeClock) -> Path:
    """A copy of it, half an hour later."""
    folder = tmp_path / "here"
    shutil.copytree(sound, folder)
    monkeypatch.chdir(folder)
    monkeypatch.setattr("tests.tilt_files.STARTED", EIGHT)
    clock.pass_by(minutes=30)
    return folder


def test_untouched_it_is_trusted(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Or nothing below would prove anything."""
    assert here.is_dir()
    assert judged(capsys, "trust")[1]["trusted"]


def rewrite(here: Path, was: str, now: str) -> None:
    """Edit the rig file."""
    path = here / "rig.toml"
    text = path.read_text(encoding="utf-8")
    assert was in text
    path.write_text(text.replace(was, now), encoding="utf-8")


def texts(document: dict[str, object], name: str) -> str:
    """What `trust` says of one piece of evidence."""
    found = document["evidence"]
    assert isinstance(found, list)
    return next(str(each["text"]) for each in found if each["name"] == name)


def test_a_capture_that_is_judged_again_takes_the_place_of_its_earlier_judgement(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A harder launch: stale first, not trusted when judged again, sound again when put right."""
    rewrite(here, "launch_m_s2 = 2.0", "launch_m_s2 = 14.0")
    document = judged(capsys, "trust")[1]
    assert not document["trusted"]
    assert "tilt.launch_m_s2 is 14.0, was 2.0" in texts(document, "surge")
    assert judged(capsys, "surge", "--from", here / "shake.csv")[1]["verdict"] != "pass"
    assert not judged(capsys, "trust")[1]["trusted"]
    rewrite(here, "launch_m_s2 = 14.0", "launch_m_s2 = 2.0")
    assert judged(capsys, "surge", "--from", here / "shake.csv")[1]["verdict"] == "pass"
    assert judged(capsys, "trust")[1]["trusted"]


@pytest.mark.parametrize("hours", [-2, -24 * 365, 0, 5])
def test_no_clock_undoes_a_note(
    here: Path, clock: FakeClock, capsys: pytest.CaptureFixture[str], hours: float
) -> None:
    """A rewire that was noted by a clock that was behind, or ahead, stays noted."""
    assert here.is_dir()
    clock.pass_by(hours=hours)
    judged(capsys, "check", "--rewired", "--from", here / "nothing.csv")
    clock.pass_by(hours=-hours)
    document = judged(capsys, "trust")[1]
    assert not document["trusted"]
    assert "rewired" in texts(document, "zero")


def test_evidence_of_the_future_is_odd_and_hides_no_failure(
    here: Path, clock: FakeClock, capsys: pytest.CaptureFixture[str]
) -> None:
    """A record of the year 2031 is never good; a failure of today is not hidden by it."""
    clock.pass_by(days=5 * 365)
    judged(capsys, "level", "--shown-level", "0.1", "--shown-turned", "-0.1")
    clock.pass_by(days=-5 * 365)
    document = judged(capsys, "trust")[1]
    assert not document["trusted"]
    assert "future" in texts(document, "zero")
    code, page = run(capsys, "sheet")
    assert code == 1
    assert "no value: unknown" in page
    clock.pass_by(minutes=5)
    first = here / "first.csv"
    judged(capsys, "level", "--from", first, "--turned-from", here / "turned.csv",
           "--seated-from", here / "seated.csv")  # fmt: skip
    assert not judged(capsys, "trust")[1]["trusted"], "an older standing hides nothing newer"


@pytest.mark.parametrize(
    ("was", "now"),
    [
        ('unit = "ms"', 'unit = "s"'),
        ('column = "t_ms"', 'column = "t"'),
        ('unit = "deg"', 'unit = "rad"'),
        ("launch_m_s2 = 2.0", "launch_m_s2 = 9.0"),
        ("wheelbase_mm = 1250", "wheelbase_mm = 1500"),
        ('expects = "nose-up-positive"', 'expects = "nose-down-positive"'),
        ("[tilt]", '[tilt]\nmounting = "under the seat"'),
        ("[time]", '[rig]\nname = "another"\n[time]'),
        ("[time]", '[link]\ndecimal = "comma"\n[time]'),
        ("[time]", '[link]\nlayout = "pairs"\n[time]'),
        ("[time]", '[link]\ncolumns = ["az", "ay", "ax", "p"]\n[time]'),
    ],
)
def test_a_key_that_a_judgement_read_makes_it_stale(
    here: Path, capsys: pytest.CaptureFixture[str], was: str, now: str
) -> None:
    """Whatever was read when it was judged: any other value, and it no longer speaks."""
    rewrite(here, was, now)
    assert not judged(capsys, "trust")[1]["trusted"]


@pytest.mark.parametrize(
    ("was", "now", "range_"),
    [
        ("aid_starts_deg = 14.0", "aid_starts_deg = 400", "1 to 45"),
        ("cg_height_mm = 650", "cg_height_mm = 1", "150 to 2000"),
        ("dive_deg = 2.0", "dive_deg = nan", "finite"),
        ("launch_m_s2 = 2.0", "launch_m_s2 = inf", "finite"),
    ],
)
def test_a_value_that_cannot_be_is_refused(
    here: Path, capsys: pytest.CaptureFixture[str], was: str, now: str, range_: str
) -> None:
    """Exit code 2, with the usual range."""
    rewrite(here, was, now)
    code, document = judged(capsys, "trust")
    assert (code, document["schema"]) == (2, "calib.error/1")
    assert range_ in document["what"]


@pytest.mark.parametrize("seconds", [6.0, 12.0])
def test_a_pitch_that_was_frozen_in_the_middle_proves_nothing(
    here: Path, clock: FakeClock, capsys: pytest.CaptureFixture[str], seconds: float
) -> None:
    """The accelerometer went on; the pitch column said the same over and over."""
    clock.pass_by(minutes=5)
    path = all_poses(here)
    rows = path.read_text(encoding="utf-8").splitlines()
    names = rows[0].split(",")
    held = next(row for row in rows[1:] if float(row.split(",")[0]) >= 9.0).split(",")
    at = names.index("p")
    frozen = [rows[0]]
    for row in rows[1:]:
        cells = row.split(",")
        if 9.0 <= float(cells[0]) < 9.0 + seconds:
            cells[at] = held[at]
        frozen.append(",".join(cells))
    path.write_text("\r\n".join(frozen) + "\r\n", encoding="utf-8")
    _, document = judged(capsys, "signs", "--from", path, "--block-mm", "100")
    assert document["verdict"] == "fail"
    assert any(finding["code"] == "frozen" for finding in document["findings"])
    assert not judged(capsys, "trust")[1]["trusted"]


def test_a_copy_of_an_old_log_is_not_fresh(
    here: Path, clock: FakeClock, capsys: pytest.CaptureFixture[str]
) -> None:
    """A file's date is no evidence: with its metadata it is old, without it nobody knows."""
    clock.pass_by(days=90)
    shutil.copy(here / "shake.csv", here / "new.csv")
    judged(capsys, "surge", "--from", here / "new.csv")
    document = judged(capsys, "trust")[1]
    assert "Nobody knows when it was measured" in texts(document, "surge")
    shutil.copy(metadata_path(here / "shake.csv"), metadata_path(here / "new.csv"))
    judged(capsys, "surge", "--from", here / "new.csv")
    assert "90 days old" in texts(judged(capsys, "trust")[1], "surge")


@pytest.mark.parametrize(
    ("name", "arguments"),
    [
        ("shake.csv", ("surge",)),
        ("poses of the machine.csv", ("signs", "--block-mm", "100")),
        ("rest.csv", ("still",)),
    ],
)
def test_a_capture_whose_hash_differs_is_told_first(
    here: Path, capsys: pytest.CaptureFixture[str], name: str, arguments: tuple[str, ...]
) -> None:
    """It was changed after it was closed: unknown at best, and said before all else."""
    noted = metadata_path(here / name)
    closed = {**json.loads(noted.read_text()), "calib:closed": True, "calib:sha256": "0" * 64}
    noted.write_text(json.dumps(closed), encoding="utf-8")
    code, document = judged(capsys, *arguments, "--from", here / name)
    assert (code, document["verdict"]) == (1, "unknown")
    assert document["findings"][0]["code"] == "capture-changed"
    assert not judged(capsys, "trust")[1]["trusted"]


def test_a_rest_of_the_throttle_is_none_of_the_tilt_sensor(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its record rests on what was read for it, and a tilt sensor's note does not touch it."""
    more = '\n[channels.grip]\nrole = "control"\ncolumn = "ax"\nunit = "V"\n'
    with (here / "rig.toml").open("a", encoding="utf-8") as rig:
        rig.write(more)
    judged(capsys, "still", "grip", "--from", here / "rest.csv")
    newest = max((here / "records").glob("*-still-grip.json"))
    record = json.loads(newest.read_text(encoding="utf-8"))
    keys = {each["key"] for each in record["rests_on"]}
    assert "channels.grip.unit" in keys
    assert not any("pitch" in key for key in keys)
    assert record["tilt"] is False


def _cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:200])


def _edit(path: Path) -> None:
    path.write_text(path.read_text().replace('"fail"', '"pass"', 1), encoding="utf-8")


def _fifo(path: Path) -> None:
    path.unlink()
    os.mkfifo(path)


def _endless(path: Path) -> None:
    path.unlink()
    path.symlink_to("/dev/zero")


def _folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


def _foreign(path: Path) -> None:
    path.write_text('{"schema": "somebody.else/1", "id": 7}', encoding="utf-8")


def _no_offset(path: Path) -> None:
    record = json.loads(path.read_text(encoding="utf-8"))
    record["judged_at"] = "2026-03-01T20:00:00"
    path.write_text(json.dumps(record), encoding="utf-8")


def _away(path: Path) -> None:
    path.unlink()


SPOILS = (_cut, _edit, _fifo, _endless, _folder, _foreign, _no_offset, _away)


@pytest.mark.parametrize("spoil", SPOILS)
def test_a_bad_file_costs_itself_and_a_line(
    here: Path, capsys: pytest.CaptureFixture[str], clock: FakeClock,
    spoil: object,
) -> None:  # fmt: skip
    """A newer failure that can no longer be read is not forgotten; all else stands as before."""
    clock.pass_by(minutes=5)
    code, document = judged(
        capsys, "signs", "--from", here / "poses of the machine.csv", "--block-mm", "100",
        "--expects", "nose-down-positive",
    )  # fmt: skip
    assert (code, document["verdict"]) == (1, "fail")
    judged(capsys, "trust")
    newest = max((here / "records").glob("*-signs.json"), key=lambda path: path.name)
    assert callable(spoil)
    spoil(newest)
    with pytest.raises(SystemExit, match="1"):
        main(["trust", "--json"])
    got = capsys.readouterr()
    assert newest.stem in got.err
    document = json.loads(got.out)
    assert not document["trusted"]
    stood = {each["name"]: each["verdict"] for each in document["evidence"]}
    doubtful = {name for name, verdict in stood.items() if verdict != "pass"}
    assert {"sign", "axis", "scale"} <= doubtful <= {"sign", "axis", "scale", "surge"}
    for command in ("status", "sheet", "history", "report"):
        code, _ = run(capsys, command)
        assert code in (0, 1), command


def test_a_record_of_another_folder_does_not_count(
    here: Path, capsys: pytest.CaptureFixture[str], tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Its rig file may be the same to the letter."""
    other = tmp_path_factory.mktemp("other")
    shutil.copy(here / "rig.toml", other / "rig.toml")
    judged(capsys, "surge", "--from", here / "shake.csv", "--out", other)
    (record,) = (other / "records").glob("*.json")
    shutil.copy(record, here / "records" / "20260301T203500Z-surge.json")
    shutil.copy(record, here / "records")
    code, _ = run(capsys, "history")
    assert code == 0
    rewrite(here, "launch_m_s2 = 2.0", "launch_m_s2 = 2.5")
    judged(capsys, "surge", "--from", here / "shake.csv", "--out", other)
    for each in (other / "records").glob("*.json"):
        shutil.copy(each, here / "records")
    document = judged(capsys, "trust")[1]
    assert not document["trusted"]
    assert "launch_m_s2" in texts(document, "surge")


def test_a_deleted_failure_is_not_forgotten(
    here: Path, clock: FakeClock, capsys: pytest.CaptureFixture[str]
) -> None:
    """A bad record is superseded with a reason, never deleted: the next one names it."""
    clock.pass_by(minutes=5)
    judged(capsys, "level", "--shown-level", "9", "--shown-turned", "-3")
    judged(capsys, "trust")
    max((here / "records").glob("*-level.json"), key=lambda path: path.name).unlink()
    document = judged(capsys, "trust")[1]
    assert not document["trusted"]
    assert "never deleted" in texts(document, "zero")


@pytest.mark.parametrize("kind", ["fifo", "device", "folder", "huge"])
def test_a_rig_file_that_is_none_is_refused_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], kind: str
) -> None:
    """A pipe, a device without an end, a folder, a file without measure: exit code 2."""
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "rig.toml"
    if kind == "fifo":
        os.mkfifo(path)
    elif kind == "device":
        path.symlink_to("/dev/zero")
    elif kind == "folder":
        path.mkdir()
    else:
        path.write_bytes(b"#" * 2_000_000)
    for command in ("status", "sheet", "trust"):
        code, _ = run(capsys, command)
        assert code == 2, command


def test_a_rig_file_that_is_a_link_stays_one(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """And its mode stays; a name that was put in the way is not followed."""
    real = here / "elsewhere.toml"
    (here / "rig.toml").rename(real)
    real.chmod(0o600)
    (here / "rig.toml").symlink_to(real)
    victim = here / "victim"
    victim.write_text("mine", encoding="utf-8")
    (here / "rig.toml.new").symlink_to(victim)
    (here / "elsewhere.toml.new").symlink_to(victim)
    judged(capsys, "trust", "--dive-deg", "2.5")
    assert (here / "rig.toml").is_symlink()
    assert "dive_deg = 2.5" in real.read_text(encoding="utf-8")
    assert real.stat().st_mode & 0o777 == 0o600
    assert victim.read_text(encoding="utf-8") == "mine"


def test_nothing_is_kept_that_could_not_be_read_back(
    here: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A figure that is no number ends the command; the folder stays as it was."""
    before = sorted((here / "records").iterdir())

    def spoiled(*given: object, **more: object) -> SurgeDocument:
        del given, more
        return SurgeDocument(verdict=Severity.PASS, false_pitch_deg=float("nan"), gain="x")  # type: ignore[arg-type]

    monkeypatch.setattr("calib.checks.tilt.surge.judge_surge", spoiled)
    code, document = judged(capsys, "surge", "--from", here / "shake.csv")
    assert code == 3
    assert "read back" in document["what"]
    assert sorted((here / "records").iterdir()) == before
