"""The one table of limits of all checks, each with where it comes from.

A limit is what a finding's figure is held against; how a figure is found stands beside the method.
A limit that the user gives under ``[channels.X.limits]`` takes the table's place.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any, Final

from calib.errors import RigError
from calib.store.rig import Channel, Rig
from calib.store.text import neutral


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit.

    Attributes:
        value: The figure, in ``unit``.
        unit: Its unit; "%" of the span unless ``meaning`` says otherwise.
        meaning: What is held against it.
        source: The document and section, "common practice, no source", or "own choice,
            because ...".
    """

    value: float
    unit: str
    meaning: str
    source: str


_HALL: Final = "published data sheets of two programmable linear Hall sensors"

LIMITS: Final[dict[str, Limit]] = {
    # supply
    "supply_low_V": Limit(
        4.75, "V", "lowest sensor supply that passes",
        "USB 2.0, section 7.2.2: 4.75 to 5.25 V at a high-power port (from memory; an "
        "encyclopaedia's copy was seen)",
    ),
    "supply_high_V": Limit(
        5.25, "V", "highest sensor supply that passes", "USB 2.0, as supply_low_V"
    ),
    "supply_dead_low_V": Limit(
        4.5, "V", "supply below which a 5 V Hall sensor is outside its range",
        "data sheets of 5 V ratiometric linear Hall sensors: 4.5 to 5.5 V",
    ),
    "supply_dead_high_V": Limit(
        5.5, "V", "supply above which a 5 V Hall sensor is outside its range",
        "as supply_dead_low_V",
    ),
    "supply_dip_pct": Limit(
        2.0, "%", "dip or wander of the supply, in per cent of it",
        "own choice, because it moves a rest of 0.85 V by 17 mV, half of the usual margin",
    ),
    # wires
    "wire_at_ground_pct": Limit(
        5.0, "%", "signal below this share of the supply with the hand off and no answer",
        f"{_HALL}: open supply 0 to 0.25 V on 5 V",
    ),
    "wire_at_supply_pct": Limit(
        95.0, "%", "signal above this share of the supply with no answer",
        f"{_HALL}: open ground 4.75 to 5.0 V on 5 V",
    ),
    "answer_pct": Limit(
        50.0, "%", "share of its span from which a movement is a press that was let go too early",
        "own choice, because a full press moves it by all of it",
    ),
    # travel
    "span_low_V": Limit(
        2.0, "V", "least span of a 5 V hand control",
        "own choice; a span of 1 V on 5 V was seen with a loose magnet in a published log",
    ),
    "moved_pct": Limit(
        3.0, "%", "shift of rest or full travel against the record, in per cent of the span",
        "own choice, because the dead band starts 3 % above rest: what moves less stays inside it",
    ),
    "rest_scatter_pct": Limit(
        2.0, "%", "spread (largest less smallest) of rest from release to release",
        "own choice; below 0.5 % of hysteresis is common practice, no source",
    ),
    "two_rests_pct": Limit(
        3.0, "%", "distance of two levels between which a rest changes",
        "own choice, because the dead band starts 3 % above rest",
    ),
    "play_pct": Limit(
        5.0, "%", "range within which a rest lies anywhere",
        "own choice, because what scatters by less is friction or a loose seat, and a lever that "
        "is free by more shows it to the thumb",
    ),
    "flat_pct": Limit(
        8.0, "%", "travel over which the signal stands still though the hand goes on",
        "own choice, because an unsteady thumb makes half of it",
    ),
    "step_pct": Limit(
        5.0, "%", "step or reversal in a slow press beyond the noise",
        "own choice; none should be seen, common practice, no source",
    ),
    "dead_travel_pct": Limit(
        10.0, "%", "travel given up at both ends together: caution",
        "own choice, because a hand feels a tenth of its way do nothing",
    ),
    "dead_travel_most_pct": Limit(
        20.0, "%", "travel given up at both ends together: no value",
        "own choice, because so much comes from a hand that stopped elsewhere each time, and not "
        "from a control",
    ),
    "start_most_pct": Limit(
        9.5, "%", "start beyond the lowest rest seen, in per cent of the span: no value",
        "own choice, because a tenth of the travel is the most that a rest may cost",
    ),
    "start_scatter_pct": Limit(
        8.0, "%", "share of that which comes from how the rests scatter: no value",
        "own choice, because a thumb that is never taken off hides two per cent more",
    ),
    "end_most_pct": Limit(
        14.5, "%", "end short of the farthest stop seen, in per cent of the span: no value",
        "own choice, because the rest of the fifth is the start's",
    ),
    "return_slow_s": Limit(
        0.3, "s", "time from letting go to rest: caution",
        "own choice, because sound springs bring a hand control home in 0.1 to 0.2 s",
    ),
    "return_fail_s": Limit(
        1.0, "s", "time from letting go to rest: fail",
        "49 CFR 571.124 S5.3 (from memory), written for accelerator controls of light vehicles, "
        "another class; 49 CFR 571.123 asks motorcycles only for a throttle that closes by itself",
    ),
    "tracks_apart_pct": Limit(
        10.0, "%", "difference of the two tracks of one control, in per cent of travel",
        "Formula SAE, T.4.2, plausibility of pedal sensors (read in students' notes, second hand)",
    ),
    "tracks_apart_s": Limit(
        0.1, "s", "time for which two tracks may differ by more", "as tracks_apart_pct"
    ),
    # one against another
    "cross_talk_pct": Limit(
        2.0, "%", "movement of a control while another one is worked",
        "own choice, because it is under the 3 % at which a dead band starts",
    ),
    "one_wire_pct": Limit(
        25.0, "%", "movement by which two signal wires must be joined",
        "own choice, because a shared ground would have to carry amperes to move one so far",
    ),
    "ground_shift_mV": Limit(
        10.0, "mV", "shift of every control together when a load is switched on",
        "own choice, because sensors draw milliamperes and their ground should carry no more",
    ),
    # noise
    "noise_ratio": Limit(
        2.0, "", "spread at rest over the spread on record: caution",
        "own choice, because the spread of a second of rest repeats within some 20 %",
    ),
    "noise_fail_ratio": Limit(
        8.0, "", "spread at rest over the spread on record: fail",
        "own choice, because three sigma then cover what the whole dead band covers",
    ),
    "noise_pct": Limit(
        1.0, "%", "standard deviation at rest, in per cent of the span",
        "own choice, because three of them fill the 3 % at which a dead band starts",
    ),
    "hum_mV": Limit(
        10.0, "mV", "amplitude of a line at 50, 60, 100 or 120 Hz at rest",
        "own choice, because it is the shift that is also allowed for a load",
    ),
    "hum_ratio": Limit(
        2.0, "", "amplitude of a mains line over that on record", "own choice, as noise_ratio"
    ),
    "common_pct": Limit(
        50.0, "%", "share of the variance at rest that the supply (or the neighbour) explains",
        "own choice, because the cause that explains most of it is the one to mend",
    ),
    "glitch_pct": Limit(
        10.0, "%", "height of a single reading that stands out at rest",
        "own choice, because it is three times the 3 % at which a dead band starts",
    ),
    # logger; of the whole line, so the least that any channel gives counts
    "check_short_s": Limit(
        5.0, "s", "shortest capture that can be a check",
        "own choice, because three seconds of rest and one press take as long",
    ),
    "rejected_pct": Limit(
        1.0, "%", "share of lines that could not be decoded",
        "own choice, because a healthy line rejects its half first line and no more",
    ),
    "repeated_pct": Limit(
        1.0, "%", "share of samples that are copies of the one before, in all columns",
        "own choice, because independent noise in several columns repeats far more seldom",
    ),
    "missed_pct": Limit(
        0.1, "%", "share of samples missed, in per cent of all",
        "own choice, because a sound line loses none",
    ),
    "jump_s": Limit(
        0.05, "s", "jump of the logger's clock against the host's",
        "own choice, because a USB line delivers within tens of milliseconds",
    ),
    "scale_moved_pct": Limit(
        3.0, "%", "change of a supply's reading that others share, which is the logger's own",
        "own choice, because a supply itself may well be a few per cent off",
    ),
    "renumbered_pct": Limit(
        5.0, "%", "distance of a channel's numbers from the record, in per cent of full scale, "
        "from which its column or unit may have changed",
        "own choice, because rests move by some per cent from evening to evening",
    ),
    # one channel of the logger
    "frozen_s": Limit(
        2.0, "s", "time without a single changed reading where it should flicker",
        "own choice; 20 equal readings are the least that is looked at",
    ),
    "clipped_pct": Limit(
        50.0, "%", "share of readings of a plateau at the converter's last code",
        "own choice, because a plateau within the range has none there",
    ),
    # temperatures
    "temperature_open_degC": Limit(
        -40.0, "degC", "temperature below which the sensor is open",
        "a published temperature monitor's own bound (second hand)",
    ),
    "temperature_short_degC": Limit(
        150.0, "degC", "temperature above which the sensor is shorted",
        "a published temperature monitor's own bound (second hand)",
    ),
    "temperature_apart_K": Limit(
        3.0, "K", "difference of sensors after a cold soak",
        "own choice; 'within a few degrees' is common practice, no source",
    ),
    # switches
    "switch_gap_pct": Limit(
        20.0, "%", "distance of a switch's levels from its threshold, in per cent of 5 V: caution",
        "inputs of CMOS logic: low below 30 %, high above 70 % of the supply (common data sheets, "
        "from memory), 20 % on either side of the middle",
    ),
    "switch_gap_fail_pct": Limit(
        10.0, "%", "the same: fail",
        "own choice, because half of the margin is gone and a damp plug takes the rest",
    ),
    "bounce_ms": Limit(
        5.0, "ms", "time for which a switch chatters after it changed",
        "own choice; a fraction of a millisecond to several is common practice, no source",
    ),
    # the wheel
    "wheel_gap_ratio": Limit(
        1.6, "", "gap between two pulses over its neighbours' from which a magnet is missing",
        "own choice, because a missing magnet makes it 2 and magnets placed by hand up to 1.4",
    ),
    "wheel_pair_ratio": Limit(
        0.4, "", "gap between two pulses over its neighbours' below which they are a pair",
        "own choice, because a reed that closes twice at one magnet does so within its width",
    ),
    "wheel_weak_pct": Limit(
        60.0, "%", "width of a magnet's pulse, in per cent of the usual one: weak",
        "own choice, because it then misses the sensor when the wheel is knocked",
    ),
    "wheel_odd_pct": Limit(
        2.0, "%", "share of pulses missed or doubled now and then: no value",
        "own choice, because one in fifty turns a speed shown by more than its step",
    ),
    "wheel_stay_samples": Limit(
        2.0, "", "samples in the shortest stay of a level: no value",
        "own choice, because with one sample some stays fall between two",
    ),
    "wheel_standing_pulses": Limit(
        2.0, "", "pulses of a wheel that nobody turned",
        "own choice, because who works a lever may nudge the wheel past an edge",
    ),
    "wheel_least_mm": Limit(
        600.0, "mm", "least circumference", "own choice: a wheel of 8 inches rolls 0.64 m"
    ),
    "wheel_most_mm": Limit(
        2600.0, "mm", "largest circumference", "own choice: a wheel of 29 inches rolls 2.35 m"
    ),
    # what only the display shows
    "pack_shown_pct": Limit(
        1.0, "%", "accuracy of the display's pack volts, in per cent",
        "own choice, because dividers of 1 % resistors and a reference of 1 % are usual",
    ),
    "motor_cold_h": Limit(
        8.0, "h", "time after which motor and garage are one temperature",
        "own choice; 'over a night' is common practice, no source",
    ),
    # wires pulled on purpose
    "unplug_settle_s": Limit(
        0.5, "s", "time in which a pulled wire must have left the travel",
        "own choice, because a drive that acts for half a second moves a light machine a metre",
    ),
    # conditions
    "condition_ratio": Limit(
        3.0, "", "spread under one condition over that under the other",
        "own choice (motor off and on)",
    ),
    # the tilt sensor as such
    "gravity_pct": Limit(
        5.0, "%", "how far |g| at rest may be from one: caution",
        "own choice, because the worst scale of common parts is half of it and a bias of 30 mg "
        "adds the rest",
    ),
    "gravity_fail_pct": Limit(
        12.0, "%", "the same: fail",
        "own choice, because beyond it no sensor's own error is left: a wrong scale, a wrong "
        "range, or a machine that is not at rest",
    ),
    "sensor_end_pct": Limit(
        98.0, "%", "share of its range from which a sensor is at its end",
        "own choice, because its scale is good to two per cent",
    ),
    "repeated_readings": Limit(
        20.0, "readings", "equal readings in a row, to the last digit, of all axes: frozen",
        "own choice, because noise changes one of three axes far sooner",
    ),
    "tilt_step_deg": Limit(
        0.5, "deg", "step of the reading",
        "own choice, because it is a third of a garage floor's slope",
    ),
    "stuck_s": Limit(
        0.4, "s", "time of equal readings from which a channel may have been frozen",
        "own choice, because a fast hand makes two strokes in it",
    ),
    "asleep_s": Limit(
        0.6, "s", "time of movement through which an angle may repeat itself",
        "own choice, because a quiet 10-bit angle leaves its code several times a second while a "
        "hand is on the machine",
    ),
    # a standing
    "standing_s": Limit(
        3.0, "s", "shortest standing that is used",
        "own choice, because a suspension rings and a hand settles within two",
    ),
    "rest_drift_deg": Limit(
        0.1, "deg", "drift within one standing; three times that between two of one capture",
        "own choice, because noise makes half of it of a standing's first and last quarter",
    ),
    "sway_deg": Limit(
        0.15, "deg", "sway of a machine that stands",
        "own choice, because the mean of four seconds is then good to a tenth of a degree",
    ),
    "unlike_deg": Limit(
        0.35, "deg", "pitch within which a standing reads as one before it: not turned, not sat on",
        "own choice, because it is two and a half times what a suspension that was bounced and "
        "settled anew differs by; a floor that falls by less is typed with --floor-slope-deg",
    ),
    # level zero
    "zero_u95_deg": Limit(
        0.6, "deg", "half-width of the zero (95 %), above which it is only a hint",
        "own choice, because it is half of what a garage floor falls, which turning is to remove",
    ),
    "lean_deg": Limit(
        8.0, "deg", "roll of the machine as it stands",
        "own choice, because a mounting by eye is within five, a hand within two or three",
    ),
    "lean_spread_deg": Limit(
        3.5, "deg", "difference of lean between standings",
        "own choice, because three degrees shift the pitch of a sensor turned by ten degrees by "
        "half a degree",
    ),
    "floor_deg": Limit(
        3.0, "deg", "slope of the floor",
        "own choice, because a garage floor of more than five per cent is a ramp",
    ),
    "warming_K": Limit(
        3.0, "K", "change of temperature between the standings",
        "own choice, because it may move a zero by 0.05 degrees, all that turning leaves otherwise",
    ),
    "same_deg": Limit(
        0.06, "deg", "difference by which a turned standing must differ from the first",
        "own choice, because two standings by hand lean some tenths of a degree differently, and "
        "a machine that was not moved differs by the noise alone",
    ),
    "floors_apart_deg": Limit(
        0.4, "deg", "difference between the floor as the pitch and as the accelerometer see it",
        "own choice, because it is three times what noise, scale and yaw of ordinary parts leave",
    ),
    "rider_deg": Limit(
        6.0, "deg", "tilt that a rider makes",
        "own choice, because it is twice what soft suspension gives",
    ),
    # sign, axis, scale
    "scale_block_pct": Limit(
        10.0, "%", "measured against expected angle, by plank and wheelbase",
        "common practice, no source: springs move a plank's angle by a tenth",
    ),
    "scale_accel_pct": Limit(
        6.0, "%", "the same by an accelerometer in the same pose",
        "own choice, because springs do not enter, two ordinary sensors' scales do",
    ),
    "cross_pct": Limit(
        10.0, "%", "share of a lean that shows as pitch: caution",
        "own choice, because it is one degree in a lean of ten",
    ),
    "cross_fail_pct": Limit(
        35.0, "%", "the same: fail",
        "own choice, because a sensor turned by more than twenty degrees answers to another axis",
    ),
    "lag_s": Limit(
        0.4, "s", "how late the angle may be behind the tilt",
        "own choice, because a nose that rises at 30 degrees a second goes 12 degrees meanwhile",
    ),
    # surge, rest, poses
    "launch_deg": Limit(
        8.0, "deg", "false pitch of a launch of a sensor that blends",
        "own choice, because it is two thirds of a usual starting angle of twelve degrees",
    ),
    "still_s": Limit(
        30.0, "s", "shortest rest that says anything of noise",
        "own choice, because it holds four clusters of some seconds",
    ),
    "foretold_s": Limit(
        240.0, "s", "shortest rest from which an hour is foretold",
        "own choice, because it is a fifteenth of it",
    ),
    "drift_deg_per_h": Limit(
        1.0, "deg/h", "drift of an angle, above which a zero does not last a ride",
        "own choice, because it is a garage floor's slope",
    ),
    "tilt_noise_deg": Limit(
        1.0, "deg", "standard deviation of single readings of an angle",
        "own choice, because three of them are the margin that a starting angle needs",
    ),
    "poses_rms_g": Limit(
        0.01, "g", "root mean square of |g| - 1 after truing",
        "own choice, because it is 0.6 degrees; beyond it the poses were not still, or the sensor "
        "is not linear",
    ),
    "bias_g": Limit(
        0.15, "g", "bias of an accelerometer",
        "worst zero-g offset in the data sheet of one common part",
    ),
    "axis_scale_pct": Limit(
        10.0, "%", "distance of an axis's scale from what the rig file says",
        "own choice, because factory scale is seldom further off than some per cent",
    ),
    # the gate
    "start_margin_deg": Limit(
        1.0, "deg", "room between all that is no rising nose and the angle where the aid starts",
        "own choice, because a bump of 20 mm under one wheel is 0.9",
    ),
    "end_margin_deg": Limit(
        2.0, "deg", "room below the angle at which the machine balances",
        "own choice, because the centre of gravity is known to some 20 mm, about two degrees",
    ),
    "noise_sds": Limit(
        3.0, "", "standard deviations of noise that count against the starting angle",
        "own choice, because one reading in seven hundred passes them",
    ),
    "shown_zero_deg": Limit(
        0.5, "deg", "how far from zero the controller may show level",
        "own choice, because it is half a floor's slope; that level without a rider reads zero is "
        "common practice",
    ),
    # travel, beyond the above
    "fewest_presses": Limit(
        3.0, "presses", "full presses below which nothing is promised",
        "own choice, because fewer hardly have a spread to make a limit of",
    ),
    "spring_ratio": Limit(
        1.5, "", "return over press of a control that reads high at rest, above which the ends may "
        "be mistaken",
        "own choice, because a spring closes a control sooner than a thumb opens it; where 'rest' "
        "is left sooner than it is reached, the capture may have begun in the hand",
    ),
    "pressed_pct": Limit(
        50.0, "%", "time in a bench check at full travel of a control that reads high at rest, "
        "above which the ends may be mistaken",
        "own choice, because each control is left alone while the others are worked; what stood "
        "longer pressed than let go may have been held at the beginning",
    ),
    "wander_pct": Limit(
        1.0, "%", "drift of rest through a capture",
        "own choice, because it is a third of the usual dead band at rest",
    ),
    "scales_far_pct": Limit(
        10.0, "%", "difference of the controller's and the logger's volts: no value",
        "own choice, because scales farther apart are not a matter of tolerances",
    ),
    # the multimeter
    "meter_span_V": Limit(
        1.5, "V", "span of the readings",
        "own choice, because readings nearer together than half a hand control's span fix no gain",
    ),
    "meter_gain_pct": Limit(
        10.0, "%", "how far off the logger's volts may be",
        "own choice, because references were seen off by 2 to 7 %; more is a wrong divider or "
        "count",
    ),
    "meter_offset_V": Limit(
        0.05, "V", "how far off the logger may be at zero",
        "own choice, because it is ten steps of a 10-bit converter; more is a ground that is not "
        "the sensor's",
    ),
    "check_reading_u": Limit(
        2.0, "", "distance of the check reading, in standard uncertainties",
        "common practice for 95 %",
    ),
    "taped_end_V": Limit(
        0.02, "V", "how far an end of travel may lie beyond the volts that were trued",
        "own choice, because a control that was taped to its end comes back to it this closely",
    ),
    "outside_trued_V": Limit(
        0.03, "V", "doubt of volts beyond those that were trued: no value",
        "own choice, because a full travel known no better is three steps of a common controller",
    ),
    # what is on file
    "stamps_late_s": Limit(
        0.1, "s", "raggedness of the time stamps, above which times are only roughly known",
        "own choice, because it is the window in which standing still is judged",
    ),
    "drifts_soon_days": Limit(
        30.0, "days", "time in which a drift leaves its limits", "own choice, a month of riding"
    ),
}  # fmt: skip
"""Limits by name; the names are also the keys of ``[channels.X.limits]``."""


