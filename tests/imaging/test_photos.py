"""Photos by the simulated camera, whole and with every fault it knows: read, marked or refused, with what to do."""

import io
import pickle
import re

import numpy as np
import pytest
from PIL import Image

from lampwarden.colour.difference import de00
from lampwarden.colour.spaces import rgb_to_xyz_d50, srgb_encoded, srgb_linear
from lampwarden.domain.reading import Way
from lampwarden.errors import PhotoRefused
from lampwarden.imaging import annotated, look, measure_photos
from lampwarden.imaging.chart import published_chart
from lampwarden.imaging.door import decode
from lampwarden.imaging.marks import place, through
from lampwarden.mask.layout import PAPERS, lay_out
from lampwarden.rig.camera.faults import Fault
from lampwarden.rig.camera.photo import photograph, take
from lampwarden.rig.paper.sheet import PAPER, measured_part

from .conftest import SIZE_PX
from .test_door import SRGB_CURVE, icc


@pytest.mark.parametrize("kind", ["phone", "fixed"])
def test_a_photo_tells_the_colours(shoot, sheet, mask, paper, kind):
    way = Way.PHONE if kind == "phone" else Way.FIXED
    measured = measure_photos([shoot(kind)], mask, way)
    reading = measured.reading
    assert (reading.way, reading.sheet, reading.refused, reading.warnings) == (way, mask.sheet, "", ())
    assert [c.cell for c in reading.cells] == [a.name for a in mask.apertures]
    assert [c.cell for c in reading.swatches] == ["dark 1", "dark 2", "dark 3"]
    for colour in reading.cells:
        part = measured_part(sheet, colour.cell)
        off = float(de00(colour.lab_d50, paper.lab_d50(colour.cell, part)))
        assert off < 1.6
        assert off < 3 * colour.u_abs_de00
        assert colour.usable
        assert colour.marks == ()
        if part == PAPER:  # the estimate is made for paper without print
            assert colour.r457_pct == pytest.approx(paper.r457_pct(colour.cell), abs=3 * colour.r457_u_pct)
    assert 0.2 < reading.detection_limit_de00 < 3
    (found,) = measured.photos
    assert found.hash == reading.photos[0]
    assert found.markers == (0, 1, 2, 3)


def test_the_mask_is_where_the_camera_knows_it(sheet, mask, paper, shoot):
    """Homography against the renderer's own geometry, lens and all."""
    data = shoot("phone", orientation=1)
    found = measure_photos([data], mask).photos[0]
    truth = take(sheet, mask, paper, 3, "phone", size=(found.width_px, found.height_px)).place
    middles = np.array([aperture.box.centre_mm for aperture in mask.apertures])
    px = through(np.array(found.mm_to_px).reshape(3, 3), middles)
    assert np.abs(truth.mm(px) - middles).max() < 1.0


def test_a_result_travels_between_processes_and_as_text(shoot, mask):
    measured = measure_photos([shoot()], mask, Way.FIXED, taken_utc="2024-05-01T10:00:00Z")
    assert pickle.loads(pickle.dumps(measured)) == measured
    assert type(measured).model_validate_json(measured.model_dump_json()) == measured
    assert measured.reading.taken_utc == "2024-05-01T10:00:00Z"
    refusal = pickle.loads(pickle.dumps(PhotoRefused("Take another.")))
    assert str(refusal) == "Take another."


def test_the_camera_s_clock_counts_if_nobody_knows_better(shoot, mask):
    assert measure_photos([shoot()], mask, Way.FIXED).reading.taken_utc == look(shoot()).taken


