from __future__ import annotations

import string

import pytest

from calib.show.glyphs import ROWS, large


@pytest.mark.parametrize("word", ["PASS", "CAUTION", "UNKNOWN", "FAIL", "RELEASE 3/5", "-0.46°"])
def test_the_words_of_the_pages_fit_a_plain_terminal_in_full_strokes(word: str) -> None:
    """Verdicts, verbs and figures are five rows high and at most 80 columns wide."""
    rows = large(word, 80)
    assert len(rows) == ROWS
    assert max(len(row) for row in rows) <= 80
    assert "██" in "".join(rows)


def test_no_two_letters_look_the_same() -> None:
    """Each letter and each digit has a shape of its own; only O is 0, and S is 5."""
    shapes: dict[str, str] = {}
    for char in string.ascii_uppercase + string.digits:
        shapes.setdefault("\n".join(large(char, 80)), "")
        shapes["\n".join(large(char, 80))] += char
    assert sorted(same for same in shapes.values() if len(same) > 1) == ["O0", "S5"]


def test_what_is_too_wide_is_thinned_and_then_said_plainly() -> None:
    """No letter is cut off while there is a smaller way to say the whole."""
    assert len(large("HOLD STILL NOW", 80)) == ROWS
    assert large("PRESS THE LEVER SLOWLY", 40) == ["PRESS THE LEVER SLOWLY"]
