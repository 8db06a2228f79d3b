from __future__ import annotations

import pytest

from calib.controls.shown_scale import ShownEnd, ShownScale, disagreements, shown_scale


def scale(**changed: float) -> ShownScale | None:
    """A map with plain figures, some of them changed."""
    figures = {
        "rest_V": 0.9,
        "full_V": 3.9,
        "shown_rest_V": 0.87,
        "shown_full_V": 3.78,
        "shown_step_V": 0.01,
        "u_rest_V": 0.0,
        "u_full_V": 0.0,
    } | changed
    rest = ShownEnd(figures["rest_V"], figures["shown_rest_V"], figures["u_rest_V"])
    full = ShownEnd(figures["full_V"], figures["shown_full_V"], figures["u_full_V"])
    return shown_scale(rest, full, step_V=figures["shown_step_V"])


def test_both_ends_map_onto_what_is_shown() -> None:
    """Rest and full travel come out as a display that rounds or cuts off lets one say."""
    found = scale()
    assert found is not None
    quarter = 0.0025
    assert found.shown(0.9) == pytest.approx(0.87 + quarter)
    assert found.shown(3.9) == pytest.approx(3.78 + quarter)
    assert found.shown(2.4) == pytest.approx(0.5 * (0.87 + 3.78) + quarter)


def test_uncertainty_is_that_of_the_display_at_the_ends() -> None:
    """At an end the map is as good as the display's step; between them it is better."""
    found = scale()
    assert found is not None
    assert found.u_at(0.9) == pytest.approx(0.0075 / 3.0**0.5)
    assert found.u_at(2.4) == pytest.approx(0.0075 / 6.0**0.5)
    assert found.display_component(0.9).u == pytest.approx(found.u_at(0.9) / found.gain)
    wider = scale(u_rest_V=0.01)
    assert wider is not None
    assert wider.u_at(0.9) > 0.009


def test_shown_values_that_cannot_belong() -> None:
    """A display that stands still, or runs the other way, has no map."""
    assert scale(shown_full_V=0.87) is None
    assert scale(shown_rest_V=4.0, shown_full_V=1.0) is None


def test_disagreement_beyond_both_scales() -> None:
    """A difference within both uncertainties is none; one beyond them is named with its end."""
    found = scale()
    assert found is not None
    assert disagreements(found, u_logger_rest_V=0.026, u_logger_full_V=0.11) == ()
    tight = disagreements(found, u_logger_rest_V=0.003, u_logger_full_V=0.01)
    assert [one.at for one in tight] == ["rest", "full travel"]
    assert tight[1].difference_V == pytest.approx(-0.1175)
    assert tight[1].allowed_V < 0.05


def test_the_press_that_was_shown_may_have_been_another_one() -> None:
    """How far levels lie apart from press to press is part of what both scales explain."""
    loose = scale(u_rest_V=0.02, u_full_V=0.06)
    assert loose is not None
    assert disagreements(loose, u_logger_rest_V=0.003, u_logger_full_V=0.01) == ()
    firm = scale(u_rest_V=0.005, u_full_V=0.0)
    assert firm is not None
    allowed = {
        one.at: one.allowed_V
        for one in disagreements(firm, u_logger_rest_V=0.003, u_logger_full_V=0.01)
    }
    display_V = 0.0075 / 3.0**0.5
    assert allowed["rest"] == pytest.approx(2.5 * (0.003**2 + 0.005**2 + display_V**2) ** 0.5)
    assert allowed["full travel"] == pytest.approx(2.5 * (0.01**2 + display_V**2) ** 0.5)