@pytest.mark.parametrize(
    ("fault", "says"),
    [
        (Fault.TWO_MARKERS_COVERED, r"2 of the mask's 4 corner markers.* missing: upper right and lower right.*Take"),
        (Fault.BLUR, r"markers were found.*sharp"),
        (Fault.WRONG_SHEET, r"mm from where mask \w{6} has them.*check that it is this sheet's mask"),
        (Fault.CHART_MISSING, r"(?s)chart is not where the mask has it.*Lay it on its place"),
        (Fault.SHADOW, r"(?s)shadow or a reflection lies over the mask|lit unevenly|edge of a shadow"),
    ],
)
def test_refused_or_warned_with_what_to_do(shoot, mask, fault, says):
    reading = measure_photos([shoot("fixed", fault)], mask, Way.FIXED).reading
    said = "\n".join((reading.refused, *reading.warnings, *(mark for c in reading.cells for mark in c.marks)))
    assert reading.refused or fault is Fault.SHADOW
    assert not (reading.refused and reading.cells)
    assert re.search(says, said), said


@pytest.mark.parametrize("fault", [Fault.MARKER_COVERED, Fault.MARKER_CUT])
def test_three_markers_do(shoot, mask, fault):
    whole, less = (measure_photos([shoot("fixed", *f)], mask, Way.FIXED) for f in ((), (fault,)))
    assert len(less.photos[0].markers) == 3
    for one, two in zip(whole.reading.cells, less.reading.cells, strict=True):
        assert de00(one.lab_d50, two.lab_d50) < 0.15


def test_a_reflection_that_saturates(shoot, mask):
    cells = measure_photos([shoot("fixed", Fault.GLARE)], mask, Way.FIXED).reading.cells
    assert [c.cell for c in cells if not c.usable] == [mask.apertures[0].name]
    assert f"Turn the reflection away from {cells[0].cell}" in cells[0].marks[0]


def test_a_soft_reflection(shoot, mask):
    """Nothing is saturated. Alone it can only be suspected; beside an earlier photo it is known."""
    hazed = [aperture.name for aperture in mask.apertures if aperture.box.width_mm > 14][-1]
    alone = measure_photos([shoot("fixed", Fault.HAZE)], mask, Way.FIXED).reading
    assert "If it is no stain, turn the lamp's reflection away" in alone.cell(hazed).marks[0]
    clear = measure_photos([shoot("fixed")], mask, Way.FIXED).reading
    later = measure_photos([shoot("fixed", Fault.HAZE)], mask, Way.FIXED, before=clear).reading
    assert not later.cell(hazed).usable
    assert "In this reading" in later.cell(hazed).marks[-1]
    first = measure_photos([shoot("fixed", shot=1)], mask, Way.FIXED, before=alone).reading
    assert first.cell(hazed).usable
    assert "In the earlier reading" in first.cell(hazed).marks[-1]


def test_swatches_beside_their_places(shoot, mask):
    reading = measure_photos([shoot("fixed", Fault.SWATCHES_MOVED)], mask, Way.FIXED).reading
    assert not any(swatch.usable for swatch in reading.swatches)
    assert "Lay the swatch on its place" in reading.swatches[0].marks[0]
    assert all(cell.usable for cell in reading.cells)


def test_swatches_that_changed(shoot, mask):
    before = measure_photos([shoot()], mask, Way.FIXED).reading
    again = measure_photos([shoot(shot=1)], mask, Way.FIXED, before=before).reading
    assert again.warnings == ()
    yellower = [
        s.model_copy(update={"lab_d50": (s.lab_d50[0] - 1, s.lab_d50[1], s.lab_d50[2] + 3)}) for s in before.swatches
    ]
    moved = before.model_copy(update={"swatches": tuple(yellower)})
    (warning,) = measure_photos([shoot(shot=1)], mask, Way.FIXED, before=moved).reading.warnings
    assert "seem to have changed by" in warning
    assert "Take another photo" in warning


def darker(data: bytes, factor: float) -> bytes:
    """The photo with its light divided or multiplied, as a wrong exposure does."""
    out = io.BytesIO()
    values = np.asarray(Image.open(io.BytesIO(data))).astype(float) / 255
    Image.fromarray((np.clip(values**2.2 * factor, 0, 1) ** (1 / 2.2) * 255).astype(np.uint8)).save(out, "PNG")
    return out.getvalue()


