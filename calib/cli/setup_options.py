"""What the options of ``calib setup`` say, put together for the draft of the rig file."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

from calib.errors import UsageError
from calib.guide.setup.draft import Value
from calib.guide.setup.plan import Asked
from calib.link.detect.layout import Stated
from calib.store.rig_writing import TableName
from calib.store.text import neutral

_NUMBERS = {"full_scale": "--full-scale", "reference_V": "--reference-V", "divider": "--divider"}
_EXAMPLES = {"--full-scale": "1024", "--reference-V": "4.97", "--divider": "2"}


def stated_lines(given: Mapping[str, Any]) -> Stated:
    """What the person said of the lines."""
    return Stated(given["layout"], given["checksum"], given["separator"], given["decimal"])


def asked_for(given: Mapping[str, Any]) -> Asked:
    """What the person said of columns and channels.

    Raises:
        UsageError: An option cannot be read.
    """
    every: dict[str, Value] = {}
    keys: dict[TableName, dict[str, Value]] = {}
    columns = dict(_pair("--column", text) for text in given["columns"])
    for channel, role in (_pair("--role", text) for text in given["roles"]):
        keys.setdefault(("channels", channel), {})["role"] = role
    for text in given["units"]:
        _put("unit", *_for_one(text), every=every, keys=keys)
    for key, option in _NUMBERS.items():
        for text in given[key]:
            one, number = _for_one(text)
            _put(key, one, _number(option, number), every=every, keys=keys)
    if given["name"] is not None:
        keys.setdefault(("rig",), {})["name"] = given["name"]
    for text in given["settings"]:
        table, key, value = _setting(text)
        keys.setdefault(table, {})[key] = value
    return Asked(
        columns=columns,
        keys=keys,
        every=every,
        rate_stated=given["baud"] is not None,
        time_column=given["time_column"],
        time_unit=given["time_unit"],
        time_wrap=given["time_wrap"],
        rate_hz=given.get("rate_hz"),
    )


def _put(
    key: str,
    channel: str | None,
    value: Value,
    *,
    every: dict[str, Value],
    keys: dict[TableName, dict[str, Value]],
) -> None:
    """Note a value for one channel, or for every one that carries a voltage."""
    if channel is None:
        every[key] = value
    else:
        keys.setdefault(("channels", channel), {})[key] = value


def _pair(option: str, text: str) -> tuple[str, str]:
    """A channel and what is said of it."""
    channel, equals, value = text.partition("=")
    if not equals or not channel.strip() or not value.strip():
        raise UsageError(
            f"{option} {neutral(text)!r}: a channel, '=' and a value were expected.",
            f"For instance {option} throttle={'control' if option == '--role' else 'a0'}.",
        )
    return channel.strip(), value.strip()


def _for_one(text: str) -> tuple[str | None, str]:
    """The channel that a value is for, None for all; and the value."""
    channel, equals, value = text.rpartition("=")
    return (channel.strip() if equals else None), value.strip()


def _number(option: str, text: str) -> int | float:
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        number = 0.0
    if not 0.0 < number < 1e12:
        raise UsageError(
            f"{option} {neutral(text)!r}: a number above nought was expected.",
            f"For instance {option} {_EXAMPLES[option]}, or {option} throttle={_EXAMPLES[option]}.",
        )
    return int(number) if option == "--full-scale" and number.is_integer() else number


def _setting(text: str) -> tuple[TableName, str, Value]:
    """Table, key and value of a ``--set``."""
    path, _, written = text.partition("=")
    names: Sequence[str] = [part.strip() for part in path.split(".")]
    if len(names) < 2 or not all(names):
        raise UsageError(
            f"--set {neutral(text)!r}: a table, a key, '=' and a value were expected.",
            "For instance --set channels.pitch.zero_V=2.5, or --set tilt.wheelbase_mm=1250.",
        )
    try:
        value = tomllib.loads(f"value = {written.strip()}")["value"]
    except tomllib.TOMLDecodeError:
        value = written.strip()  # a word without its quotes
    if isinstance(value, list):
        value = tuple(value)
    return tuple(names[:-1]), names[-1], value
