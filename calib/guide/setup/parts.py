"""What working the parts says of the rig file, and what of it could not be told."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from calib.controls.worked import Mover
from calib.guide.setup.draft import Proposed
from calib.guide.setup.plan import Sent
from calib.guide.setup.roles import role_by_name
from calib.guide.setup.working import Worked
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.setup import Origin
from calib.store.rig import Role
from calib.store.text import neutral

_MOVED = "it moved when {name} was worked"


def proposals_of(results: Sequence[Worked], sent: Sent, roles: Mapping[str, str]) -> list[Proposed]:
    """What the rig file should say of the parts that were told.

    Args:
        results: What working the parts showed.
        sent: What the logger sends.
        roles: Roles that were stated, or stand in the file, by part.
    """
    return [each for result in results for each in _proposals(result, sent, roles)]


def _proposals(result: Worked, sent: Sent, roles: Mapping[str, str]) -> Iterator[Proposed]:
    mover = result.mover
    if mover is None:
        return
    table, why = ("channels", result.name), _MOVED.format(name=result.name)
    role = roles.get(result.name) or _role(result.name, mover)
    if result.name not in roles:
        yield Proposed(table, "role", role, Origin.FOUND, "")
    yield Proposed(table, "column", sent.reference(mover.index), Origin.FOUND, why)
    if role == "switch":
        active = "low" if mover.far < mover.rest else "high"
        why = f"{mover.rest:.5g} let go, {mover.far:.5g} worked"
        yield Proposed(table, "active", active, Origin.FOUND, why)
    if result.second is not None and role == "control":
        other = f"{result.name}_b"
        why = f"it moved together with {result.name}"
        yield Proposed(("channels", other), "role", role, Origin.FOUND, "")
        column = sent.reference(result.second.index)
        yield Proposed(("channels", other), "column", column, Origin.FOUND, why)
        yield Proposed(table, "second_track", other, Origin.ASSUMED, why)


def _role(name: str, mover: Mover) -> Role:
    """What a part is: a lamp switch by its two levels, else by its name, else a control."""
    by_name = role_by_name(name)
    if by_name == "switch" and not mover.two_level:
        return "control"
    if by_name is None and mover.two_level:
        return "switch"
    return by_name or "control"


def findings_on(
    results: Sequence[Worked], sent: Sent, roles: Mapping[str, str]
) -> tuple[Finding, ...]:
    """What was told of each part, and what was not; arguments as ``proposals_of``."""
    return tuple(_finding(result, sent, roles) for result in results)


def _finding(result: Worked, sent: Sent, roles: Mapping[str, str]) -> Finding:
    name, mover = result.name, result.mover
    if mover is None:
        return _untold(result, sent)
    column = _column(sent, mover.index)
    severity, action = Severity.PASS, ""
    text = f"{name} is column {column}: {mover.rest:.5g} let go, {mover.far:.5g} worked"
    text += ", so it falls when worked." if mover.far < mover.rest else "."
    role = roles.get(name) or _role(name, mover)
    if role == "control" and mover.two_level:
        severity = Severity.CAUTION
        text += " It knew only on and off, as a switch does."
        action = f"If it is a switch, state --role {name}=switch; else work it slowly, once more."
    elif name not in roles and role_by_name(name) == "switch" and role == "control":
        severity = Severity.CAUTION
        text += " It moves smoothly, so it was taken for a control and not for a switch."
        action = f"If it is a switch, state --role {name}=switch."
    elif result.second is not None:
        severity = Severity.CAUTION
        second = _column(sent, result.second.index)
        text += f" Column {second} moved with it, and is taken for its second track."
        action = (
            f"If {second} is something else, two signal wires are joined or share a bad ground: "
            "mend that, then run it again."
        )
    return Finding(
        code="part-told", severity=severity, text=text, value=mover.far - mover.rest,
        action=action, channel=name,
    )  # fmt: skip


def _untold(result: Worked, sent: Sent) -> Finding:
    """A part of which nothing is known, and why."""
    name = result.name
    if result.taken is not None:
        text = f"What moved when {name} was asked for was {result.taken} again."
        action = f"Run 'calib setup --work {name}' and work {name} alone."
    elif result.others:
        columns = ", ".join(_column(sent, index) for index in result.others)
        text = f"Columns {columns} moved together when {name} was worked: which is it?"
        action = (
            "Look for a ground that they share, or a plug in the wrong place; then "
            f"'calib setup --work {name}', or state --column {name}=COLUMN."
        )
    elif result.unfinished is not None:
        column = _column(sent, result.unfinished)
        text = f"Column {column} moved when {name} was asked for, and did not come back twice."
        action = f"Run 'calib setup --work {name}' and let it come back all the way."
    else:
        text = f"No column moved when {name} was worked."
        action = (
            f"Look at its wire, its supply and the logger's pin; then 'calib setup --work {name}'."
        )
    return Finding(
        code="part-not-told", severity=Severity.UNKNOWN, text=text, action=action, channel=name
    )


def _column(sent: Sent, index: int) -> str:
    return neutral(str(sent.reference(index)), 40)
