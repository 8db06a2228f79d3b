from __future__ import annotations

from pathlib import Path

import pytest

from calib.link.assembly import wanted_names
from tests.hands import VOLT_RIG, make_rig


@pytest.mark.parametrize(
    ("text", "names"),
    [
        (VOLT_RIG, {"a0"}),
        (VOLT_RIG + '[time]\ncolumn = "t"\nunit = "ms"\n', {"a0", "t"}),
        (VOLT_RIG + '[time]\ncolumn = 0\nunit = "ms"\n', {"a0"}),
        (VOLT_RIG.replace('"a0"', "2"), set()),
        (VOLT_RIG.replace('"a0"', "2") + '[time]\ncolumn = "t"\nunit = "ms"\n', {"t"}),
    ],
)
def test_what_is_waited_for_is_what_is_asked_for_by_name(
    tmp_path: Path, text: str, names: set[str]
) -> None:
    """Columns of channels and of the clock; one that is given by its place needs no name."""
    assert wanted_names(make_rig(tmp_path, text)) == names
