"""The colour room against published numbers and against colour-science 0.4.7. Each source stands beside its check."""

import colour as theirs
import numpy as np
import pytest

from lampwarden.colour import difference, paper, spaces, spectra, whiteness

# Sharma, Wu, Dalal 2005, Table 1, all 34 pairs; restated in public test files.
SHARMA = np.array([
    (50, 2.6772, -79.7751, 50, 0, -82.7485, 2.0425),
    (50, 3.1571, -77.2803, 50, 0, -82.7485, 2.8615),
    (50, 2.8361, -74.0200, 50, 0, -82.7485, 3.4412),
    (50, -1.3802, -84.2814, 50, 0, -82.7485, 1.0000),
    (50, -1.1848, -84.8006, 50, 0, -82.7485, 1.0000),
    (50, -0.9009, -85.5211, 50, 0, -82.7485, 1.0000),
    (50, 0, 0, 50, -1, 2, 2.3669),
    (50, -1, 2, 50, 0, 0, 2.3669),
    (50, 2.49, -0.001, 50, -2.49, 0.0009, 7.1792),
    (50, 2.49, -0.001, 50, -2.49, 0.0010, 7.1792),
    (50, 2.49, -0.001, 50, -2.49, 0.0011, 7.2195),
    (50, 2.49, -0.001, 50, -2.49, 0.0012, 7.2195),
    (50, -0.001, 2.49, 50, 0.0009, -2.49, 4.8045),
    (50, -0.001, 2.49, 50, 0.0010, -2.49, 4.8045),
    (50, -0.001, 2.49, 50, 0.0011, -2.49, 4.7461),
    (50, 2.5, 0, 50, 0, -2.5, 4.3065),
    (50, 2.5, 0, 73, 25, -18, 27.1492),
    (50, 2.5, 0, 61, -5, 29, 22.8977),
    (50, 2.5, 0, 56, -27, -3, 31.9030),
    (50, 2.5, 0, 58, 24, 15, 19.4535),
    (50, 2.5, 0, 50, 3.1736, 0.5854, 1.0000),
    (50, 2.5, 0, 50, 3.2972, 0, 1.0000),
    (50, 2.5, 0, 50, 1.8634, 0.5757, 1.0000),
    (50, 2.5, 0, 50, 3.2592, 0.3350, 1.0000),
    (60.2574, -34.0099, 36.2677, 60.4626, -34.1751, 39.4387, 1.2644),
    (63.0109, -31.0961, -5.8663, 62.8187, -29.7946, -4.0864, 1.2630),
    (61.2901, 3.7196, -5.3901, 61.4292, 2.2480, -4.9620, 1.8731),
    (35.0831, -44.1164, 3.7933, 35.0232, -40.0716, 1.5901, 1.8645),
    (22.7233, 20.0904, -46.6940, 23.0331, 14.9730, -42.5619, 2.0373),
    (36.4612, 47.8580, 18.3852, 36.2715, 50.5065, 21.2231, 1.4146),
    (90.8027, -2.0831, 1.4410, 91.1528, -1.6435, 0.0447, 1.4441),
    (90.9257, -0.5406, -0.9208, 88.6381, -0.8985, -0.7239, 1.5381),
    (6.7747, -0.2908, -2.4247, 5.8714, -0.0985, -2.2286, 0.6377),
    (2.0776, 0.0795, -1.1350, 0.9033, -0.0636, -0.5514, 0.9082),
])  # fmt: skip


@pytest.mark.parametrize("swapped", [False, True])
def test_ciede2000_of_the_published_pairs(swapped):
    one, two = (SHARMA[:, 3:6], SHARMA[:, :3]) if swapped else (SHARMA[:, :3], SHARMA[:, 3:6])
    assert difference.de00(one, two) == pytest.approx(SHARMA[:, 6], abs=5e-5)


def test_ciede2000_is_that_of_colour_science_all_over_the_space():
    draw = np.random.default_rng(3)
    one = draw.uniform((0, -100, -100), (100, 100, 100), (20_000, 3))
    two = np.where(draw.random((20_000, 1)) < 0.5, one + draw.normal(0, 2, one.shape), draw.permutation(one))
    assert difference.de00(one, two) == pytest.approx(theirs.delta_E(one, two, method="CIE 2000"), abs=1e-9)


