from __future__ import annotations

from pathlib import Path

import pytest

from calib.checks.limits import LIMITS, limit, refuse_unknown_limits
from calib.errors import RigError
from calib.store.rig import Channel, load_rig
from tests.unit.checks.bench.waves import rig_file

THROTTLE = '[channels.throttle]\nrole = "control"\ncolumn = "a0"\nunit = "V"\n'


def test_every_limit_says_what_it_means_and_where_it_is_from() -> None:
    """No limit without a meaning and a source, and every own choice gives its reason."""
    for name, entry in LIMITS.items():
        assert entry.meaning, name
        assert entry.source, name
        if entry.source.startswith("own choice"):
            assert len(entry.source) > len("own choice, because"), name


def test_a_user_s_own_limit_takes_the_place_of_the_table_s() -> None:
    """[channels.X.limits] wins for that channel and for no other."""
    own = Channel(role="control", column=0, unit="V", limits={"return_slow_s": 0.5})
    other = Channel(role="control", column=1, unit="V")
    assert limit("return_slow_s", own) == 0.5
    assert limit("return_slow_s", other) == LIMITS["return_slow_s"].value
    assert limit("return_slow_s", None) == LIMITS["return_slow_s"].value


def test_a_slip_in_a_limit_s_name_is_refused_with_the_likely_name(tmp_path: Path) -> None:
    """A limit that nothing reads would silently not hold."""
    path = rig_file(tmp_path, THROTTLE + "[channels.throttle.limits]\nreturn_slow = 0.5\n")
    with pytest.raises(RigError, match="'return_slow', which is no limit") as error:
        refuse_unknown_limits(load_rig(path))
    assert "return_slow_s" in error.value.hint


def test_known_limits_are_accepted(tmp_path: Path) -> None:
    """A rig file with limits from the table passes."""
    path = rig_file(tmp_path, THROTTLE + "[channels.throttle.limits]\nreturn_slow_s = 0.5\n")
    refuse_unknown_limits(load_rig(path))
