"""Wires pulled on purpose: whether a broken one can ever read as a hand on the control."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calib.checks.bench.signals import Floats
from calib.checks.file.standing import Evidence
from calib.checks.limits import limit
from calib.checks.order import in_order
from calib.store.documents import said
from calib.store.documents.check import ChannelCheck, CheckDocument, PulledWire
from calib.store.documents.finding import Finding, worst
from calib.store.documents.travel import TravelDocument
from calib.store.rig import Channel, Rig

WIRES = ("signal", "ground", "supply")


@dataclass(frozen=True, slots=True)
class Travel:
    """Readings between which the drive acts, V; ``low_V`` is always below ``high_V``.

    Attributes:
        low_V: Lower end.
        high_V: Upper end.
        origin: Where it is from, for the person.
        settle_s: Time in which a pulled wire must have left it, s.
    """

    low_V: float
    high_V: float
    origin: str
    settle_s: float


def travel_on_file(evidence: Evidence, channel: str) -> Travel | None:
    """Readings between which the drive acts, from the newest travel or check on record.

    Args:
        evidence: What is on file.
        channel: The control.

    Returns:
        From the dead band in the logger's volts where there is one, else from rest and full
        travel of a check, 3 % of the span inside rest; None without either.
    """
    about = evidence.rig.channels[channel]
    settle_s = limit("unplug_settle_s", about)
    measured = evidence.comparable(TravelDocument, channel=channel)
    found = None if measured is None else _from_travel(measured[1], about)
    if measured is not None and found is not None:
        origin = f"travel of {measured[0].when:%Y-%m-%d %H:%M}"
        return Travel(min(found), max(found), origin, settle_s)
    checked = evidence.comparable(
        CheckDocument, about=lambda check: _from_check(check, channel, about) is not None
    )
    ends = None if checked is None else _from_check(checked[1], channel, about)
    if checked is None or ends is None:
        return None
    origin = f"check of {checked[0].when:%Y-%m-%d %H:%M}"
    return Travel(min(ends), max(ends), origin, settle_s)


def _from_travel(document: TravelDocument, about: Channel) -> tuple[float, float] | None:
    if document.rest is None or document.full is None:
        return None
    if document.dead_band is not None and document.basis == "logger":
        return document.dead_band.start, document.full.mean
    return _beyond_rest(document.rest.mean, document.full.mean, about)


def _from_check(
    document: CheckDocument, channel: str, about: Channel
) -> tuple[float, float] | None:
    checked = document.channels.get(channel)
    figures = checked.figures if checked is not None else None
    if figures is None or figures.rest is None or figures.full is None:
        return None
    return _beyond_rest(figures.rest.mean, figures.full.mean, about)


def _beyond_rest(rest_V: float, full_V: float, about: Channel) -> tuple[float, float]:
    return rest_V + limit("moved_pct", about) / 100.0 * (full_V - rest_V), full_V


def judge_pulled(wire: str, time_s: Floats, volts: Floats, travel: Travel) -> PulledWire:
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
    never = bool(inside[-1])
    return PulledWire(
        wire="ground" if wire == "ground" else "supply" if wire == "supply" else "signal",
        low=float(late.min()),
        high=float(late.max()),
        settle_s=None if never else float(time_s[places[-1]]) - start_s if places.size else 0.0,
        inside=int(np.count_nonzero(inside & settled)),
        samples=int(volts.shape[0]),
    )


def typed_pulled(wire: str, shown_V: float) -> PulledWire:
    """What the controller's display read with a wire pulled and the tap off."""
    return PulledWire(
        wire="ground" if wire == "ground" else "supply" if wire == "supply" else "signal",
        low=shown_V,
        high=shown_V,
        settle_s=0.0,
        inside=0,
        samples=1,
        basis="controller",
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
    found = [] if travel is not None else [_no_travel(channel)]
    if travel is not None:
        verb = rig.acts(channel) or "work on"
        found.extend(_wire_finding(channel, each, travel, verb) for each in pulled)
    if travel is not None and not any(each.basis == "controller" for each in pulled):
        found.append(_tap_on(channel))
    found.extend(_not_pulled(channel, pulled))
    ordered = in_order(found)
    verdict = worst([finding.severity for finding in found])
    return CheckDocument(
        verdict=verdict,
        findings=ordered,
        cautions=cautions,
        channels={
            channel: ChannelCheck(
                verdict=verdict, role=rig.channels[channel].role, findings=ordered
            )
        },
        pulled=tuple(pulled),
    )


def _wire_finding(channel: str, pulled: PulledWire, travel: Travel, verb: str) -> Finding:
    """One wire: no reading may lie inside the travel once it has settled."""
    whose = "the controller shows" if pulled.basis == "controller" else "it reads"
    zone = f"inside the travel ({travel.low_V:.2f} to {travel.high_V:.2f} V)"
    shown_inside = pulled.basis == "controller" and travel.low_V < pulled.low < travel.high_V
    if pulled.inside or shown_inside or pulled.settle_s is None:
        return said.fail(
            "broken-wire-drives",
            float(pulled.inside),
            0.0,
            channel=channel,
            wire=pulled.wire,
            whose=whose,
            low=pulled.low,
            high=pulled.high,
            zone=zone,
            verb=verb,
        )
    side = "below" if pulled.high <= travel.low_V else "above"
    return said.passes(
        "broken-wire-safe",
        pulled.settle_s,
        travel.settle_s,
        channel=channel,
        wire=pulled.wire,
        whose=whose,
        low=pulled.low,
        high=pulled.high,
        side=side,
    )


def _no_travel(channel: str) -> Finding:
    return said.unknown("no-travel", channel=channel)


def _tap_on(channel: str) -> Finding:
    return said.caution("tap-on", channel=channel)


def _not_pulled(channel: str, pulled: Sequence[PulledWire]) -> list[Finding]:
    done = {each.wire for each in pulled if each.basis == "logger"}
    return [
        said.unknown("wire-not-pulled", channel=channel, wire=wire)
        for wire in WIRES
        if wire not in done
    ]
