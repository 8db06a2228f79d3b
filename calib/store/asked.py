"""Which keys of a rig file a judgement really asked for: a record rests on those and no others.

The rig that a command works with is an asking one: every table notes each key that is read from
it. Nobody keeps a list of what matters by hand, and a key that is new is covered by itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any, Final, TypeVar, get_args

import msgspec

from calib.store.acts import Acts
from calib.store.rig import TABLES, Channel, Rig, Role

Plain = bool | int | float | str | list[Any] | None

GIVEN: Final = "given"
"""Value of a key that holds a table: whether it is there; what is in it has keys of its own."""

CHANNELS: Final = "channels"
"""What looks at every channel rests on their names."""

MACHINE: Final = "rig.name"
"""Every record rests on it: another machine's record is none of this one."""

LOGGER: Final = "link.usb"
"""Every record rests on it as well, where it is known: another logger has other volts."""

_WHERE: Final = frozenset({"link.port", "link.baud", LOGGER})
"""They say where the line is, not what it says: at a wrong rate nothing decodes. A logger that
becomes known is no other one."""

T = TypeVar("T")


class RigKey(msgspec.Struct, frozen=True, kw_only=True):
    """One key of the rig file and its value when it was asked for.

    Attributes:
        key: As in the file, with its tables: ``channels.throttle.reference_V``. Channels by their
            role are ``channels by role.ROLE``, with their names.
        value: As in the file; None where it was not given.
    """

    key: str
    value: Plain


class AskingRig(Rig, frozen=True, kw_only=True):
    """A rig whose tables note what is read from them.

    Attributes:
        plain: The rig without that.
        asked: The keys that were read.
    """

    plain: Rig
    asked: set[str]

    def note_below(self, key: str) -> None:
        """Note a key and all below it: what wrote them rests on them."""
        below = (each for each in keys_of(self) if each == key or each.startswith(f"{key}."))
        self.asked.update(below)

    def acts(self, name: str) -> Acts | None:
        """What a control does: a word for pages, on which nothing that was measured rests."""
        return self.plain.acts(name)

    def acts_assumed(self, name: str) -> bool:
        """Whether that was taken from its name."""
        return self.plain.acts_assumed(name)

    def with_limit(self, name: str) -> list[Channel]:
        """The channels for which the user gives a limit, whatever they are."""
        self.asked.add(_limit_key(name))
        return self.plain.with_limit(name)

    def with_role(self, *roles: Role) -> dict[str, Channel]:
        """The channels that have one of ``roles``, by name, in the file's order."""
        self.asked.update(map(_role_key, roles))
        named = self.plain.with_role(*roles)
        return {name: dict.__getitem__(self.channels, name) for name in named}


def asking(plain: Rig, asked: set[str] | None = None) -> AskingRig:
    """A rig that notes what is read from it.

    Args:
        plain: The rig file as read.
        asked: Where it is noted; a fresh set when None.
    """
    log: set[str] = set() if asked is None else asked
    tables = {name: _asking(name, getattr(plain, name), log) for name in TABLES}
    return AskingRig(**(msgspec.structs.asdict(plain) | tables), plain=plain, asked=log)


def plain_rig(rig: Rig) -> Rig:
    """The rig without its list of what was asked."""
    return rig.plain if isinstance(rig, AskingRig) else rig


def asked_of(rig: Rig) -> tuple[RigKey, ...]:
    """The keys that were asked of a rig, with their values; every key of one that notes nothing."""
    there = keys_of(rig)
    names = {MACHINE, *rig.asked} if isinstance(rig, AskingRig) else there.keys()
    logger = () if there[LOGGER] is None else (LOGGER,)
    keys = sorted({*(names - _WHERE), *logger})
    return tuple(RigKey(key=key, value=there.get(key)) for key in keys)