@pytest.mark.parametrize(("factor", "says"), [(4.0, "overexposed"), (0.02, "too dark|markers were found")])
def test_wrong_exposure(shoot, mask, factor, says):
    reading = measure_photos([darker(shoot(), factor)], mask, Way.FIXED).reading
    assert re.search(says, reading.refused)


def test_a_mirrored_sheet_is_not_taken_for_one(shoot, mask):
    out = io.BytesIO()
    Image.open(io.BytesIO(shoot())).transpose(Image.Transpose.FLIP_LEFT_RIGHT).save(out, "JPEG", quality=90)
    assert measure_photos([out.getvalue()], mask).reading.refused.startswith("0 of the mask's 4 corner markers")


def test_the_sheet_may_lie_any_way_up(shoot, mask):
    upright = measure_photos([shoot()], mask, Way.FIXED).reading
    out = io.BytesIO()
    Image.open(io.BytesIO(shoot())).transpose(Image.Transpose.ROTATE_90).save(out, "PNG")
    turned = measure_photos([out.getvalue()], mask, Way.FIXED).reading
    for one, two in zip(upright.cells, turned.cells, strict=True):
        assert de00(one.lab_d50, two.lab_d50) < 0.1


def test_several_photos_of_one_moment(sheet, mask, paper, shoot):
    photos = photograph(sheet, mask, paper, camera_seed=3, kind="fixed", bracket=3, size=SIZE_PX)
    measured = measure_photos(
        [photos[0], shoot("fixed", Fault.BLUR), photos[1], photos[0], photos[2], b"?"], mask, Way.FIXED
    )
    reading = measured.reading
    assert reading.way is Way.BRACKETED
    assert [bool(found.refused) for found in measured.photos] == [False, True, False, False, False, True]
    assert "more than once" in reading.warnings[0]
    assert len(reading.photos) == 5
    alone = measure_photos(photos[:1], mask, Way.FIXED).reading
    assert alone.way is Way.FIXED
    assert reading.detection_limit_de00 < alone.detection_limit_de00


def test_lossless_is_found_from_the_file(shoot, mask):
    assert measure_photos([shoot(format="png")], mask, Way.FIXED).reading.way is Way.LOSSLESS
    assert measure_photos([shoot(format="png")], mask, Way.PHONE).reading.way is Way.PHONE


def test_sixteen_bits_say_the_same_as_eight(shoot, mask):
    one, two = (measure_photos([shoot(format=f)], mask, Way.FIXED).reading for f in ("png", "png16"))
    for eight, sixteen in zip(one.cells, two.cells, strict=True):
        assert de00(eight.lab_d50, sixteen.lab_d50) < 0.15


def test_a_display_p3_file_says_the_same(shoot, mask):
    """The same light, stored in wider primaries with the profile that says so."""
    plain = shoot(format="png")
    linear = srgb_linear(np.asarray(Image.open(io.BytesIO(plain))) / 255)
    wide = linear @ np.linalg.solve(rgb_to_xyz_d50("Display P3"), rgb_to_xyz_d50()).T
    out = io.BytesIO()
    stored = Image.fromarray(np.rint(255 * srgb_encoded(np.clip(wide, 0, 1))).astype(np.uint8))
    stored.save(out, "PNG", icc_profile=icc("Display P3", SRGB_CURVE))
    one, two = (measure_photos([data], mask, Way.FIXED) for data in (plain, out.getvalue()))
    assert two.photos[0].profile == "Display P3"
    for srgb, p3 in zip(one.reading.cells, two.reading.cells, strict=True):
        assert de00(srgb.lab_d50, p3.lab_d50) < 0.15


def test_no_photo_at_all(mask):
    assert measure_photos([], mask).reading.refused == "No photo was given."
    nothing = measure_photos([b"nothing"], mask)
    assert "no photo that can be read" in nothing.reading.refused
    assert nothing.photos[0].format == "unknown"


