"""Uncertainties: what the detection limit means, and that each part of an uncertainty does its share."""

import numpy as np
import pytest

from lampwarden.colour.difference import de00
from lampwarden.domain.reading import Way
from lampwarden.imaging.trust import SHARES, detection_limit, u_change, u_colour

LAB = np.array([[84.0, 4.3, 23.0], [60.0, 30.0, 25.0], [92.0, 0.0, 3.0]])


@pytest.mark.parametrize("u_lab", [(0.3, 0.2, 0.5), (0.05, 0.05, 0.05), (0.6, 0.0, 0.0)])
def test_unchanged_colours_stay_under_the_limit_in_95_of_100_pairs(u_lab):
    draw = np.random.default_rng(4)
    for lab in LAB:
        one, two = (lab + draw.normal(0, 1, (40_000, 3)) * u_lab for _ in range(2))
        limit = detection_limit(lab[None], np.array([u_lab]))
        assert np.mean(de00(one, two) <= limit) == pytest.approx(0.95, abs=0.012)


def test_parts_are_added_in_quadrature():
    slopes, nothing = np.zeros((1, 3, 3)), np.zeros((1, 3))
    floor = np.array(SHARES[Way.FIXED].floor)
    assert u_change(Way.FIXED, slopes, ["JPEG"], nothing, None)[0] == pytest.approx(floor)
    slopes[0] = 0.6 * np.eye(3)
    one = u_change(Way.FIXED, slopes, ["JPEG"], nothing, None)[0]
    four = u_change(Way.FIXED, slopes, ["JPEG"] * 4, nothing, None)[0]
    assert one**2 - floor**2 == pytest.approx(4 * (four**2 - floor**2))
    assert (u_change(Way.FIXED, slopes, ["PNG"], nothing, None)[0] < one).all()
    scattered = u_change(Way.FIXED, slopes, ["JPEG"] * 4, nothing, np.full((1, 3), 0.5))[0]
    assert (scattered > 0.3).all()


def test_a_worse_fit_makes_the_colour_less_certain_and_a_phone_s_change_too():
    none = np.zeros(3)
    fits = [u_colour(Way.PHONE, LAB[0], none, np.full(3, u)) for u in (0.5, 1.0)]
    assert fits[1] == pytest.approx(2 * fits[0], rel=0.01)
    changes = [u_change(Way.PHONE, np.zeros((1, 3, 3)), ["JPEG"], np.full((1, 3), u), None) for u in (0.5, 5.0)]
    assert (changes[1] > changes[0]).all()


def test_better_ways_are_more_certain():
    """Cells of one scene: phone, fixed, bracketed, lossless."""
    slopes, fit = 0.6 * np.eye(3)[None], np.full((1, 3), 0.6)
    formats = {Way.PHONE: ["JPEG"], Way.FIXED: ["JPEG"], Way.BRACKETED: ["JPEG"] * 5, Way.LOSSLESS: ["PNG"]}
    limits = [detection_limit(LAB[:1], u_change(way, slopes, files, fit, None)) for way, files in formats.items()]
    assert limits == sorted(limits, reverse=True)
