from __future__ import annotations

from typing import Any

import pytest

from calib.cli.setup import asked_for
from calib.errors import UsageError

NOTHING: dict[str, Any] = {
    "column": (), "role": (), "unit": (), "full_scale": (), "reference_V": (), "divider": (),
    "set": (), "name": None, "baud": None, "time_column": None, "time_unit": None,
    "time_wrap": None,
}  # fmt: skip


def test_a_value_is_for_one_channel_or_for_all() -> None:
    """With a channel before it a value is that channel's; without, it is for all."""
    asked = asked_for(NOTHING | {"full_scale": ("4096", "rail=1024"), "divider": ("throttle=1,5",)})
    assert asked.every == {"full_scale": 4096}
    assert asked.keys["channels", "rail"] == {"full_scale": 1024}
    assert asked.keys["channels", "throttle"] == {"divider": 1.5}


@pytest.mark.parametrize(
    ("text", "table", "key", "value"),
    [
        ("tilt.wheelbase_mm=1250", ("tilt",), "wheelbase_mm", 1250),
        ("channels.brake.active=low", ("channels", "brake"), "active", "low"),
        ('link.columns=["t_ms", "a0"]', ("link",), "columns", ("t_ms", "a0")),
        ("channels.t.limits.drop_out=0.1", ("channels", "t", "limits"), "drop_out", 0.1),
    ],
)
def test_any_key_can_be_set(text: str, table: tuple[str, ...], key: str, value: object) -> None:
    """A key is set as it is written in the file; a word needs no quotes."""
    assert asked_for(NOTHING | {"set": (text,)}).keys == {table: {key: value}}


@pytest.mark.parametrize(
    "given",
    [
        {"column": ("throttle",)},
        {"column": ("=a0",)},
        {"role": ("throttle=",)},
        {"full_scale": ("many",)},
        {"reference_V": ("throttle=-5",)},
        {"divider": ("nan",)},
        {"set": ("baud=9600",)},
        {"set": ("link..baud=9600",)},
    ],
)
def test_what_cannot_be_read_is_refused(given: dict[str, Any]) -> None:
    """The option is named, with an example."""
    with pytest.raises(UsageError, match=r"^--[A-Za-z-]+ '.*expected\. For instance"):
        asked_for(NOTHING | given)