def test_uncertainty_as_a_distance():
    lab, u = np.array([82.0, 2.5, 18.0]), np.array([0.3, 0.1, 0.4])
    moved = lab + np.random.default_rng(1).normal(0, 1, (200_000, 3)) * u
    assert difference.u_de00(lab, u) == pytest.approx(np.sqrt(np.mean(difference.de00(lab, moved) ** 2)), rel=0.01)


@pytest.mark.parametrize("name", ["D50", "D65", "C"])
def test_lab_is_that_of_colour_science(name):
    xyz = np.random.default_rng(2).uniform(0, 110, (1000, 3))
    xy = theirs.XYZ_to_xy(spaces.white(name))
    assert spaces.to_lab(xyz, name) == pytest.approx(theirs.XYZ_to_Lab(xyz / 100, xy), abs=1e-9)
    assert spaces.to_xyz(spaces.to_lab(xyz, name), name) == pytest.approx(xyz, abs=1e-9)


@pytest.mark.parametrize("name", ["D50", "D65", "C"])
def test_whites_are_those_of_colour_science(name):
    xy = theirs.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"][name]
    assert spaces.white(name) == pytest.approx(100 * theirs.xy_to_XYZ(xy), abs=0.03)


def test_adaptation_is_that_of_colour_science():
    xyz = np.random.default_rng(2).uniform(1, 100, (100, 3))
    mine = spaces.adapt(xyz, "D50", "D65")
    asked = {"method": "Von Kries", "transform": "Bradford"}
    other = theirs.chromatic_adaptation(xyz / 100, spaces.white("D50") / 100, spaces.white("D65") / 100, **asked)
    assert mine == pytest.approx(100 * other, abs=0.02)
    assert spaces.adapt(spaces.white("D50"), "D50", "D65") == pytest.approx(spaces.white("D65"))
    assert spaces.adapt(mine, "D65", "D50") == pytest.approx(xyz)


@pytest.mark.parametrize(("mine", "name"), [("sRGB", "sRGB"), ("Display P3", "Display P3")])
def test_rgb_is_that_of_colour_science(mine, name):
    rgb = np.random.default_rng(4).uniform(0, 1, (500, 3))
    xyz = theirs.RGB_to_XYZ(rgb, name, theirs.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"],
                            chromatic_adaptation_transform="Bradford")  # fmt: skip
    assert rgb @ spaces.rgb_to_xyz_d50(mine).T == pytest.approx(100 * xyz, abs=0.03)
    assert spaces.srgb_linear(rgb) == pytest.approx(theirs.cctf_decoding(rgb, "sRGB"), abs=1e-7)
    assert spaces.srgb_encoded(spaces.srgb_linear(rgb)) == pytest.approx(rgb, abs=1e-7)


@pytest.mark.parametrize("illuminant", ["D50", "D65"])
def test_spectra_give_the_colours_of_colour_science(illuminant):
    nm = np.arange(400.0, 701.0, 10.0)
    draw = np.random.default_rng(5)
    for _ in range(8):
        r = 100 * paper.reflectance_of_ks(draw.uniform(0.05, 0.8) * np.exp(-draw.uniform(0.005, 0.02) * (nm - 457)))
        sd = theirs.SpectralDistribution(dict(zip(nm, r / 100, strict=True)))
        xyz = theirs.sd_to_XYZ(sd.extrapolate(theirs.SpectralShape(360, 780, 10)),
                               illuminant=theirs.SDS_ILLUMINANTS[illuminant])  # fmt: skip
        mine, other = (spaces.to_lab(x, illuminant) for x in (spectra.xyz_of_reflectance(nm, r, illuminant), xyz))
        assert difference.de00(mine, other) < 0.1


# ASTM E313 by doctests of colour-science, read there; the second row computed from the same coefficients (facts).
@pytest.mark.parametrize(
    ("xyz", "illuminant", "observer", "yellowness"),
    [
        ((95, 100, 105), "D65", 2, 4.34),
        ((94.811, 100, 107.304), "D65", 10, 0.00),
        ((94.811, 100, 107.304), "C", 2, 7.41),
        ((80, 84, 85), "D65", 10, 7.58),
        ((70, 73.5, 62), "D65", 2, 28.05),
        ((60, 62.5, 45), "C", 2, 46.32),
    ],
)
def test_yellowness(xyz, illuminant, observer, yellowness):
    assert whiteness.yellowness_e313(xyz, illuminant, observer) == pytest.approx(yellowness, abs=0.006)


