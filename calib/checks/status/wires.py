"""The logger and the wires: trued against a meter, and checked."""

from __future__ import annotations

from collections.abc import Iterator

from calib.checks.file.standing import Evidence
from calib.checks.status.step import step_from
from calib.checks.travel.doubts import untrued
from calib.store.conversion import base_unit
from calib.store.documents.check import CheckDocument
from calib.store.documents.status import StatusStep


def trued(evidence: Evidence) -> Iterator[StatusStep]:
    """Each control's scale, held against a multimeter and written into the rig file."""
    for name, channel in evidence.rig.with_role("control").items():
        if base_unit(channel) != "V":
            continue
        scale = channel.scale
        yield StatusStep(
            name=f"scale of {name}",
            state="to do" if scale is None else "done",
            text=f"{untrued(channel)} 'calib meter' finds out."
            if scale is None
            else f"Trued on {scale.date[:10]}.",
            command=f"calib meter {name}",
        )


def checked(evidence: Evidence) -> Iterator[StatusStep]:
    """The bench check of every input; wires pulled on purpose are no check of the others."""
    if evidence.rig.channels:
        standing = evidence.standing(CheckDocument, about=lambda check: check.is_bench_check)
        yield step_from("bench check", standing, "calib check")


def pulled(evidence: Evidence) -> Iterator[StatusStep]:
    """Each control's wires, pulled on purpose: only that proves the broken-wire values."""
    for name in evidence.rig.with_role("control"):
        standing = evidence.standing(
            CheckDocument, channel=name, about=lambda check: not check.is_bench_check
        )
        yield step_from(f"wires of {name} pulled", standing, f"calib check --unplug {name}")
