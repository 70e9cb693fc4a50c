"""The light room against published numbers and against colour-science 0.4.7. Each source stands beside its check."""

import runpy
from pathlib import Path

import colour
import numpy as np
import pytest
from colour.colorimetry import SDS_LEFS_PHOTOPIC

from lampwarden.domain.units import dose_j_cm2, mj_m2, mw_cm2
from lampwarden.light import damage, dose, eye, photometry, photons
from lampwarden.light.defaults import SLOPE_PER_NM, SUN_400_460_W_M2, Material
from lampwarden.light.spectrum import Spectrum, of_band

NARROW_NM = 3.0


# CIE 1924 V(l) at some wavelengths; restated by colour-science, read there.
@pytest.mark.parametrize(
    ("nm", "v"),
    [(380, 0.000039), (400, 0.000396), (405, 0.000640), (435, 0.016840), (450, 0.038000), (480, 0.139020), (555, 1.0)],
)
def test_v_lambda_at_its_printed_points(nm, v):
    assert photometry.eye_sensitivity(np.array([float(nm)]))[0] == pytest.approx(v, rel=1e-9)


def test_v_lambda_lies_within_2_percent_of_colour_science_at_every_nm():
    theirs = SDS_LEFS_PHOTOPIC["CIE 1924 Photopic Standard Observer"]
    nm = np.arange(400.0, 701.0)
    assert photometry.eye_sensitivity(nm) == pytest.approx([theirs[x] for x in nm], rel=0.02)


def test_lux_of_a_broad_band_is_that_of_colour_science():
    spectrum = of_band(450, 100, 20)
    sd = colour.SpectralDistribution(dict(zip(spectrum.wavelength_nm, spectrum.w_m2_nm, strict=True)))
    assert photometry.illuminance_lx(spectrum) == pytest.approx(colour.colorimetry.luminous_flux(sd), rel=0.005)


# lm/W and W/m2 per klx: computed from V(l) with 683 lm/W.
@pytest.mark.parametrize(("nm", "lux_per_100_w"), [(405, 43.7), (450, 2595), (435, 1150), (480, 9495)])
def test_lux_of_a_narrow_band(nm, lux_per_100_w):
    # A band 3 nm wide already reads 1 to 2 % more at 405 nm, where V doubles every 5 nm.
    assert photometry.illuminance_lx(of_band(nm, 100, NARROW_NM)) == pytest.approx(lux_per_100_w, rel=0.03)


# E = h c / l with the exact SI 2019 constants, and photons per joule: computed.
@pytest.mark.parametrize(
    ("nm", "ev", "umol_j"),
    [(380, 3.2627, 3.1766), (405, 3.0613, 3.3855), (435, 2.8502, 3.6363), (450, 2.7552, 3.7617), (555, 2.2339, 4.6394)],
)
def test_photon_energy_and_count(nm, ev, umol_j):
    assert photons.photon_energy_ev(nm) == pytest.approx(ev, abs=5e-5)
    assert photons.photons_umol_j(nm) == pytest.approx(umol_j, abs=5e-5)


def test_photon_energy_with_scipy_constants():
    from scipy import constants

    theirs = constants.h * constants.c / 435e-9 / constants.e
    assert photons.photon_energy_ev(435) == pytest.approx(theirs, rel=1e-12)


# Dose of a 450 nm zone: computed from H = E t (8 h and 24 h), 1 J/m2 = 1e-4 J/cm2.
@pytest.mark.parametrize(
    ("w_m2", "mj_8h", "mj_24h", "umol"), [(50, 1.44, 4.32, 188), (100, 2.88, 8.64, 376), (300, 8.64, 25.9, 1128)]
)
def test_dose_table(w_m2, mj_8h, mj_24h, umol):
    assert mj_m2(dose_j_cm2(w_m2, 8 * 3600)) == pytest.approx(mj_8h, rel=1e-9)
    assert mj_m2(dose_j_cm2(w_m2, 24 * 3600)) == pytest.approx(mj_24h, rel=2e-3)
    spectrum = of_band(450, w_m2, NARROW_NM)
    assert photons.photon_flux_umol_m2_s(spectrum) == pytest.approx(umol, rel=1e-3)
    assert photons.photon_dose_mol_m2(dose_j_cm2(w_m2, 3600), spectrum.mean_nm) == pytest.approx(
        umol * 0.0036, rel=2e-3
    )
    assert mw_cm2(w_m2) == pytest.approx(w_m2 / 10)


def test_dose_of_published_laser_bleaching():
    # 405 nm, 800 mW/cm2 for 5 min = 240 J/cm2. Suemori 2008, Laser Phys. Lett. 5:379 (irradiance and time read).
    assert dose_j_cm2(8000, 300) == pytest.approx(240)


def test_sun_between_400_and_460_nm():
    # ASTM G173 AM1.5 global tilt, from the table that colour-science ships beside its plots (which want matplotlib).
    path = Path(colour.__file__).parent / "plotting" / "datasets" / "astm_g_173.py"
    sun = runpy.run_path(str(path))["SD_ASTMG173_GLOBAL_TILT"]
    spectrum = Spectrum(sun.wavelengths, sun.values)
    blue_w_m2 = spectrum.share(400, 460) * spectrum.irradiance_w_m2
    assert blue_w_m2 == pytest.approx(SUN_400_460_W_M2.value, abs=0.05)
    # 2 h of it are 0.56 MJ/m2 (computed).
    assert dose.sun_hours(55.6) == pytest.approx(2.0, abs=0.01)


