"""One run of ``calib setup`` on a live line: write what was heard, then let parts be worked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import msgspec

from calib.cli.clock import host_clock_s, now
from calib.cli.options import Shared
from calib.cli.session import live_line
from calib.errors import BrokenOffError, UsageError
from calib.guide.asking import ask_until
from calib.guide.cautions import (
    CONTROL_CAUTIONS,
    LISTEN_CAUTIONS,
    TILT_CAUTIONS,
    WHEEL_CAUTIONS,
    isolation_card,
)
from calib.guide.protocols import Person
from calib.guide.setup.guided import Bench, Told, tell_parts, tell_tilt, tell_wheel
from calib.guide.setup.making import (
    another_logger,
    carried_on,
    make_rig,
    settle_rig,
    usb_proposal,
)
from calib.guide.setup.plan import Asked, Sent
from calib.guide.setup.roles import role_by_name
from calib.link.detect.rate import RateFound
from calib.link.ports import identity_of
from calib.store.documents.finding import Finding
from calib.store.documents.setup import Origin, SetupDocument
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

SCALE = {
    "full_scale": "counts at full scale, by the logger's data sheet",
    "reference_V": "reference voltage, metered",
}
"""What of a logger is asked for where it would be assumed: one question for all of it."""

LEAST_COUNTS = 64.0
"""Own choice: where one number is typed for two, what is less is a voltage."""


def wanted_parts(
    stated: Sequence[str],
    asked: Asked,
    rig: Rig | None,
    person: Person,
    *,
    yes: bool,
    only: str = "",
) -> tuple[str, ...]:
    """Parts to be worked: as stated, else as the person answers; none with ``--yes``.

    Args:
        stated: Parts that were stated.
        asked: What the person said by options.
        rig: The rig file as it was; None where it was not there.
        person: Is asked.
        yes: Ask nothing.
        only: The only port that there is, which an answer chooses; empty where one was chosen.

    Raises:
        UsageError: A part is none that can be worked.
    """
    if stated:
        return _checked(stated)
    if yes:
        return ()
    known = set(asked.columns) | (set() if rig is None else set(rig.channels))
    missing = [name for name in USUAL_PARTS if name not in known]
    default = NONE if rig is not None or asked.columns else " ".join(missing)
    named = f"The logger is on {only}, the only port (Ctrl-C if not). " if only else ""
    answer = person.answer(
        f"{named}Parts on the logger, to be worked one by one "
        f"({', '.join((*USUAL_PARTS, WHEEL, TILT))}; or {NONE})",
        default=default,
    )
    return _checked(tuple(word for word in answer.replace(",", " ").split() if word != NONE))


def _checked(names: Sequence[str]) -> tuple[str, ...]:
    for name in names:
        role = role_by_name(name)
        if name not in (TILT, WHEEL) and role not in (None, "control", "switch"):
            raise UsageError(
                f"{name!r} cannot be worked by hand: it is a {role}.",
                f"State its column: --column {name}=COLUMN.",
            )
    return tuple(dict.fromkeys(names))


@dataclass(frozen=True, slots=True)
class Run:
    """One run on a live line.

    Attributes:
        shared: The shared options.
        port: The port that was chosen.
        found: Its rate.
        asked: What the person said by options.
        person: Works the machine, and is asked.
    """

    shared: Shared
    port: str
    found: RateFound
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
        told = known
        if not names:
            return self._write(rig, told, self._asked_scale(rig, told), None)
        later = {table: keys for table, keys in self.asked.keys.items() if table[1:2] and
                 table[1] in names}  # fmt: skip
        first = {table: keys for table, keys in self.asked.keys.items() if table not in later}
        document = self._write(rig, told, replace(self.asked, keys=first), None)
        parts = [name for name in names if name not in (TILT, WHEEL)]
        if parts:
            told = _after(known, known.findings, self._work(told, parts))
            document = self._write(self._rig(), told, self.asked, document)
            self._require_somebody(told)
        if WHEEL in names:
            told = _after(known, told.findings, self._turn(told))
            document = self._write(self._rig(), told, self.asked, document)
            self._require_somebody(told)
        if TILT in names:
            told = _after(known, told.findings, self._stand(told))
        asked = self._asked_acts(self._asked_scale(self._rig(), told))
        return self._write(self._rig(), told, asked, document)

    def _known_logger(self, rig: Rig | None, sent: Sent) -> tuple[Told, Rig | None]:
        """By what this logger is known again; and the rig file without truings of another one."""
        identity = identity_of(self.port)
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
            raise BrokenOffError(
                f"Broken off: nothing moved when {name} was asked for. What other parts told "
                f"stands in {self.shared.rig_path}.",
                f"Run 'calib setup --work {name}'; if you did work it, look at its wire, its "
                "supply and the logger's pin first.",
            )

    def _rig(self) -> Rig:
        """The rig file as it is now."""
        return load_rig(self.shared.rig_path)

    def _named(self, told: Told) -> Rig:
        """The rig file with the names of the columns: no header may come a second time."""
        rig = self._rig()
        names = told.sent.names if told.sent.named else ()
        link = msgspec.structs.replace(rig.link, columns=names)
        return msgspec.structs.replace(rig, link=link)

    def _work(self, told: Told, parts: Sequence[str]) -> Told:
        """Let the person work the parts."""
        card = isolation_card("work the hand controls", CONTROL_CAUTIONS)
        rig = self._named(told)
        with live_line(rig, self.person, isolation=card) as line:
            bench = Bench(line, rig, self.shared.folder, self.person, host_clock_s, now)
            return tell_parts(bench, told.sent, parts, self._roles(rig))

    def _roles(self, rig: Rig) -> dict[str, str]:
        """Roles that stand in the file, or were stated."""
        roles: dict[str, str] = {name: channel.role for name, channel in rig.channels.items()}
        for table, keys in self.asked.keys.items():
            if table[0] == "channels" and "role" in keys:
                roles[table[1]] = str(keys["role"])
        return roles

    def _turn(self, told: Told) -> Told:
        """Let the wheel be turned by hand."""
        card = isolation_card("turn the wheel by hand", WHEEL_CAUTIONS)
        rig = self._named(told)
        with live_line(rig, self.person, isolation=card) as line:
            bench = Bench(line, rig, self.shared.folder, self.person, host_clock_s, now)
            return tell_wheel(bench, told.sent)

    def _stand(self, told: Told) -> Told:
        """Let the machine stand level, then with its front raised."""
        card = isolation_card("raise the front", TILT_CAUTIONS)
        rig = self._named(told)
        with live_line(rig, self.person, isolation=card) as line:
            bench = Bench(line, rig, self.shared.folder, self.person, host_clock_s, now)
            return tell_tilt(bench, told.sent)

    def _asked_scale(self, rig: Rig | None, told: Told) -> Asked:
        """What the person said, with answers on what would else be assumed of the logger."""
        settled = settle_rig(
            self.shared.rig_path, rig, told.sent, self.asked,
            found=self.found, port=self.port, told=told.proposals,
        )  # fmt: skip
        assumed = {
            each.key: each.value for each in settled.settings
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
                    self.person, question, _acts_or_open, "drive, brake or Enter.", default=OPEN
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
        made = make_rig(
            self.shared.rig_path,
            rig,
            told,
            asked,
            found=self.found,
            port=self.port,
            cautions=cautions,
        )
        return made if before is None else carried_on(made, before)


def _after(known: Told, findings: Sequence[Finding], told: Told) -> Told:
    """What was told, with what is known of the logger, and what was found before."""
    return replace(
        told,
        proposals=(*known.proposals, *told.proposals),
        findings=(*findings, *told.findings),
    )


def _acts_or_open(answer: str) -> str | None:
    word = answer.strip().casefold()
    return word if word in ("drive", "brake", OPEN) else None


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
