"""The fit on light that was made up by its own laws: it must find the colours back; and on dirty places."""

import numpy as np
import pytest

from lampwarden.colour.difference import de00
from lampwarden.colour.spaces import rgb_to_xyz_d50, srgb_encoded, srgb_linear, to_xyz
from lampwarden.imaging.chart import published_chart
from lampwarden.imaging.fit import Model, fit
from lampwarden.imaging.samples import Sample

SIZE_MM = (180.0, 220.0)
PAPERS = np.array([[84.0, 4, 23], [76, 6, 30], [90, 1, 12], [60, 20, 25], [45, -12, -8]])
CROSSTALK = np.array([[0.9, 0.15, -0.05], [0.05, 0.9, 0.05], [0.02, 0.1, 0.88]])
"""Invented camera."""


def place(linear: np.ndarray, at_mm: tuple[float, float], side_mm: float = 6.0) -> Sample:
    return Sample(at_mm, (side_mm, side_mm), linear, np.zeros(3), 1000, 0.0, 1.0, np.empty((0, 3)), np.empty((0, 2)))


class Camera:
    """Linear light of a colour at a place, as the file holds it: matrix, uneven light, gains, then a tone curve."""

    def __init__(self, gains=(0.7, 0.8, 0.6), fall=(0.3, -0.2, 0.25), gamma=1.15, flare=0.0):
        self.gains, self.fall, self.gamma, self.flare = np.array(gains), fall, gamma, flare

    def sees(self, lab, at_mm) -> np.ndarray:
        x, y = (at_mm[0] - 90) / 110, (at_mm[1] - 110) / 110
        light = np.exp(self.fall[0] * x + self.fall[1] * y - self.fall[2] * (x * x + y * y))
        rgb = np.maximum(CROSSTALK @ np.linalg.solve(rgb_to_xyz_d50(), to_xyz(lab)) + self.flare, 1e-4)
        encoded = srgb_encoded(rgb * self.gains * light) ** self.gamma
        return srgb_linear(encoded)


def scene(camera: Camera, white=(95.0, 0, 2), dirty: int = 0):
    """White spots, patches, greys and papers."""
    chart = published_chart()
    spots = [(x, y) for x in (10.0, 50, 90, 130, 170) for y in (10.0, 60, 110, 160, 210)]
    whites = [place(camera.sees(white, at), at) for at in spots]
    for index in (0, 8, 16, 13, 21)[:dirty]:
        whites[index] = place(whites[index].linear * 0.6, spots[index])
    patches = [(20.0 + 18 * (i % 6), 140.0 + 15 * (i // 6)) for i in range(24)]
    greys = [(135.0, 135 + 11.0 * i) for i in range(6)]
    cells = [(30.0 + 30 * i, 60.0) for i in range(len(PAPERS))]
    return (
        whites,
        [place(camera.sees(lab, at), at) for lab, at in zip(chart.patches, patches, strict=True)],
        [place(camera.sees(lab, at), at) for lab, at in zip(chart.greys, greys, strict=True)],
        [place(camera.sees(lab, at), at) for lab, at in zip(PAPERS, cells, strict=True)],
    )


@pytest.mark.parametrize("flare", [0.0, 0.02])
@pytest.mark.parametrize("gamma", [0.9, 1.0, 1.15])
def test_what_was_made_up_by_its_laws_is_found_back(gamma, flare):
    white, patches, greys, cells = scene(Camera(gamma=gamma, flare=flare))
    colours = fit(white, patches, greys, published_chart(), SIZE_MM)
    assert de00(colours.lab(cells), PAPERS).max() < 0.25
    assert np.median(colours.white_off) < 0.003


def test_the_root_polynomial_finds_it_too():
    white, patches, greys, cells = scene(Camera())
    colours = fit(white, patches, greys, published_chart(), SIZE_MM, Model.ROOT)
    assert de00(colours.lab(cells), PAPERS).max() < 0.5


def test_one_exposure_is_as_good_as_another():
    """What a cell comes to must not hang on how bright the photo is."""
    found = []
    for exposure in (1.0, 0.5):
        white, patches, greys, cells = scene(Camera(gains=exposure * np.array((0.9, 0.8, 0.7)), gamma=1.0))
        found.append(fit(white, patches, greys, published_chart(), SIZE_MM).lab(cells))
    assert de00(*found).max() < 0.05


@pytest.mark.parametrize("dirty", [1, 3, 5])
def test_spots_that_are_covered_have_no_say(dirty):
    white, patches, greys, cells = scene(Camera(), dirty=dirty)
    colours = fit(white, patches, greys, published_chart(), SIZE_MM)
    assert de00(colours.lab(cells), PAPERS).max() < 0.4
    assert sorted(colours.white_off)[-dirty] > 0.3


def test_a_glare_on_two_patches_has_no_say():
    white, patches, greys, cells = scene(Camera())
    for index in (3, 18):
        patches[index] = place(patches[index].linear + 0.2, patches[index].middle_mm)
    assert de00(fit(white, patches, greys, published_chart(), SIZE_MM).lab(cells), PAPERS).max() < 0.6


def test_grey_steps_of_unknown_values_only_have_to_be_grey():
    chart = published_chart().model_copy(update={"greys": ()})
    white, patches, _, cells = scene(Camera())
    camera = Camera()
    others = [place(camera.sees((90 - 15 * i, 0, 0), (135, 135 + 11 * i)), (135, 135 + 11.0 * i)) for i in range(6)]
    assert de00(fit(white, patches, others, chart, SIZE_MM).lab(cells), PAPERS).max() < 0.5


def test_wide_gamut_light_is_converted_in_float():
    """The same scene as a Display P3 file holds it: the matrix of its profile brings the same colours."""
    to_p3 = np.linalg.solve(rgb_to_xyz_d50("Display P3"), rgb_to_xyz_d50())
    parts = scene(Camera(gamma=1.0))
    plain = fit(*parts[:3], published_chart(), SIZE_MM)
    wide = [[place(to_p3 @ s.linear, s.middle_mm) for s in part] for part in parts]
    converted = fit(*wide[:3], published_chart(), SIZE_MM, to_srgb=np.linalg.inv(to_p3))
    assert de00(plain.lab(parts[3]), converted.lab(wide[3])).max() < 0.1


def test_slopes_and_uncertainty_of_the_fit():
    white, patches, greys, cells = scene(Camera())
    colours = fit(white, patches, greys, published_chart(), SIZE_MM)
    slopes = colours.slopes(cells)
    brighter = srgb_linear(srgb_encoded(np.stack([c.linear for c in cells])) + 1 / 255)
    moved = colours.lab(cells, brighter) - colours.lab(cells)
    assert slopes.sum(axis=-1) == pytest.approx(moved, rel=0.05, abs=0.02)
    assert 0.1 < slopes[0, 0].sum() < 1  # L* by one step of all channels
    assert (colours.u_fit(cells) > 0).all()
