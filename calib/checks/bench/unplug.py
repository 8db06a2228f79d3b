"""Wires pulled on purpose: whether a broken one can ever read as a hand on the control."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from calib.checks.bench.hands import Ends, ends_of
from calib.checks.bench.signals import Floats
from calib.checks.file.validity import Filed
from calib.checks.limits import limit
from calib.checks.order import judged
from calib.store.documents import said
from calib.store.documents.check import ChannelCheck, CheckDocument, PulledWire
from calib.store.documents.travel import TravelDocument
from calib.store.rig import Channel, Rig

Wire = Literal["signal", "ground", "supply"]
WIRES: Final[tuple[Wire, ...]] = ("signal", "ground", "supply")


@dataclass(frozen=True, slots=True)
class Travel:
    """Readings between which the drive acts, V; ``low_V`` is always below ``high_V``.

    Attributes:
        low_V: Lower end.
        high_V: Upper end.
        settle_s: Time in which a pulled wire must have left it, s.
    """

    low_V: float
    high_V: float
    settle_s: float


def travel_on_file(filed: Filed, channel: str) -> Travel | None:
    """Readings between which the drive acts, from the newest travel or check on record.

    Args:
        filed: What is on file.
        channel: The control.

    Returns:
        From the dead band in the logger's volts where there is one, else from rest and full
        travel of a check, 3 % of the span inside rest; None without either.
    """
    about = filed.rig.channels[channel]
    settle_s = limit("unplug_settle_s", about)
    measured = filed.comparable(TravelDocument, channel=channel)
    ends = None if measured is None else _from_travel(measured[1], about)
    if ends is None:
        checked = filed.comparable(
            CheckDocument, about=lambda check: _from_check(check, channel, about) is not None
        )
        ends = None if checked is None else _from_check(checked[1], channel, about)
    return None if ends is None else Travel(min(ends), max(ends), settle_s)


def _from_travel(document: TravelDocument, about: Channel) -> tuple[float, float] | None:
    if document.rest is None or document.full is None:
        return None
    if document.dead_band is not None and document.basis == "logger":
        return document.dead_band.start, document.full.mean
    return _beyond_rest(Ends(document.rest.mean, document.full.mean), about)


def _from_check(check: CheckDocument, channel: str, about: Channel) -> tuple[float, float] | None:
    checked = check.channels.get(channel)
    ends = None if checked is None else ends_of(checked.figures)
    return None if ends is None else _beyond_rest(ends, about)


def _beyond_rest(ends: Ends, about: Channel) -> tuple[float, float]:
    return ends.rest_V + limit("moved_pct", about) / 100.0 * ends.span_V, ends.full_V


def judge_pulled(wire: Wire, time_s: Floats, volts: Floats, travel: Travel) -> PulledWire:
    """What a control read while one of its wires was pulled.

    Args:
        wire: signal, ground or supply.
        time_s: Times of the readings, s, shape (n,), n at least 1.
        volts: Readings, V, shape (n,).
        travel: Readings between which the drive acts.

    Source: own choice: it has ``unplug_settle_s`` to leave the travel, for an input discharges
    through what is tied to it.
    """
    inside = (volts > travel.low_V) & (volts < travel.high_V)
    start_s = float(time_s[0])
    settled = time_s - start_s > travel.settle_s
    late = volts[settled] if settled.any() else volts
    places = np.flatnonzero(inside)
    settle_s = float(time_s[places[-1]]) - start_s if places.size else 0.0
    return PulledWire(
        wire=wire,
        low=float(late.min()),
        high=float(late.max()),
        settle_s=None if inside[-1] else settle_s,
        inside=int(np.count_nonzero(inside & settled)),
        samples=len(volts),
    )


def typed_pulled(wire: Wire, shown_V: float) -> PulledWire:
    """What the controller's display read with a wire pulled and the tap off."""
    return PulledWire(
        wire=wire, low=shown_V, high=shown_V, settle_s=0.0, inside=0, samples=1, basis="controller"
    )


def judge_unplug(
    rig: Rig,
    channel: str,
    travel: Travel | None,
    pulled: Sequence[PulledWire],
    cautions: tuple[str, ...],
) -> CheckDocument:
    """The document of wires pulled on purpose.

    Args:
        rig: The rig file.
        channel: The control whose wires were pulled.
        travel: Readings between which the drive acts; None where it was never measured.
        pulled: What was read for each wire.
        cautions: The usual cautions of the flow.
    """
    head = judged(list(_findings(rig, channel, travel, pulled)), cautions)
    own = ChannelCheck(
        verdict=head["verdict"], role=rig.channels[channel].role, findings=head["findings"]
    )
    return CheckDocument(**head, channels={channel: own}, pulled=tuple(pulled))


def _findings(
    rig: Rig, channel: str, travel: Travel | None, pulled: Sequence[PulledWire]
) -> said.Findings:
    """What each pulled wire shows, and what was left out."""
    if travel is None:
        yield said.unknown("no-travel", channel=channel)
    else:
        verb = rig.acts(channel) or "work on"
        for each in pulled:
            yield from _wire_findings(channel, each, travel, verb)
        if not any(each.basis == "controller" for each in pulled):
            yield said.caution("tap-on", channel=channel)
    done = {each.wire for each in pulled if each.basis == "logger"}
    for wire in WIRES:
        if wire not in done:
            yield said.unknown("wire-not-pulled", channel=channel, wire=wire)


def _wire_findings(channel: str, pulled: PulledWire, travel: Travel, verb: str) -> said.Findings:
    """One wire: no reading may lie inside the travel once it has settled."""
    typed = pulled.basis == "controller"
    whose = "the controller shows" if typed else "it reads"
    shown_inside = typed and travel.low_V < pulled.low < travel.high_V
    if pulled.inside or shown_inside or pulled.settle_s is None:
        yield said.fail(
            "broken-wire-drives",
            float(pulled.inside),
            0.0,
            channel=channel,
            pulled=pulled,
            whose=whose,
            travel=travel,
            verb=verb,
        )
        return
    side = "below" if pulled.high <= travel.low_V else "above"
    settle_s, most_s = pulled.settle_s, travel.settle_s
    yield said.passes(
        "broken-wire-safe", settle_s, most_s, channel=channel, pulled=pulled, whose=whose, side=side
    )
