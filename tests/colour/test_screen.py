"""Colours as a page shows them."""

import numpy as np
import pytest

from lampwarden.colour import spaces, spectra


@pytest.mark.parametrize(
    ("lab", "shown"),
    [((100, 0, 0), "#ffffff"), ((0, 0, 0), "#000000"), ((53.585, 0, 0), "#808080"), ((80, 150, 0), "#ff00b7")],
)
def test_a_colour_on_a_screen(lab, shown):
    assert spaces.screen_hex(lab)[:3] == shown[:3]
    assert len(spaces.screen_hex(lab)) == 7


def test_neutrals_stay_neutral_under_the_other_illuminant():
    greys = np.array([[20.0, 0, 0], [50, 0, 0], [96, 0, 0]])
    assert spaces.lab_d65_of_d50(greys) == pytest.approx(greys, abs=1e-9)


@pytest.mark.parametrize("nm", [(430.0, 550.0, 690.0), (400.0, 550.0, 670.0), (400.0, 700.0, 550.0)])
def test_a_colour_wants_the_visible_range(nm):
    with pytest.raises(ValueError, match="420 to 680 nm"):
        spectra.xyz_of_reflectance(nm, (50.0, 50.0, 50.0))


def test_a_perfect_white():
    for name in ("D50", "D65"):
        xyz = spectra.xyz_of_reflectance((400, 700), (100, 100), name)
        assert xyz == pytest.approx(spaces.white(name), abs=0.15)