# s(l) = exp(-b (l - 300)): CIE 157:2004 eq. 2.5; b = 0.0115 restated by a public code, other b from memory; s computed.
@pytest.mark.parametrize(
    ("b", "nm", "s"),
    [(0.0115, 380, 0.3985), (0.0115, 450, 0.1782), (0.0125, 405, 0.2691), (0.0100, 500, 0.1353), (0.0377, 450, 0.0035)],
)
def test_relative_damage(b, nm, s):
    assert float(damage.relative_damage(float(nm), b)) == pytest.approx(s, abs=5e-5)


@pytest.mark.parametrize(
    ("material", "b", "ratio"),
    [
        (Material.REFERENCE, 0.0115, 1.68),
        (Material.RAG_PAPER, 0.0125, 1.76),
        (Material.TEXTILES, 0.0100, 1.57),
        (Material.LOW_GRADE_PAPER, 0.0377, 5.45),
    ],
)
def test_damage_of_405_against_450_nm(material, b, ratio):
    assert SLOPE_PER_NM[material].value == b
    band = of_band(405, 100, NARROW_NM)
    assert damage.damage_per_joule(band, material) == pytest.approx(ratio, rel=0.005)


# B(l): IEC 62471:2006 / ICNIRP 2013 Table 2, restated by a public code; 501-600 nm 10^((450 - l)/50), 601-700 nm 0.001.
B = [
    (380, 0.01), (385, 0.013), (390, 0.025), (395, 0.05), (400, 0.10), (405, 0.20), (410, 0.40), (415, 0.80),
    (420, 0.90), (425, 0.95), (430, 0.98), (435, 1.00), (440, 1.00), (445, 0.97), (450, 0.94), (455, 0.90),
    (460, 0.80), (465, 0.70), (470, 0.62), (475, 0.55), (480, 0.45), (485, 0.40), (490, 0.22), (495, 0.16),
    (500, 0.10), (525, 10**-1.5), (600, 0.001), (650, 0.001), (701, 0.0), (299, 0.0),
]  # fmt: skip


def test_b_lambda():
    nm, b = np.array(B, dtype=float).T
    assert eye.blue_hazard(nm) == pytest.approx(b, rel=1e-9)


# Lit white paper, 0.8 reflectance, 300 W/m2: computed from L = rho E / pi and B.
@pytest.mark.parametrize(("nm", "l_b"), [(450, 71.8), (435, 76.4), (420, 68.8), (405, 15.3)])
def test_blue_radiance_of_lit_paper(nm, l_b):
    # B doubles every 5 nm at 405 nm, which even a band 3 nm wide feels.
    gaze = eye.look_at_paper(of_band(nm, 300, NARROW_NM))
    assert gaze.blue_radiance_w_m2_sr == pytest.approx(l_b, rel=0.05 if nm == 405 else 0.015)
    assert gaze.permitted_s is None


def test_paper_under_more_than_390_w_m2_reaches_the_limit():
    # 100 W/(m2 sr) beyond 10^4 s: IEC 62471:2006 eq. 4.5b, restated. Crossing computed at 435-440 nm.
    assert eye.look_at_paper(of_band(437.5, 385, NARROW_NM)).permitted_s is None
    assert eye.look_at_paper(of_band(437.5, 400, NARROW_NM)).permitted_s == pytest.approx(10_000, rel=0.03)


def test_permitted_time_is_a_million_over_l_b():
    # IEC 62471:2006 eq. 4.5a, restated: L_B t <= 10^6. One public code prints 100 / L_B.
    assert eye.permitted_s(3.0e5) == pytest.approx(3.333, abs=0.001)
    assert eye.permitted_s(100.0) is None
    assert eye.permitted_s(100.1) == pytest.approx(9990, abs=1)


def test_bare_led_of_1_w_on_1_mm2():
    # Lambertian: L = 3.2e5, L_B(450) = 3.0e5 W/(m2 sr), 3.3 s (computed); 1 mm from 5 cm is 20 mrad, not small.
    gaze = eye.look_at_led(1.0, 1.0, of_band(450, 1, NARROW_NM), distance_m=0.05)
    assert gaze.blue_radiance_w_m2_sr == pytest.approx(3.0e5, rel=0.01)
    assert gaze.permitted_s == pytest.approx(3.3, abs=0.1)


def test_small_source_follows_the_stricter_directive():
    # E_B <= 100/t to 10^4 s, then 0.01 W/m2: Directive 2006/25/EC, from memory.
    assert eye.permitted_small_s(1.0) == pytest.approx(100)
    assert eye.permitted_small_s(0.01) is None
    far = eye.look_at_led(1.0, 1.0, of_band(450, 1, NARROW_NM), distance_m=1.0)
    # 1 W Lambertian on the axis at 1 m: I = 1/pi W/sr, E = 0.318 W/m2.
    assert far.permitted_s == pytest.approx(100 / (0.94 / np.pi), rel=0.01)


def test_photons_of_daylight_shape_agree_with_direct_sum():
    # CIE D65 from colour-science, 380-780 nm: photons counted wavelength by wavelength.
    sd = colour.SDS_ILLUMINANTS["D65"].copy().align(colour.SpectralShape(380, 780, 5))
    spectrum = Spectrum(sd.wavelengths, sd.values).with_irradiance(100)
    each = np.array([photons.photons_umol_j(x) for x in spectrum.wavelength_nm])
    summed = np.trapezoid(spectrum.w_m2_nm * each, spectrum.wavelength_nm)
    assert photons.photon_flux_umol_m2_s(spectrum) == pytest.approx(summed, rel=1e-9)
