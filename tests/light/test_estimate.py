"""Irradiance before anything is measured."""

import math

import numpy as np
import pytest
from scipy.integrate import quad

from lampwarden.errors import ProgramError
from lampwarden.light.estimate import irradiance, lamp_w


@pytest.mark.parametrize("angle", [60.0, 120.0, 140.0])
@pytest.mark.parametrize("distance_m", [0.05, 0.2])
def test_mean_centre_and_edge_follow_from_the_intensity(angle, distance_m):
    """The disc integrated ring by ring: E(r) = I(0) cos^(m+3)(t) / d^2, all flux I(0) 2 pi / (m + 1)."""
    flux_w, area_m2 = 3.0, 0.03
    order = math.log(0.5) / math.log(math.cos(math.radians(angle / 2)))
    axis = flux_w * (order + 1) / (2 * math.pi)
    radius_m = math.sqrt(area_m2 / math.pi)

    def local(r):
        return axis * (distance_m / math.hypot(distance_m, r)) ** (order + 3) / distance_m**2

    mean = quad(lambda r: local(r) * 2 * math.pi * r, 0, radius_m)[0] / area_m2
    found = irradiance(flux_w, distance_m, area_m2, viewing_angle_deg=angle)
    assert found.mean_w_m2 == pytest.approx(mean, rel=1e-6)
    assert found.centre_w_m2 == pytest.approx(local(0))
    assert found.edge_w_m2 == pytest.approx(local(radius_m))
    assert found.highest_w_m2 == pytest.approx(flux_w / area_m2)
    assert found.edge_w_m2 < found.mean_w_m2 < min(found.centre_w_m2, found.highest_w_m2)


def test_far_away_it_is_a_point_on_the_axis():
    far = irradiance(1.0, 5.0, 0.01)
    assert far.mean_w_m2 == pytest.approx(1 / (np.pi * 25), rel=1e-3)


def test_a_window_takes_its_share():
    assert irradiance(1, 0.1, 0.03, window_share=0.9).mean_w_m2 == pytest.approx(
        0.9 * irradiance(1, 0.1, 0.03).mean_w_m2
    )


def test_lamp_power_of_the_worked_example():
    # hardware_notes/thermal.md: 100 W/m2 on 0.030 m2 take 8.6 W.
    assert lamp_w(100, 0.03) == pytest.approx(8.57, abs=0.01)


@pytest.mark.parametrize("given", [(0, 0.1, 0.03), (1, -1, 0.03), (1, 0.1, math.inf), (math.nan, 0.1, 0.03)])
def test_impossible_inputs_are_refused(given):
    with pytest.raises(ProgramError, match="give one above 0"):
        irradiance(*given)


def test_impossible_angles_and_windows_are_refused():
    with pytest.raises(ProgramError, match="viewing angle"):
        irradiance(1, 0.1, 0.03, viewing_angle_deg=180)
    with pytest.raises(ProgramError, match="window"):
        irradiance(1, 0.1, 0.03, window_share=0)
