"""What a control's values rest on that nobody measured or proved, said beside each of them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from calib.store.conversion import base_unit
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.travel import TravelDocument
from calib.store.rig import Channel, Rig


@dataclass(frozen=True, slots=True)
class Doubt:
    """One thing that was taken for granted.

    Attributes:
        words: In the few words that fit beside a number.
        finding: In a sentence, with what to do.
    """

    words: str
    finding: Finding


def untrued(channel: Channel) -> str:
    """That a channel's volts were never held against a meter; empty where they were."""
    pct = channel.untrued_pct
    if pct is None:
        return ""
    far = f"may be off by {pct:g} %"
    if channel.reference_tolerance_pct is not None:
        return f"The logger's volts were never held against a meter: they {far}, as stated."
    return f"The logger's volts were never held against a meter: they {far}, as a USB supply is."


def doubts(rig: Rig, name: str, document: TravelDocument) -> Iterator[Doubt]:
    """What each value of a measured control takes for granted.

    Args:
        rig: The rig file as it is now.
        name: The control.
        document: Its travel.
    """
    channel = rig.channels[name]
    words = untrued(channel)
    if words and document.basis == "logger" and base_unit(channel) == "V":
        found = Finding(
            code="volts-untrued",
            severity=Severity.CAUTION,
            text=words,
            action=f"Run 'calib meter {name}', then 'calib travel {name}'.",
            channel=name,
        )
        yield Doubt(f"untrued, ±{channel.untrued_pct:g} %", found)
        if f"channels.{name}.reference_V" in rig.assumed:
            text = f"reference_V = {channel.reference_V:g} of {name} is assumed, not known."
            action = f"Run 'calib meter {name}', or meter the reference and state it."
            yield Doubt("reference assumed", _assumed(name, text, action))
    if "rig.setting_step_V" in rig.assumed:
        text = f"setting_step_V = {rig.rig.setting_step_V:g} is assumed, not known."
        action = "Look it up in the controller's menu and state it."
        yield Doubt("step assumed", _assumed(name, text, action))
    acts = rig.acts(name)
    if acts is None:
        text = f"Whether {name} drives or brakes is not stated."
        action = f'State acts = "drive" or "brake" under [channels.{name}].'
        yield Doubt("drive or brake: not stated", _assumed(name, text, action))
    elif rig.acts_assumed(name):
        text = f"That {name} {acts}s is assumed from its name."
        action = f'State acts = "{acts}" under [channels.{name}].'
        yield Doubt(f"{acts}: assumed", _assumed(name, text, action))


def unproven(name: str, words: str = "not proven by pulling wires") -> Doubt:
    """That the broken-wire values of a control are no more than arithmetic."""
    found = said.caution("wires-unproven", channel=name, words=words)
    return Doubt(words, found)


def _assumed(name: str, text: str, action: str) -> Finding:
    return Finding(
        code="value-assumed", severity=Severity.CAUTION, text=text, action=action, channel=name
    )
