"""From volts to ohms to degrees Celsius of a thermistor."""

from __future__ import annotations

import math

import numpy as np

from calib.store.columns import Floats
from calib.store.conversion import base_unit
from calib.store.rig import Channel

KELVIN_AT_0_DEGC = 273.15  # by definition
T25_K = KELVIN_AT_0_DEGC + 25.0


def ntc_degC(ohms: Floats, *, r25_ohm: float | Floats, beta_K: float | Floats) -> Floats:
    """Temperature in degrees Celsius of a thermistor that follows the beta law.

    Args:
        ohms: Resistance; any shape. 0 gives infinity (shorted), infinity gives absolute zero.
        r25_ohm: Resistance at 25 degC; of one type, or of several.
        beta_K: Beta constant likewise.

    Source: R = R25 * exp(B * (1/T - 1/298.15 K)), solved for T.
    """
    with np.errstate(divide="ignore"):
        inverse = 1.0 / T25_K + np.log(ohms / r25_ohm) / beta_K
        kelvin = np.where(inverse > 0.0, 1.0 / inverse, np.inf)
    return kelvin - KELVIN_AT_0_DEGC


def has_thermistor(channel: Channel) -> bool:
    """Whether the rig file tells enough to turn this channel's volts into degrees."""
    return None not in (channel.ntc_R25_ohm, channel.ntc_beta_K, channel.pullup_ohm)


def thermistor_ohms(channel: Channel, volts: Floats) -> Floats:
    """Resistance in ohms of the thermistor from a channel's wire to ground, under its pull-up.

    Args:
        channel: The channel; without ``pullup_V`` its pull-up is taken to be fed with 5 V.
        volts: Volts at the wire; any shape.

    Returns:
        Same shape; 0 at or below ground, infinite at or above the pull-up's voltage.

    Source: voltage divider.
    """
    pullup_V = 5.0 if channel.pullup_V is None else channel.pullup_V
    with np.errstate(divide="ignore", invalid="ignore"):
        ohms = (channel.pullup_ohm or math.nan) * volts / (pullup_V - volts)
    ohms = np.where(volts >= pullup_V, np.inf, ohms)
    return np.where(volts <= 0.0, 0.0, ohms)


def degrees(channel: Channel, values: Floats) -> Floats | None:
    """A temperature channel's readings in degrees Celsius; None where that cannot be known.

    Args:
        channel: What the column carries.
        values: Readings in the channel's base unit; any shape.

    Source: as ``ntc_degC``.
    """
    unit = base_unit(channel)
    if unit == "degC":
        return values
    if unit != "V" or not has_thermistor(channel):
        return None
    return ntc_degC(
        thermistor_ohms(channel, values),
        r25_ohm=channel.ntc_R25_ohm or math.nan,
        beta_K=channel.ntc_beta_K or math.nan,
    )
