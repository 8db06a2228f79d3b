from __future__ import annotations

from pathlib import Path

import pytest

from calib.checks.limits import limit, limit_of_line, tilt_limit
from calib.store.asked import AskingRig, asked_of, asking, keys_of
from tests.hands import VOLT_RIG, make_rig

LIMITED = VOLT_RIG + "[channels.throttle.limits]\nplay_pct = 6.0\nreturn_slow_s = 0.4\n"


def read(rig: AskingRig, name: str) -> float:
    """A limit, asked as its kind is asked."""
    if name == "jump_s":
        return limit_of_line(name, rig)
    if name == "lag_s":
        return tilt_limit(name, rig)
    return limit(name, rig.channel("throttle"))


@pytest.mark.parametrize("name", ["return_slow_s", "moved_pct", "jump_s", "lag_s"])
def test_only_the_limit_that_was_read_counts(name: str, tmp_path: Path) -> None:
    """Another limit of the same channel, given later or changed, leaves what rests on one fresh."""
    rig = asking(make_rig(tmp_path, LIMITED))
    read(rig, name)
    later = LIMITED.replace("play_pct = 6.0", "play_pct = 9.0\nflat_pct = 12.0")
    now = keys_of(make_rig(tmp_path, later))
    assert all(now.get(each.key) == each.value for each in asked_of(rig))


@pytest.mark.parametrize("name", ["return_slow_s", "moved_pct", "jump_s"])
def test_the_limit_that_was_read_counts_where_it_was_not_given_either(
    name: str, tmp_path: Path
) -> None:
    """A limit that is given for the first time, or for the last, is a difference."""
    rig = asking(make_rig(tmp_path, LIMITED))
    read(rig, name)
    text = LIMITED.replace("return_slow_s = 0.4\n", "") + f"{name} = 0.7\n"
    now = keys_of(make_rig(tmp_path, text))
    changed = [each.key for each in asked_of(rig) if now.get(each.key) != each.value]
    assert len(changed) == 1
    assert name in changed[0]


def test_the_rig_that_notes_knows_what_is_assumed(tmp_path: Path) -> None:
    """Commands work with that rig, and the sheet must not lose the word of an assumption."""
    rig = make_rig(tmp_path, VOLT_RIG + "supply_V = 5.0  # assumed 5.0: nobody measured it\n")
    assert asking(rig).assumed == rig.assumed == {"channels.throttle.supply_V"}