KEPT_DAYS: Final = Limit(
    30.0, "days", "age of evidence, above which it is stale",
    "own choice, because plugs, springs and floors change in a month of building",
)  # fmt: skip
"""Of all evidence alike, so no rig file sets it; nor the next."""

AHEAD_MIN: Final = Limit(
    5.0, "min", "how far ahead of the computer's clock evidence may be dated",
    "own choice, because clocks that are set by the network agree within seconds, by hand within "
    "minutes; what is dated later is not new, it is odd",
)  # fmt: skip


def limit(name: str, channel: Channel | None) -> float:
    """A limit's figure: the user's own for this channel, else the table's.

    Args:
        name: Its name in ``LIMITS``.
        channel: The channel that is judged; None where the rig file no longer has it.

    Source: see the table.
    """
    if channel is not None and name in channel.limits:
        return channel.limits[name]
    return LIMITS[name].value


def limit_of_all(name: str, channels: Iterable[Channel]) -> float:
    """A limit on what several channels share: the least that any of them gives.

    Args:
        name: Its name in ``LIMITS``.
        channels: The channels that share it.

    Source: see the table.
    """
    own = [channel.limits[name] for channel in channels if name in channel.limits]
    return min(own, default=LIMITS[name].value)


def limit_of_line(name: str, rig: Rig) -> float:
    """A limit on what all channels share (line, clock): the least that any of them gives."""
    return limit_of_all(name, rig.with_limit(name))