@pytest.mark.parametrize(("illuminant", "observer"), list(whiteness.YELLOWNESS))
def test_yellowness_coefficients_are_those_of_colour_science(illuminant, observer):
    name = f"CIE {1931 if observer == 2 else 1964} {observer} Degree Standard Observer"
    coefficients = theirs.colorimetry.YELLOWNESS_COEFFICIENTS_ASTME313[name][illuminant]
    assert whiteness.YELLOWNESS[illuminant, observer] == pytest.approx(coefficients)


# CIE whiteness: computed from the formula of CIE 15:2004 (facts); limits of validity restated in colour-science.
@pytest.mark.parametrize(
    ("xyz", "w"),
    [
        ((94.811, 100, 107.304), 100.0),
        ((80, 84, 85), 67.23),
        ((70, 73.5, 62), None),  # W 6.72, tint -6.8: aged paper
        ((60, 62.5, 45), None),
        ((60, 84, 85), None),  # green: tint out of range
        ((0, 0, 0), None),
    ],
)
def test_whiteness_only_where_it_is_valid(xyz, w):
    found = whiteness.whiteness_cie(xyz)
    assert found is None if w is None else found == pytest.approx(w, abs=0.05)


def test_whiteness_is_that_of_colour_science():
    xyz = np.array([85.0, 90.0, 100.0])
    other = theirs.colorimetry.whiteness_CIE2004(theirs.XYZ_to_xy(xyz), xyz[1], (0.3138, 0.3310))[0]
    assert whiteness.whiteness_cie(xyz) == pytest.approx(other, abs=1e-9)


# K/S at 457 nm: Feller 1987; values computed from the formula there (facts).
@pytest.mark.parametrize(
    ("r", "k_s"),
    [(0.90, 0.00556), (0.75, 0.04167), (0.70, 0.06429), (0.50, 0.25), (0.45, 0.33611), (0.30, 0.81667), (1.0, 0.0)],
)
def test_kubelka_munk(r, k_s):
    assert paper.ks(r) == pytest.approx(k_s, abs=5e-6)
    assert paper.reflectance_of_ks(paper.ks(r)) == pytest.approx(r)


def test_post_colour_number():
    assert paper.post_colour_number(0.70, 0.75) == pytest.approx(-2.26, abs=0.005)
    assert paper.post_colour_number(0.75, 0.72) == pytest.approx(1.28, abs=0.005)


# ISO 2470-1: effective wavelength 457 nm (known from memory).
def test_brightness_has_its_centre_at_457_nm():
    nm = np.arange(400.0, 521.0, 1.0)
    assert paper.iso_brightness_pct(nm, np.full(nm.shape, 83.0)) == pytest.approx(83.0)
    assert paper.iso_brightness_pct(nm, nm / 10) == pytest.approx(45.7, abs=0.05)


@pytest.mark.parametrize("nm", [(410.0, 450.0, 520.0), (400.0, 450.0, 500.0), (400.0, 520.0, 450.0)])
def test_brightness_wants_the_whole_band(nm):
    with pytest.raises(ValueError, match="400 to 510 nm"):
        paper.iso_brightness_pct(nm, (50.0, 60.0, 70.0))


def test_r457_is_estimated_within_its_uncertainty_for_yellowed_paper():
    nm = np.arange(400.0, 701.0, 5.0)
    draw = np.random.default_rng(1)
    ks457, slope, grey = (
        10 ** draw.uniform(-1.6, -0.1, 4000),
        draw.uniform(0.008, 0.022, 4000),
        10 ** draw.uniform(-3, -1.5, 4000),
    )
    curves = 100 * paper.reflectance_of_ks(ks457[:, None] * np.exp(-slope[:, None] * (nm - 457)) + grey[:, None])
    errors = paper.r457_from_xyz_d50(spectra.xyz_of_reflectance(nm, curves)) - paper.iso_brightness_pct(nm, curves)
    assert np.abs(errors).max() < paper.R457_U_PCT
