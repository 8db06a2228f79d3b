"""The codes of all findings: one code for one fact, whichever command finds it.

The order is the order of causes: a code stands before everything that may follow from it. Findings
of one severity are told in this order.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final


@dataclass(frozen=True, slots=True)
class Code:
    """One fact that a finding may state.

    Attributes:
        about: The fact, in a few words.
        here: What may follow from it on the same channel, by code.
        elsewhere: What may follow from it on any other channel, by code.
    """

    about: str
    here: tuple[str, ...] = ()
    elsewhere: tuple[str, ...] = ()


_DROPS = ("drop-outs", "drop-outs-low", "drop-outs-high")
_GROWN = ("noise-grown", "noise-high")
_NOISES = ("hum", "hum-common", *_GROWN)
_ENDS = ("rest-moved", "full-moved", "both-moved", "span-shrunk", "pulled-to-ground")
_RESTS = ("play", "two-rests", "rest-scatters")
_MOVES = (*_ENDS, "pulled-to-supply", "hysteresis", "direction-changed", "reversed", *_RESTS,
          "span-short")  # fmt: skip
_SHAPES = ("flat-spot", "travel-step")
_SILENT = ("signal-open", "no-answer", "half-pressed")
_AT_AN_END = ("signal-at-ground", "signal-at-supply")
_TEMPERATURES = ("temperature-open", "temperature-short", "temperature-wrong-type",
                 "temperatures-apart")  # fmt: skip
_SWITCHES = ("switch-never-changed", "switch-inverted", "switch-bounces", "switch-levels")
_SUPPLIES = ("supply-low", "supply-high", "supply-dips", "supply-noise")
_GROUND = ("cross-talk", *_DROPS, "sticks", "return-slow", *_ENDS, "pulled-to-supply", "hysteresis",
           "reversed", "rest-scatters", "span-short", *_NOISES)  # fmt: skip
_MIXED = (
    "channels-swapped", "multiplexer-stuck", "logger-scale", "stuck-bit", *_SUPPLIES, "clips",
    *_AT_AN_END, "frozen", "unit", "one-wire", "shared-ground", "cross-talk", *_DROPS,
    *_SILENT, *_MOVES, *_SHAPES, "sticks", "return-slow", *_NOISES, *_TEMPERATURES, *_SWITCHES,
)  # fmt: skip

CODES: Final[dict[str, Code]] = {
    # the line and the capture
    "capture-changed": Code("a capture was changed after it was closed"),
    "no-port": Code("the system lists no serial port"),
    "cut-short": Code("the line broke off"),
    "broke-off-first": Code("the line broke off before anything was measured"),
    "rejected-lines": Code("lines could not be decoded"),
    "clock-jumps": Code(
        "the logger's clock jumped against the computer's", ("samples-missed", "logger-reset")
    ),
    "logger-reset": Code("the logger started again", ("samples-missed",)),
    "samples-repeated": Code("samples come twice", ("samples-missed", "stamps-ragged")),
    "samples-missed": Code("samples are missing", ("stamps-ragged",)),
    "stamps-ragged": Code("an even time was laid through ragged stamps"),
    "logger-slow": Code("too few samples a second for what was done"),
    "too-short": Code("the capture is too short to hold what was asked"),
    "rest-too-short": Code("a rest is too short", ("noise-high", "noise-grown")),
    "column-missing": Code("the logger does not send a column of the rig file"),
    "no-record": Code("there is no earlier good record to compare with"),
    # the logger's numbers: what is wrong here is wrong everywhere
    "columns-shifted": Code("every column stands one or more places off", _MIXED, _MIXED),
    "codes-shifted": Code("all codes are shifted by whole bits", _MIXED, _MIXED),
    "unit-changed": Code("all numbers come in another unit than on record", _MIXED, _MIXED),
    "unit": Code("numbers that the unit in the rig file cannot give", ("clips", *_MOVES)),
    "multiplexer-stuck": Code(
        "a channel reads the same as another one",
        (*_SUPPLIES, "clips", "signal-at-ground", "one-wire", "cross-talk", *_DROPS, "signal-open",
         "no-answer", *_MOVES, *_NOISES),
    ),
    "stuck-bit": Code(
        "a bit of the converter never changes",
        ("clips", "cross-talk", *_DROPS, *_SILENT, *_MOVES, *_SHAPES, *_NOISES),
    ),
    "logger-scale": Code(
        "the logger's own reference has moved",
        elsewhere=("supply-low", "supply-high", "clips", "signal-at-supply", "frozen", *_MOVES,
                   *_NOISES, *_TEMPERATURES),
    ),
    # the sensors' supply
    "supply-low": Code("the supply is too low"),
    "supply-high": Code("the supply is too high", elsewhere=("clips",)),
    "supply-dips": Code(
        "the supply wanders", elsewhere=("cross-talk", *_DROPS, *_MOVES, *_SHAPES, *_NOISES)
    ),
    "clips": Code(
        "a signal stands at the end of the converter's range",
        ("supply-noise", "frozen", *_MOVES, "noise-grown"),
    ),
    "supply-noise": Code("the supply is noisy", elsewhere=(*_SHAPES, *_NOISES)),
    # wires
    "signal-at-ground": Code("a signal stands at ground", ("frozen", *_DROPS, *_NOISES)),
    "signal-at-supply": Code("a signal stands at the supply", ("frozen", *_DROPS, *_NOISES)),
    "frozen": Code("a reading is repeated to the last digit", _SILENT),
    "one-wire": Code(
        "two signal wires are joined",
        ("cross-talk", *_MOVES),
        ("cross-talk", "signal-open", *_MOVES),
    ),
    "signal-open": Code(
        "a signal wire is open", ("cross-talk", *_MOVES, "return-slow", *_SHAPES, *_NOISES)
    ),
    "no-answer": Code("a control never moved all the way", (*_DROPS, *_NOISES)),
    "half-pressed": Code("a control turned back before full travel", (*_DROPS, *_NOISES)),
    "channels-swapped": Code("two plugs changed places", (*_MOVES, "noise-grown")),
    "direction-changed": Code("a control works the other way round than on record", _NOISES),
    "two-rests": Code(
        "a control rests at one of two levels",
        ("shared-ground", "cross-talk", "play", *_ENDS, "pulled-to-supply", "hysteresis",
         "rest-scatters", *_NOISES),
    ),
    "play": Code(
        "a control rests anywhere within some play",
        ("shared-ground", "cross-talk", *_ENDS, "pulled-to-supply", "hysteresis", "rest-scatters",
         *_NOISES),
    ),
    "shared-ground": Code(
        "a load's current flows in the sensors' ground", (*_GROUND, *_SHAPES), _GROUND
    ),
    "hum-common": Code("several channels hum", elsewhere=("noise-grown",)),
    "hum": Code(
        "one channel hums", ("cross-talk", "rest-scatters", *_GROWN), ("cross-talk",)
    ),
    "cross-talk": Code(
        "a control moves while another one is worked",
        (*_SHAPES, "sticks", "return-slow", *_ENDS, "pulled-to-supply"),
    ),
    "flat-spot": Code(
        "a signal stands still over part of the travel", ("travel-step", *_DROPS, *_ENDS)
    ),
    "travel-step": Code("a signal falls back or jumps within the travel", (*_DROPS, *_ENDS)),
    "drop-outs-high": Code("a signal jumps to the supply for moments", _GROWN),
    "drop-outs": Code("a signal jumps for moments", _GROWN),
    "drop-outs-low": Code("a signal jumps to ground for moments", _GROWN),
    "never-released": Code("a control never came back to rest"),
    # how a control moves
    "sticks": Code(
        "a control hangs part open on the way back", ("return-slow", "rest-scatters")
    ),
    "pulled-to-ground": Code("rest and full travel are drawn to ground", ("span-short", *_GROWN)),
    "pulled-to-supply": Code(
        "rest and full travel are drawn to the supply", ("span-short", *_GROWN)
    ),
    "span-shrunk": Code("rest and full travel are drawn to half the supply", ("span-short",)),
    "hysteresis": Code("a signal lags behind its control both ways", ("rest-scatters",)),
    "rest-moved": Code("rest lies elsewhere than on record"),
    "full-moved": Code("full travel lies elsewhere than on record"),
    "both-moved": Code("rest and full travel moved the same way"),
    "reversed": Code("a control reads lower when it is pressed", _GROWN),
    "noise-grown": Code("noise at rest has grown", ("rest-scatters", "return-slow")),
    "noise-high": Code("noise at rest is large against the span"),
    "return-slow": Code("a control comes back slowly", ("rest-scatters",)),
    "rest-scatters": Code("a control comes back to rests that differ"),
    "rest-after-release": Code("rest lies elsewhere after a release"),
    "rest-drifts": Code("a rest drifts while it is measured"),
    "drifts-on-record": Code("rest or full travel drifts from record to record"),
    "span-short": Code("rest and full travel are too near"),
    "tracks-disagree": Code("the two tracks of a control disagree"),
    "tracks-agree": Code("the two tracks of a control agree"),
    "second-track-unknown": Code("nothing is known of the second track"),
    "where-it-was": Code("rest and full travel are where they were"),
    # switches and temperatures
    "switch-never-changed": Code("a switch that was to be worked never changed"),
    "switch-not-worked": Code("a switch was not worked"),
    "switch-inverted": Code("a switch works the other way round"),
    "switch-levels": Code("a switch's levels have crept towards its threshold"),
    "switch-bounces": Code("a switch chatters"),
    "temperature-open": Code("a temperature sensor is open"),
    "temperature-short": Code("a temperature sensor is shorted"),
    "temperature-wrong-type": Code("a temperature sensor may be of another type"),
    "temperatures-apart": Code("temperature sensors differ though all is cold"),
    # the wheel
    "never-falls": Code("the level of a wheel sensor never falls", ("no-pulse",)),
    "no-pulse": Code("the wheel gave no pulse"),
    "pulses-standing": Code("pulses come while the wheel stands"),
    "turned-both-ways": Code("the wheel turned both ways"),
    "turned-backwards": Code("the wheel turned against its count"),
    "pulses-hidden": Code("samples are too far apart for the pulses", ("gaps-odd",)),
    "magnet-missed": Code("one gap in each turn is as long as two", ("turns-not-whole",)),
    "pulses-doubled": Code("pulses come in pairs", ("turns-not-whole",)),
    "gaps-odd": Code("pulses are missed or come twice now and then", ("turns-not-whole",)),
    "turned-half": Code("a turn stopped half way", ("turns-not-whole",)),
    "turns-not-whole": Code("pulses over turns give no whole number"),
    "turns-too-few": Code("too few turns to tell one number of pulses from the next"),
    "turns-not-counted": Code("nobody counted the turns"),
    "magnet-weak": Code("one magnet's pulse is shorter than the others'"),
    "contact-bounces": Code("the wheel sensor's contact bounces"),
    "pattern-differs": Code("the gaps repeat after another number of pulses than the turns say"),
    "pulses-a-turn": Code("how many pulses a turn of the wheel gives"),
    "ways-differ": Code("ways along the tape give different circumferences"),
    "circumference-odd": Code("no wheel of such a machine rolls so far in a turn"),
    "rider-not-on": Code("the wheel was rolled without the rider's weight"),
    "circumference": Code("how far the wheel rolls in a turn"),
    "pulses-a-metre": Code("how many pulses a metre gives"),
    "nothing-true": Code("nothing true is on file to hold a display against"),
    "shown-contradicts": Code("what the display shows does not go with what is set"),
    "speed-shown": Code("how wrong a shown speed is"),
    "speed-rule": Code("what the rule for road vehicles says of a shown speed"),
    "pulses-fold": Code("the speed from which a level column hides pulses"),
    # what only the display shows
    "motor-not-cold": Code("the motor has not stood long enough to be cold"),
    "pack-shown": Code("the pack's volts as the display shows them"),
    "motor-shown": Code("the cold motor's temperature as the display shows it"),
    "brake-shown": Code("the brake switch as the display shows it"),
    # wires pulled on purpose
    "no-travel": Code("there is no good travel to hold something against"),
    "broken-wire-drives": Code("a pulled wire reads as a hand on the control"),
    "wire-not-pulled": Code("a wire was not pulled"),
    "tap-on": Code("the logger's tap was on while wires were pulled"),
    "broken-wire-safe": Code("a pulled wire reads outside the travel"),
    # one control's travel
    "which-end-is-rest": Code("which level is rest is not sure"),
    "began-in-hand": Code("the capture began with the control held"),
    "ended-in-hand": Code("the capture ends with the control held"),
    "not-held": Code("presses were not held at full travel"),
    "few-presses": Code("fewer presses than wanted"),
    "level-impossible": Code("a control reads what its supply cannot bring about"),
    "dead-travel": Code(
        "the dead band gives up much of the travel",
        ("limit-outside", "no-travel-left", "no-fault-room"),
    ),
    "limit-outside": Code("a limit would lie where no wire can read, so it is unknown"),
    "no-travel-left": Code("the spread leaves no travel between rest and full"),
    "moved-inside": Code("a control moved while it stayed at one end"),
    "no-fault-room": Code("there is no room for a broken-wire threshold"),
    "beyond-the-logger": Code("a broken-wire threshold would lie beyond what the logger reads"),
    "shown-values-odd": Code("the controller's values do not move as the wire does"),
    "scales-disagree": Code("the controller's scale and the logger's differ"),
    "supply-assumed": Code("nothing says what feeds the sensor"),
    "temperature-span": Code("over what temperatures the values hold"),
    "this-evening": Code("the limits hold for this evening"),
    "evenings": Code("the limits hold for the next evening"),
    "travel-measured": Code("what the presses gave"),
    # trueing
    "outside-trued": Code("a value lies beyond the volts that were trued"),
    "trued-range-unknown": Code("nobody noted from where to where the logger was trued"),
    "stretches-miscounted": Code("still stretches and readings differ in number"),
    "one-reading": Code("one reading fixes no scale"),
    "readings-near": Code("readings lie too near one another"),
    "residuals": Code("what trueing leaves over"),
    "scale-far-off": Code("a scale is far from what the rig file says"),
    "offset-far-off": Code("an offset is larger than such parts have"),
    "two-readings": Code("two readings make a line whatever the converter does in between"),
    "readings-fall": Code("the meter's readings do not rise where the logger's do"),
    "converter-bends": Code("the readings bend away from a straight line"),
    "bend-on-one-reading": Code("a curve bends by one reading alone"),
    "no-bend": Code("the readings show no bend"),
    "meter-assumed": Code("the meter's accuracy was assumed"),
    "check-reading": Code("a reading held against the trued scale"),
    "poses-too-few": Code("too few poses"),
    "poses-disagree": Code("poses differ enough and their |g| does not agree"),
    "bias-only": Code("the poses give the bias alone"),
    "trued": Code("a scale was trued"),
    # the tilt sensor's signal
    "truing-of-others": Code("the truing is of other columns or units"),
    "gravity": Code("gravity at rest is not one g"),
    "coarse": Code("one step of the reading is large"),
    "never-still": Code("the machine never stood still"),
    "rocks": Code("the machine swayed while it stood"),
    "moved": Code("the machine was moved within one standing"),
    # level
    "no-zero": Code("no zero was made"),
    "not-turned": Code("the machine was not turned round"),
    "steep-floor": Code("the floor would be a ramp"),
    "standings-differ": Code("standings of one heading differ"),
    "sensors-disagree": Code("pitch channel and accelerometer disagree"),
    "leans": Code("the machine leans"),
    "lean-differs": Code("the lean differs from standing to standing"),
    "temperature": Code("the temperature changed between the standings"),
    "floor-not-separated": Code("the floor's slope is in the zero"),
    "sign-assumed": Code("a sign was assumed"),
    "rider-not-seen": Code("a seated reading that is the same as without a rider"),
    "rider-tilt": Code("how far the rider tilts the machine"),
    "zero-uncertain": Code("the zero is too uncertain"),
    "zero": Code("the level zero"),
    # signs
    "pose-missing": Code("a pose is missing"),
    "pose-repeated": Code("a pose was given twice"),
    "poses-open": Code("which capture is which pose is open"),
    "sign-contradiction": Code("front and rear raised moved the angle the same way"),
    "sign-reversed": Code("the sign is not the one that the controller expects"),
    "expects-unknown": Code("what the controller expects is not known"),
    "sign-unproven": Code("no sign is proven"),
    "axis-yawed": Code("a lean shows as pitch"),
    "axis-unproven": Code("the axis is not proven"),
    "block-contradicted": Code("plank or wheelbase against the accelerometer\'s angle"),
    "scale": Code("measured over expected angle"),
    "mounting": Code("how the accelerometer is mounted"),
    "late": Code("the angle comes late"),
    "sign": Code("the sign of pitch"),
    "axis": Code("whether pitch answers to pitch alone"),
    # surge and stillness
    "shake-too-weak": Code("the shake was too weak to prove anything"),
    "reads-push-as-tilt": Code("a push reads as tilt"),
    "fusing-unknown": Code("whether push and tilt are told apart is not clear"),
    "launch-unknown": Code("how hard the machine drives off is not known"),
    "launch": Code("false pitch of driving off"),
    "fused": Code("push and tilt are told apart"),
    "drift-unknown": Code("the rest is too short to foretell a drift"),
    "noise": Code("scatter of single readings"),
    "drift": Code("drift in an hour"),
    # the gate, the sheet, and what was typed in
    "evidence": Code("a piece of evidence for the gate"),
    "nothing-to-type-in": Code("the rig file names nothing to type in"),
    "no-value": Code("a value is missing on the sheet"),
    "volts-untrued": Code("a value rests on volts that were never held against a meter"),
    "wires-unproven": Code("no pulled wire proves the broken-wire values"),
    "not-read": Code("figures were not read from the controller"),
    "rest-before-start": Code("the controller's rest against its start"),
    "full-beyond-end": Code("the controller's full travel against its end"),
    "setting-shown": Code("a setting as the controller shows it"),
    "level-shown": Code("a level as the controller shows it"),
    "creep": Code("what the wheel does with the hand off"),
    "wire-changed": Code("the wire changed after the travel was measured"),
    # setup and the logger's program
    "lines": Code("how many lines were understood"),
    "another-logger": Code("the logger is not the one that the rig file was made for"),
    "no-header": Code("the logger names no columns"),
    "names-differ": Code("the rig file names columns otherwise"),
    "no-clock": Code("no column is a clock"),
    "clock-uneven": Code("the time column does not rise evenly"),
    "clock-or-counter": Code("a clock and a count of lines look alike"),
    "clock": Code("which column is the clock"),
    "angle-scale-unknown": Code("how many volts make a degree is not known"),
    "unit-unknown": Code("a column's unit is not known"),
    "value-assumed": Code("a value was assumed"),
    "columns-unused": Code("nothing is known of some columns"),
    "no-control": Code("which column is the throttle is not known"),
    "part-told": Code("which column a part moves"),
    "part-not-told": Code("which column a part moves is not known"),
    "accelerometer-told": Code("which columns are the accelerometer"),
    "pitch-told": Code("which column is pitch"),
    "pitch-not-told": Code("which column is pitch is not known"),
    "tilt-not-told": Code("no column moved with the front"),
    "not-tried-on-a-board": Code("the source was not tried on a board"),
    "line-load": Code("how full the line is"),
}  # fmt: skip
"""Codes in the order of causes. Source of what follows from what: own judgement of cause and
effect."""

PLACE: Final = {code: number for number, code in enumerate(CODES)}
"""Each code's place in the list."""


def published() -> dict[str, Any]:
    """The list as ``calib schema findings`` prints it."""
    return {
        "title": "calib findings",
        "findings": [
            {
                "code": code,
                "about": entry.about,
                "may_cause_on_its_channel": entry.here,
                "may_cause_on_others": entry.elsewhere,
            }
            for code, entry in CODES.items()
        ],
    }