def tilt_limit(name: str, rig: Rig) -> float:
    """A limit on the tilt sensor, which is several channels: the least that any of them gives."""
    return limit_of_all(name, tilt_channels(rig))


def tilt_channels(rig: Rig) -> list[Channel]:
    """The channels that make the tilt sensor."""
    return list(rig.with_role("pitch", "roll", "accel-x", "accel-y", "accel-z").values())


def published() -> dict[str, Any]:
    """The table as ``calib schema limits`` prints it."""
    return {
        "title": "calib limits",
        "limits": [{"name": name, **asdict(each)} for name, each in LIMITS.items()],
    }


def refuse_unknown_limits(rig: Rig) -> None:
    """Refuse a limit in the rig file that nothing reads: it may be a typing slip.

    Raises:
        RigError: ``[channels.X.limits]`` names something that is not in the table.
    """
    for name, channel in rig.channels.items():
        for key in channel.limits:
            if key not in LIMITS:
                from difflib import get_close_matches

                near = get_close_matches(key, LIMITS, n=1)
                raise RigError(
                    f"{rig.path}: [channels.{neutral(name)}.limits] names "
                    f"{neutral(key)!r}, which is no limit.",
                    f"Did you mean {near[0]!r}?" if near else "'calib schema limits' lists them.",
                )
