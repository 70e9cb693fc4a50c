"""Photos laid flat lie on each other, in the colours that were read."""

import io

import numpy as np
import pytest
from PIL import Image

from lampwarden.colour.spaces import rgb_to_xyz_d50 as to_xyz_d50
from lampwarden.colour.spaces import srgb_linear, to_lab
from lampwarden.service.seen import masks_of

from .conftest import Scene

PX_PER_MM = 4


def test_pictures_lie_on_each_other_and_show_what_was_read(scene: Scene, two_photos: tuple[bytes, bytes]) -> None:
    scene.reached("baseline", 0.0, (0.0,) * 6)
    looks = [scene.read(photo, "baseline") for photo in two_photos]
    names = [picture.flat for look in looks for picture in look.pictures]
    flats = [np.asarray(Image.open(io.BytesIO(scene.service.photo(name)[0]))) for name in names]
    sheet = scene.service.sheet_of("s")
    mask = next(m for m in masks_of(sheet) if flats[0].shape[0] == round(m.height_mm * PX_PER_MM))
    assert flats[0].shape == flats[1].shape == (*flats[0].shape[:2], 3)
    assert flats[0].shape[1] == round(mask.width_mm * PX_PER_MM)
    for look, flat in zip(looks, flats, strict=True):
        for aperture in mask.apertures:
            x, y = (round(middle * PX_PER_MM) for middle in aperture.box.centre_mm)
            half = min(40, round(aperture.box.width_mm / 3 * PX_PER_MM))
            part = flat[y - half : y + half, x - half : x + half].reshape(-1, 3)
            bright = np.median(part[part.sum(axis=1) >= np.median(part.sum(axis=1))], axis=0)
            seen = to_lab(to_xyz_d50() @ srgb_linear(bright / 255))
            colour = look.reading.cell(aperture.name)
            assert colour is not None
            assert seen == pytest.approx(colour.lab_d50, abs=2.5), aperture.name
    # The card and its marks are the same in both; only paper changes.
    x, y, side = (round(v * PX_PER_MM) for v in (mask.markers[0].box.x_mm, mask.markers[0].box.y_mm, 16.0))
    marks = [flat[y : y + side, x : x + side].astype(float) for flat in flats]
    assert np.corrcoef(marks[0].ravel(), marks[1].ravel())[0, 1] > 0.97


def test_a_refused_photo_has_no_picture(scene: Scene) -> None:
    assert [picture.flat for picture in scene.read(b"no photo at all", session=False).pictures] == [""]