def test_a_cell_outside_the_photo_is_told(sheet, shoot, mask):
    """A photo cut at its right edge, where two markers stay: refused. Cut below the middle: the chart is missing."""
    image = Image.open(io.BytesIO(shoot()))
    for box in ((0, 0, int(image.width * 0.75), image.height), (0, 0, image.width, int(image.height * 0.7))):
        out = io.BytesIO()
        image.crop(box).save(out, "PNG")
        assert "Take the whole mask into the picture" in measure_photos([out.getvalue()], mask).reading.refused


def test_a_closed_opening_is_not_taken_for_paper(sheet, mask, paper):
    """The light's mask lies there, with the control covered; read as the mask for photos its card would be the cell."""
    light = lay_out(sheet, PAPERS["a3"])
    (photo,) = photograph(sheet, light, paper, camera_seed=3, kind="fixed", size=SIZE_PX)
    reading = measure_photos([photo], mask, Way.FIXED).reading
    closed = next(aperture.name for aperture in light.apertures if not aperture.open)
    assert [cell.cell for cell in reading.cells if not cell.usable] == [closed]
    assert "shows the mask's own white" in reading.cell(closed).marks[0]


def test_own_values_of_the_chart_count(shoot, mask):
    """A person whose chart is darker than the published one by 3 L* reads all cells darker."""
    chart = published_chart()
    darker_chart = chart.model_copy(
        update={
            "patches": tuple((lightness - 3, a, b) for lightness, a, b in chart.patches),
            "greys": tuple((lightness - 3, a, b) for lightness, a, b in chart.greys),
        }
    )
    one, two = (measure_photos([shoot()], mask, Way.FIXED, c).reading.cells[0].lab_d50[0] for c in (None, darker_chart))
    assert one - two == pytest.approx(3, abs=0.5)


def test_grey_steps_of_other_values_are_noticed(shoot, mask):
    chart = published_chart()
    others = chart.model_copy(update={"greys": tuple((95.0 - 7 * i, 0.0, 0.0) for i in range(6))})
    plain, odd = (measure_photos([shoot()], mask, Way.FIXED, c).reading for c in (None, others))
    assert plain.warnings == ()
    assert "grey steps are not those of the chart's values" in odd.warnings[0]
    for one, two in zip(plain.cells, odd.cells, strict=True):
        assert de00(one.lab_d50, two.lab_d50) < 0.6


def test_the_photo_with_what_was_read(shoot, mask):
    data = shoot("fixed", Fault.GLARE)
    measured = measure_photos([data], mask, Way.FIXED)
    picture = Image.open(io.BytesIO(annotated(data, measured, mask)))
    assert (picture.format, max(picture.size)) == ("JPEG", max(SIZE_PX))
    values = np.asarray(picture).astype(int)
    to_px = np.array(measured.photos[0].mm_to_px).reshape(3, 3)
    for aperture in mask.apertures:
        box = aperture.box
        x, y = np.rint(through(to_px, [(box.x_mm + box.width_mm / 4, box.y_mm)])[0]).astype(int)
        red, green, _ = values[y, x]
        assert (green > red) == (aperture.name != mask.apertures[0].name)
    refused = shoot("fixed", Fault.TWO_MARKERS_COVERED)
    plain = annotated(refused, measure_photos([refused], mask), mask)
    assert Image.open(io.BytesIO(plain)).size == picture.size


def test_two_sheets_of_one_frame_have_different_masks(sheet, shoot, mask):
    """The light's mask has the control cell closed: it is not read, for its paper does not show."""
    light = lay_out(sheet, PAPERS["a3"])
    reading = measure_photos([shoot()], light, Way.FIXED).reading
    assert [c.cell for c in reading.cells] == [a.name for a in light.apertures if a.open]
    assert place(decode(shoot(), look(shoot())), light).off_mm < 0.3
