"""Bands, their integrals, and which band suits."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lampwarden.errors import ProgramError
from lampwarden.light.band import band_caution
from lampwarden.light.spectrum import Band, Spectrum, of_band, of_bands


@given(st.floats(350, 780), st.floats(3, 150), st.floats(1e-3, 5000))
def test_a_band_holds_exactly_its_irradiance(peak_nm, width_nm, irradiance_w_m2):
    spectrum = of_band(peak_nm, irradiance_w_m2, width_nm)
    assert spectrum.irradiance_w_m2 == pytest.approx(irradiance_w_m2, rel=1e-9)
    assert spectrum.share(0, 2000) == pytest.approx(1.0)


def test_bands_add_up_and_keep_their_mean():
    both = of_bands([Band(435, 80, 20), Band(470, 20, 20)])
    assert both.irradiance_w_m2 == pytest.approx(100)
    assert both.mean_nm == pytest.approx(0.8 * 435 + 0.2 * 470, abs=1e-6)
    assert both.share(300, 452.5) == pytest.approx(0.8, abs=0.02)


def test_foot_of_a_bell_curve_lies_1_289_widths_below_the_peak():
    # sqrt(ln 100 / ln 2) / 2 half widths, computed.
    foot_nm = 435 - 20 * math.sqrt(math.log(100) / math.log(2)) / 2
    assert of_band(435, 10, 20).foot_nm == pytest.approx(foot_nm, abs=0.3)


def test_share_below_an_edge_is_that_of_the_error_function():
    # A bell curve whose 1 % foot is at 400 nm has erfc(sqrt(ln 100)) / 2 = 0.12 % below it, computed.
    spectrum = of_band(425.78, 10, 20)
    assert spectrum.share(0, 400) == pytest.approx(math.erfc(math.sqrt(math.log(100))) / 2, rel=0.02)


def test_share_does_not_need_a_point_on_its_edges():
    flat = Spectrum(np.array([400.0, 500.0]), np.array([2.0, 2.0]))
    assert flat.share(425, 450) == pytest.approx(0.25)
    assert flat.share(300, 400) == 0.0
    assert flat.share(100, 200) == 0.0


def test_scaling_and_shifting_keep_the_shape():
    spectrum = of_band(435, 84, 20)
    assert spectrum.with_irradiance(42).w_m2_nm == pytest.approx(spectrum.w_m2_nm / 2)
    assert spectrum.shifted(5).mean_nm == pytest.approx(spectrum.mean_nm + 5)


@pytest.mark.parametrize("band", [(349, 10, 20), (435, 0, 20), (435, math.nan, 20), (435, math.inf, 20), (435, 10, 2)])
def test_impossible_bands_are_refused(band):
    with pytest.raises(ProgramError, match="give one"):
        Band(*band)


def test_no_band_is_no_light():
    with pytest.raises(ProgramError, match="no band"):
        of_bands([])


@pytest.mark.parametrize(
    ("peak_nm", "width_nm", "word"),
    [
        (435, 20, None),
        (430, 20, None),
        (455, 20, None),
        (420, 18, "begins at 397 nm"),
        (405, 15, "begins at 386 nm"),
        (415, 10, "near the light that"),
        (425, 10, "outside 430 to 455 nm"),
        (470, 20, "outside 430 to 455 nm"),
    ],
)
def test_the_band_that_suits(peak_nm, width_nm, word):
    caution = band_caution(of_band(peak_nm, 80, width_nm))
    assert (caution is None) if word is None else (word in caution.text)


def test_a_spectrum_that_starts_at_the_edge_proves_nothing():
    nm = np.arange(400.0, 500.0)
    caution = band_caution(Spectrum(nm, np.exp(-(((nm - 440) / 8) ** 2))))
    assert "nothing is known of ultraviolet" in caution.text
