"""What a control's values rest on that nobody measured or proved, said beside each of them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from calib.store.conversion import base_unit
from calib.store.documents import said
from calib.store.documents.finding import Finding
from calib.store.documents.travel import TravelDocument
from calib.store.rig import Channel, Rig


@dataclass(frozen=True, slots=True)
class Doubt:
    """One thing that was taken for granted.

    Attributes:
        words: In the few words that fit beside a number.
        finding: In a sentence, with what to do.
        of_wires: Whether only the broken-wire values rest on it.
    """

    words: str
    finding: Finding
    of_wires: bool = False


def untrued(name: str, channel: Channel) -> Finding | None:
    """That a channel's volts were never held against a meter; None where they were."""
    pct = channel.untrued_pct
    if pct is None:
        return None
    given = channel.reference_tolerance_pct is not None
    return said.caution("volts-untrued/stated" if given else "volts-untrued", channel=name, pct=pct)


def doubts(rig: Rig, name: str, document: TravelDocument) -> Iterator[Doubt]:
    """What each value of a measured control takes for granted.

    Args:
        rig: The rig file as it is now.
        name: The control.
        document: Its travel.
    """
    channel = rig.channels[name]
    found = untrued(name, channel)
    if found is not None and document.basis == "logger" and base_unit(channel) == "V":
        yield Doubt(f"untrued, ±{channel.untrued_pct:g} %", found)
        if f"channels.{name}.reference_V" in rig.assumed:
            reference_V = channel.reference_V
            found = said.caution("value-assumed/reference", channel=name, reference_V=reference_V)
            yield Doubt("reference assumed", found)
    if "rig.setting_step_V" in rig.assumed:
        step_V = rig.rig.setting_step_V
        yield Doubt("step assumed", said.caution("value-assumed/step", channel=name, step_V=step_V))
    acts = rig.acts(name)
    if acts is None:
        found = said.caution("value-assumed/acts-unknown", channel=name)
        yield Doubt("drive or brake: not stated", found)
    elif rig.acts_assumed(name):
        yield Doubt(f"{acts}: assumed", said.caution("value-assumed/acts", channel=name, acts=acts))
