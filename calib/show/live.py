"""The live page: one verb, the count, the values with their freshness."""

from __future__ import annotations

from rich.console import Group
from rich.text import Text

from calib.guide.cautions import FOOTER
from calib.guide.protocols import Live, Reading
from calib.store.text import neutral

STALE_AFTER_S = 0.5  # own choice: five times the longest wait between two looks at the line
BAR_CHARS = 50


def live_page(live: Live) -> Group:
    """What to do now and the live values, as one renderable of at most 80 columns."""
    step = live.step
    count = "" if step.wanted is None else f"   {step.done} of {step.wanted}"
    parts: list[Text] = [
        Text(""),
        Text(f"  >>>  {spaced(step.verb)}{count}", style="bold reverse"),
        Text(f"       {step.detail}"),
        Text(""),
    ]
    for reading in live.readings:
        parts.extend(_reading(reading))
    parts.extend(Text(f"  still needed: {need}") for need in step.needs)
    parts.append(
        Text(
            f"  {live.elapsed_s:.0f} s, {live.samples} samples, "
            f"{live.rejected_lines} rejected lines",
            style="dim",
        )
    )
    parts.append(Text(f"  {FOOTER}  Ctrl-C stops and keeps what was captured."))
    return Group(*parts)


def spaced(verb: str) -> str:
    """A verb in capitals with spaces between its letters, to be read from two metres."""
    return "   ".join(" ".join(word) for word in verb.upper().split())


def _reading(reading: Reading) -> list[Text]:
    name = neutral(reading.channel, 16)
    if reading.value is None:
        return [Text(f"  {name:<16} no sample yet")]
    if reading.age_s > STALE_AFTER_S:
        return [Text(f"  {name:<16} NO NEW SAMPLE for {reading.age_s:.1f} s", style="bold")]
    low = reading.value if reading.low is None else reading.low
    high = reading.value if reading.high is None else reading.high
    span = high - low
    place = 0 if span <= 0 else round((reading.value - low) / span * (BAR_CHARS - 1))
    bar = "".join("█" if index == place else "·" for index in range(BAR_CHARS))
    return [
        Text(f"  {name:<16} {reading.value:8.3f} {reading.unit}", style="bold"),
        Text(f"  {low:8.3f} {bar} {high:8.3f}"),
    ]
