"""One run of ``calib setup`` on a live line: which port, what is heard, which part is which."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import click
import msgspec

from calib.cli.flow import now
from calib.cli.options import Shared
from calib.cli.session import live_line
from calib.errors import BrokenOffError, UsageError
from calib.guide.asking import ask_until, one_of
from calib.guide.cautions import (
    CONTROL_CAUTIONS,
    LISTEN_CAUTIONS,
    TILT_CAUTIONS,
    WHEEL_CAUTIONS,
    isolation_card,
)
from calib.guide.protocols import Live, Person, Step
from calib.guide.setup.guided import Bench, Told, tell_parts, tell_tilt, tell_wheel
from calib.guide.setup.making import another_logger, carried_on, make_rig, usb_proposal
from calib.guide.setup.plan import Asked, Sent, draft_rig, look_at
from calib.guide.setup.roles import role_by_name
from calib.link.detect.layout import Stated
from calib.link.detect.rate import RATES, listen_to
from calib.link.ports import identity_of, known_ports
from calib.store.documents.printed import Origin, SetupDocument
from calib.store.plausible import Usual, number_at_prompt
from calib.store.rig import Rig, load_rig
from calib.store.rig_writing import RigEdit, edit_rig

TILT = "tilt"
WHEEL = "wheel"
USUAL_PARTS = ("throttle", "regen", "brake")
NONE = "none"
TYPED = Usual(1e-3, 1e9)
"""Counts at full scale, or a reference in volts: what makes sense of either, each with room."""
OPEN = "-"
"""What is answered where nobody knows."""
ACTS = one_of({word: word for word in ("drive", "brake", OPEN)})

SCALE = {
    "full_scale": "counts at full scale, by the logger's data sheet",
    "reference_V": "reference voltage, metered",
}
"""What of a logger is asked for where it would be assumed: one question for all of it."""

LEAST_COUNTS = 64.0
"""Own choice: where one number is typed for two, what is less is a voltage."""


def live_setup(
    shared: Shared,
    rig: Rig | None,
    asked: Asked,
    stated: Stated,
    person: Person,
    given: Mapping[str, Any],
) -> SetupDocument:
    """Choose the port, listen, and let parts be worked.

    Args:
        shared: The shared options.
        rig: The rig file as it was; None where it was not there.
        asked: What the person said of columns and channels.
        stated: What the person said of the lines.
        person: Works the machine, and is asked.
        given: The options of setup by name.

    Raises:
        UsageError: There is no port, or a part is none that can be worked.
        BrokenOffError: Nobody worked on.
    """
    names, asks_parts = given["work"], not (given["work"] or shared.yes)
    port, only = _port(shared, rig, person, asks_parts=asks_parts)
    if asks_parts:
        names = _ask_parts(asked, rig, person, only=port if only else "")
    names = _checked(names)
    first = () if rig is None else (rig.link.baud,)  # the file's rate, before the usual ones
    found = listen_to(
        port,
        (given["baud"],) if given["baud"] else tuple(dict.fromkeys((*first, *RATES))),
        stated,
        listen_s=given["listen"],
        clock=time.monotonic,
        tell=lambda baud: person.show(Live(Step("listen", f"{port} at {baud} baud"))),
    )
    sent = look_at(found.heard, listed(asked, rig), found, port)
    return Run(shared, asked, person).make(rig, sent, names)


def listed(asked: Asked, rig: Rig | None) -> tuple[str, ...]:
    """Names of columns that were stated, or that the rig file lists."""
    stated = asked.keys.get(("link",), {}).get("columns")
    if isinstance(stated, tuple):
        return tuple(map(str, stated))
    return () if rig is None else rig.link.columns


def _port(shared: Shared, rig: Rig | None, person: Person, *, asks_parts: bool) -> tuple[str, bool]:
    """The port that was chosen: by option, by the rig file, or by the person.

    Args:
        shared: The shared options.
        rig: The rig file as it was.
        person: Is asked.
        asks_parts: The question for the parts comes next, and can name the only port that there is.

    Returns:
        The port, and whether it was taken as the only one.

    Raises:
        UsageError: There is none, or nobody may be asked.
    """
    chosen = shared.port or (rig.link.port if rig is not None else "")
    if chosen:
        return chosen, False
    ports = known_ports()
    if asks_parts and len(ports) == 1 and not ports[0].users:
        return ports[0].path, True
    if shared.yes or not ports:
        there = "; ".join(f"{port.path} ({port.description})" for port in ports) or "none"
        raise UsageError.of("no-port-chosen", there=there)
    for number, port in enumerate(ports, 1):
        about = ", ".join(part for part in (port.description, port.maker, *port.users) if part)
        click.echo(f"  {number}  {port.path}  {about}", err=True)
    numbered = {str(number): port.path for number, port in enumerate(ports, 1)}

    def read(answer: str) -> str | None:
        """One of those by its number; any other name, but no other number."""
        typed = answer.strip()
        return numbered.get(typed) or (None if typed.isdigit() else typed or None)

    answered = ask_until(
        person,
        "Which is the logger? Its number or its name; no other is opened",
        read,
        f"A number from 1 to {len(ports)}, or a name.",
    )
    return answered, False


def _ask_parts(asked: Asked, rig: Rig | None, person: Person, *, only: str) -> list[str]:
    """Parts to be worked, as the person answers; an answer also chooses the only port."""
    known = set(asked.columns) | (set() if rig is None else set(rig.channels))
    missing = [name for name in USUAL_PARTS if name not in known]
    default = NONE if rig is not None or asked.columns else " ".join(missing)
    named = f"The logger is on {only}, the only port (Ctrl-C if not). " if only else ""
    answer = person.answer(
        f"{named}Parts on the logger, to be worked one by one "
        f"({', '.join((*USUAL_PARTS, WHEEL, TILT))}; or {NONE})",
        default=default,
    )
    return [word for word in answer.replace(",", " ").split() if word != NONE]


def _checked(names: Sequence[str]) -> tuple[str, ...]:
    """Each name once.

    Raises:
        UsageError: A part is none that can be worked.
    """
    for name in names:
        role = role_by_name(name)
        if name not in (TILT, WHEEL) and role not in (None, "control", "switch"):
            raise UsageError.of("not-worked-by-hand", name=name, role=role)
    return tuple(dict.fromkeys(names))


Act = tuple[str, tuple[str, ...], Callable[[Bench, Sent], Told]]
"""Something for the person to do, from which the signals tell what is what: what is done to the
machine, what to be careful about, and what has it done at the open line, given what it sends."""


@dataclass(frozen=True, slots=True)
class Run:
    """One run on a live line.

    Attributes:
        shared: The shared options.
        asked: What the person said by options.
        person: Works the machine, and is asked.
    """

    shared: Shared
    asked: Asked
    person: Person

    def make(self, rig: Rig | None, sent: Sent, names: Sequence[str]) -> SetupDocument:
        """Write what was heard, let parts be worked, and write what that told.

        Args:
            rig: The rig file as it was; None where it was not there.
            sent: What the logger sends.
            names: Parts to be worked.

        Raises:
            BrokenOffError: Nobody worked on.
        """
        known, rig = self._known_logger(rig, sent)
        if not names:
            return self._write(rig, known, self._asked_scale(rig, known), None)
        first = {
            table: keys for table, keys in self.asked.keys.items() if not {*table[1:2]} & {*names}
        }
        document = self._write(rig, known, replace(self.asked, keys=first), None)
        told = known
        for act in self._acts(names):
            seen = self._done(act, told.sent)
            told = replace(
                seen,
                proposals=(*known.proposals, *seen.proposals),
                findings=(*told.findings, *seen.findings),
            )
            document = self._write(self._rig(), told, self.asked, document)
            self._require_somebody(told)
        asked = self._asked_acts(self._asked_scale(self._rig(), told))
        return self._write(self._rig(), told, asked, document)

    def _acts(self, names: Sequence[str]) -> Iterator[Act]:
        """What the person is to do, one after the other."""
        parts = [name for name in names if name not in (TILT, WHEEL)]
        if parts:
            yield (
                "work the hand controls",
                CONTROL_CAUTIONS,
                lambda bench, sent: tell_parts(bench, sent, parts, self._roles(bench.rig)),
            )
        if WHEEL in names:
            yield "turn the wheel by hand", WHEEL_CAUTIONS, tell_wheel
        if TILT in names:
            yield "raise the front", TILT_CAUTIONS, tell_tilt

    def _done(self, act: Act, sent: Sent) -> Told:
        """What the signals told while the person did it."""
        rig = self._rig()
        # with the names of the columns: no header may come a second time
        names = sent.names if sent.named else ()
        rig = msgspec.structs.replace(rig, link=msgspec.structs.replace(rig.link, columns=names))
        about, cautions, tell = act
        with live_line(rig, self.person, isolation=isolation_card(about, cautions)) as line:
            bench = Bench(line, rig, self.shared.folder, self.person, now)
            return tell(bench, sent)

    def _known_logger(self, rig: Rig | None, sent: Sent) -> tuple[Told, Rig | None]:
        """By what this logger is known again; and the rig file without truings of another one."""
        identity = None if sent.port is None else identity_of(sent.port)
        was = None if rig is None else rig.link.usb
        if identity is None:
            return Told((), (), sent), rig
        known = Told((usb_proposal(identity.text),), (), sent)
        if rig is None or was in (None, identity.text):
            return known, rig
        trued = [("channels", name, "scale") for name in rig.channels if rig.channels[name].scale]
        if trued:
            edit_rig(self.shared.rig_path, RigEdit({}, without=trued))
        finding = another_logger(identity.text, len(trued))
        return replace(known, findings=(finding,)), self._rig()

    def _require_somebody(self, told: Told) -> None:
        """End it where the last part was not worked, with all that was told before it written.

        Raises:
            BrokenOffError: So it is.
        """
        if told.left_undone:
            name = told.left_undone
            raise BrokenOffError.of("nothing-moved", name=name, path=self.shared.rig_path)

    def _rig(self) -> Rig:
        """The rig file as it is now."""
        return load_rig(self.shared.rig_path)

    def _roles(self, rig: Rig) -> dict[str, str]:
        """Roles that stand in the file, or were stated."""
        roles: dict[str, str] = {name: channel.role for name, channel in rig.channels.items()}
        for table, keys in self.asked.keys.items():
            if table[0] == "channels" and "role" in keys:
                roles[table[1]] = str(keys["role"])
        return roles

    def _asked_scale(self, rig: Rig | None, told: Told) -> Asked:
        """What the person said, with answers on what would else be assumed of the logger."""
        draft = draft_rig(told.sent, self.asked, rig, told.proposals)
        settings, _ = draft.settle(self.shared.rig_path)
        assumed = {
            each.key: each.value for each in settings
            if each.key in SCALE and each.origin is Origin.ASSUMED
        }  # fmt: skip
        keys = [key for key in SCALE if key in assumed]
        if not keys:
            return self.asked
        default = " ".join(f"{assumed[key]:g}" for key in keys)
        words = " and ".join(SCALE[key] for key in keys)
        typed = ask_until(
            self.person,
            f"{words[:1].upper()}{words[1:]} (Enter: {default}, marked as assumed)",
            lambda answer: {} if answer == default else _scale(keys, answer),
            f"Numbers such as {default}.",
            default=default,
        )
        return replace(self.asked, every={**self.asked.every, **typed})

    def _asked_acts(self, asked: Asked) -> Asked:
        """What the person said, with an answer for each control whose name leaves it open."""
        keys = {table: dict(values) for table, values in asked.keys.items()}
        rig = self._rig()
        for name in rig.with_role("control"):
            if rig.acts(name) is None and "acts" not in keys.get(("channels", name), {}):
                question = f"Does {name} drive or brake? (drive/brake; Enter: leave it open)"
                answer = ask_until(
                    self.person, question, ACTS, "drive, brake or Enter.", default=OPEN
                )
                if answer != OPEN:
                    keys.setdefault(("channels", name), {})["acts"] = answer
        return replace(asked, keys=keys)

    def _write(
        self, rig: Rig | None, told: Told, asked: Asked, before: SetupDocument | None
    ) -> SetupDocument:
        """Write what is known so far."""
        worked = any(finding.code.startswith("part") for finding in told.findings)
        cautions = CONTROL_CAUTIONS if worked else LISTEN_CAUTIONS
        made = make_rig(self.shared.rig_path, rig, told, asked, cautions)
        return made if before is None else carried_on(made, before)


def _scale(keys: Sequence[str], answer: str) -> dict[str, float] | None:
    """Numbers that were typed, by key: as many as there are keys, or one that says which it is.

    None where they are none, and are asked for again.
    """
    try:
        typed = [number_at_prompt(word, TYPED) for word in answer.split()]
    except ValueError:
        return None
    if len(typed) == 1 and len(keys) == 2:
        return {keys[0 if typed[0] >= LEAST_COUNTS else 1]: typed[0]}
    return dict(zip(keys, typed, strict=True)) if len(typed) == len(keys) else None
