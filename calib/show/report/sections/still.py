"""Noise and drift of a channel at rest: the deviation over averaging time."""

from __future__ import annotations

from calib.show.report.context import Context, missing
from calib.show.report.markup import Markup
from calib.show.report.parts import drawing, section_of
from calib.show.report.plots import Labels, deviation_plot
from calib.show.still import still_view
from calib.store.documents.still import StillDocument
from calib.store.records import Record


def section(context: Context, record: Record, document: StillDocument) -> Markup:
    """How long to average, how far it wanders."""
    name = document.channel or "pitch"
    plot = _plot(context, document, name)
    return section_of(record, f"Noise and drift of {name}", still_view(document), plot)


def _plot(context: Context, document: StillDocument, name: str) -> Markup:
    if len(document.tau_s) < 2:
        return missing("The rest was too short for a plot of the deviation.")
    best = min(range(len(document.sigma)), key=lambda index: document.sigma[index])
    labels = Labels(
        name=context.drawing_name(),
        title=f"Allan deviation of {name}",
        description=f"Lowest {document.sigma[best]:.2g} {document.unit} at "
        f"{document.tau_s[best]:.3g} s.",
        value=document.unit,
    )
    return drawing(
        deviation_plot(labels, document.tau_s, document.sigma),
        f"How far averages of {name} differ from each other, by their length.",
    )