def keys_of(rig: Rig) -> dict[str, Plain]:
    """Every key of a rig file with its value; None where it is not given."""
    plain = plain_rig(rig)
    found = {key: value for name in TABLES for key, value in _flat(name, getattr(plain, name))}
    for limit in {name for channel in plain.channels.values() for name in channel.limits}:
        found[_limit_key(limit)] = [ch.limits[limit] for ch in plain.with_limit(limit)]
    for role in get_args(Role):
        found[_role_key(role)] = list(plain.with_role(role))
    return found


def _limit_key(name: str) -> str:
    return f"limits of any channel.{name}"


def _role_key(role: str) -> str:
    return f"channels by role.{role}"


def _flat(at: str, value: Any) -> Iterator[tuple[str, Plain]]:
    """A key and all below it."""
    yield at, _plain(value)
    if isinstance(value, msgspec.Struct):
        value = msgspec.structs.asdict(value)
    if isinstance(value, dict):
        for name, each in value.items():
            yield from _flat(f"{at}.{name}", each)


def _plain(value: Any) -> Plain:
    """A value as a record keeps it."""
    if isinstance(value, msgspec.Struct):
        return GIVEN
    if isinstance(value, dict):
        return list(value)
    if isinstance(value, tuple | list):
        return [_plain(each) for each in value]
    plain: Plain = value
    return plain


def _asking(at: str, value: T, log: set[str]) -> T:
    """A table, or a mapping, that notes what is read from it; anything else as it is."""
    if isinstance(value, msgspec.Struct):
        kind: Any = _asking_kind(type(value))
        fields = msgspec.structs.asdict(value)
        own = {name: _asking(f"{at}.{name}", each, log) for name, each in fields.items()}
        made: T = kind(**own, asked_at=at, asked_log=log)
        return made
    if isinstance(value, dict):
        noting: Any = _AskingDict(at, value, log)
        return noting  # type: ignore[no-any-return]
    return value


@cache
def _asking_kind(kind: type[msgspec.Struct]) -> type[msgspec.Struct]:
    """A table of the same kind that notes what is read; copies of it go on noting."""
    own = frozenset(kind.__struct_fields__)

    def read(self: Any, name: str) -> Any:
        value = object.__getattribute__(self, name)
        # a mapping says nothing until it is asked for something, and notes that by itself
        if name in own and not isinstance(value, _AskingDict):
            at = object.__getattribute__(self, "asked_at")
            object.__getattribute__(self, "asked_log").add(f"{at}.{name}")
        return value

    name, fields = f"Asking{kind.__name__}", [("asked_at", str), ("asked_log", set[str])]
    return msgspec.defstruct(
        name, fields, bases=(kind,), namespace={"__getattribute__": read}, frozen=True, kw_only=True
    )


def _of_one(read: Any) -> Any:
    """A way to read one key of a mapping, that notes the key."""

    def noting(self: _AskingDict, name: str, *otherwise: Any) -> Any:
        self.log.add(f"{self.at}.{name}")
        return read(self, name, *otherwise)

    return noting


def _of_all(read: Any) -> Any:
    """A way to look at all keys of a mapping, that notes the mapping."""

    def noting(self: _AskingDict) -> Any:
        self.log.add(self.at)
        return read(self)

    return noting


class _AskingDict(dict[str, Any]):
    """A mapping of the rig file that notes which of its keys were asked for."""

    def __init__(self, at: str, plain: dict[str, Any], log: set[str]) -> None:
        super().__init__({name: _asking(f"{at}.{name}", each, log) for name, each in plain.items()})
        self.at = at
        self.log = log

    __getitem__ = _of_one(dict.__getitem__)
    __contains__ = _of_one(dict.__contains__)
    get = _of_one(dict.get)
    __iter__ = _of_all(dict.__iter__)
    __len__ = _of_all(dict.__len__)
    keys = _of_all(dict.keys)
    items = _of_all(dict.items)
    values = _of_all(dict.values)
