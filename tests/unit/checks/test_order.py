"""Causes before consequences, then the worse one, passes last."""

from __future__ import annotations

from calib.checks.order import in_order
from calib.store.documents.finding import Finding, Severity


def _finding(
    code: str, severity: Severity = Severity.FAIL, channel: str | None = "throttle"
) -> Finding:
    return Finding(code=code, severity=severity, text=code, action="do", channel=channel)


def _codes(*findings: Finding) -> list[str]:
    return [each.code for each in in_order(findings)]


def test_what_follows_comes_after_its_cause_though_it_is_worse() -> None:
    """A wandering supply is mended first, not the control that it moves."""
    moved = _finding("rest-moved")
    dips = _finding("supply-dips", Severity.CAUTION, "rail")
    first, second = in_order([moved, dips])
    assert (first.code, second.code) == ("supply-dips", "rest-moved")
    assert first.action == "do"
    assert second.action.startswith("May follow from 'supply-dips' of rail")


def test_a_cause_on_one_channel_explains_nothing_of_another_unless_it_reaches_there() -> None:
    """An open signal wire moves its own control alone."""
    assert _codes(_finding("rest-moved"), _finding("signal-open", channel="regen")) == [
        "signal-open",
        "rest-moved",
    ]
    apart = in_order([_finding("rest-moved"), _finding("signal-open", channel="regen")])
    assert [each.action for each in apart] == ["do", "do"]


def test_of_several_causes_the_first_in_the_list_is_named() -> None:
    """The one that most else follows from."""
    found = in_order(
        [_finding("rest-moved"), _finding("travel-step"), _finding("stuck-bit")],
    )
    assert [each.code for each in found] == ["stuck-bit", "travel-step", "rest-moved"]
    assert all("'stuck-bit'" in each.action for each in found[1:])


def test_among_causes_the_worse_comes_first_and_then_the_list_decides() -> None:
    """Severity, then place."""
    assert _codes(
        _finding("switch-bounces", Severity.CAUTION, "brake"),
        _finding("return-slow", Severity.CAUTION),
        _finding("temperature-open", Severity.FAIL, "motor"),
    ) == ["temperature-open", "return-slow", "switch-bounces"]


def test_a_pass_comes_last_and_is_neither_cause_nor_consequence() -> None:
    """What is well explains nothing."""
    passed = _finding("rest-moved", Severity.PASS)
    first, second = in_order([passed, _finding("signal-open")])
    assert (first.code, second) == ("signal-open", passed)
    assert _codes(_finding("signal-open", Severity.PASS), _finding("rest-moved")) == [
        "rest-moved",
        "signal-open",
    ]


def test_a_code_of_a_later_version_is_kept_and_comes_last_of_its_severity() -> None:
    """A record on file may hold a code that this version does not know."""
    assert _codes(_finding("unheard-of"), _finding("creep")) == ["creep", "unheard-of"]
