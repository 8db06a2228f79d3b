from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calib.store.text import neutral


@given(st.binary(max_size=300))
def test_nothing_that_a_device_sends_reaches_the_terminal_raw(raw: bytes) -> None:
    """Whatever the bytes, the text is printable, on one line, and bounded."""
    shown = neutral(raw)
    assert shown.isprintable()
    assert len(shown) <= 81


@pytest.mark.parametrize("nasty", ["\u202e", "\u2028", "\x9b", "\x00", "\ufeff"])
def test_marks_that_turn_or_break_a_line_are_escaped(nasty: str) -> None:
    """Direction marks, separators and C1 controls are shown as escapes."""
    assert nasty not in neutral(f"a{nasty}b")
