"""Photos of the simulated sheet are such as a camera would have written."""

import io
from datetime import UTC, datetime
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from tests.mask.conftest import shipped_sheet

from lampwarden.domain.sheet import Cell, Sheet
from lampwarden.mask.geometry import Box, Mask
from lampwarden.mask.layout import lay_out
from lampwarden.rehearsal import demo_chamber
from lampwarden.rig.paper.sheet import SimPaper
from lampwarden.rig.paper.spectra import lab

cv2 = pytest.importorskip("cv2", reason="the extra `photos` is not installed")
Image = pytest.importorskip("PIL.Image")
ImageOps = pytest.importorskip("PIL.ImageOps")
from lampwarden.rig.camera import __main__ as command  # noqa: E402
from lampwarden.rig.camera import chart, device, files, printing  # noqa: E402
from lampwarden.rig.camera.faults import Fault  # noqa: E402
from lampwarden.rig.camera.photo import Taken, photograph, take  # noqa: E402

SIZE = (1000, 750)
SHEET = shipped_sheet()
MASK = lay_out(SHEET, open_all=True)


def paper(fate: str = "brightens", hours: float = 0.0) -> SimPaper:
    made = SimPaper(SHEET, demo_chamber(), 3, fate=fate)
    made.step(3600 * hours, {zone.name: 1.0 for zone in demo_chamber().zones}, 28.0)
    return made


STATE = paper().state()


@cache
def shot(
    seed: int = 5, kind: device.Kind = "fixed", size: tuple[int, int] = SIZE, bits: int = 8, *faults: Fault
) -> Taken:
    return take(SHEET, MASK, STATE, seed, kind, size=size, bits=bits, faults=faults)


def with_fault(fault: Fault) -> Taken:
    return shot(5, "fixed", SIZE, 8, fault)


def mean(taken: Taken, box: Box, share: float = 0.6) -> np.ndarray:
    """Median colour of the inner part of a place, shape (3,), 0..255."""
    return np.median(pixels(taken, box, share), axis=0)


def pixels(taken: Taken, box: Box, share: float = 0.6) -> np.ndarray:
    """Pixels (n, 3) on a fine grid over the inner part of a place."""
    inner = Box.around(*box.centre_mm, box.width_mm * share, box.height_mm * share)
    xs, ys = np.linspace(inner.x_mm, inner.right_mm, 40), np.linspace(inner.y_mm, inner.bottom_mm, 40)
    at = np.rint(taken.place.px(np.stack(np.meshgrid(xs, ys), axis=-1))).astype(int).reshape(-1, 2)
    return taken.pixels[0][at[:, 1], at[:, 0]]


def markers(picture: np.ndarray, mask: Mask = MASK) -> dict[int, np.ndarray]:
    """What OpenCV finds: corners (4, 2) by number."""
    from lampwarden.mask.geometry import DICTIONARY

    how = cv2.aruco.DetectorParameters()
    how.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, DICTIONARY))
    corners, ids, _ = cv2.aruco.ArucoDetector(dictionary, how).detectMarkers(picture)
    return {} if ids is None else {int(number): found[0] for number, found in zip(ids.ravel(), corners, strict=True)}


def decoded(data: bytes) -> np.ndarray:
    return np.asarray(ImageOps.exif_transpose(Image.open(io.BytesIO(data))).convert("RGB"))


def test_the_same_seed_and_shot_give_the_same_bytes() -> None:
    def files_of(number: int) -> list[bytes]:
        return photograph(SHEET, MASK, STATE, 5, "phone", shot=number, size=(400, 300))

    assert files_of(1) == files_of(1)
    assert files_of(1) != files_of(2)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("kind", ["phone", "fixed"])
def test_markers_are_found_where_they_truly_are(kind: device.Kind, seed: int) -> None:
    taken = shot(seed, kind)
    found = markers(taken.pixels[0])
    assert set(found) == {marker.id for marker in MASK.markers}
    for marker in MASK.markers:
        off = np.linalg.norm(found[marker.id] - taken.place.px(np.array(marker.box.corners_mm)), axis=1)
        assert off.max() < 0.8, (marker.id, off)


def test_places_map_to_pixels_and_back() -> None:
    taken = shot(7, "phone")
    mm = np.array([[0.0, 0.0], [90.0, 110.0], [180.0, 215.0]])
    assert taken.place.mm(taken.place.px(mm)) == pytest.approx(mm, abs=1e-6)


def test_white_is_white_and_not_saturated() -> None:
    taken = shot()
    whites = np.array([mean(taken, spot) for spot in MASK.white])
    assert whites.max() < 255
    assert whites.min() > 200
    assert np.ptp(whites, axis=1).max() < 20
    # Uneven light is what the white spots are for.
    assert np.ptp(whites, axis=0).max() > 3


def test_patches_have_the_published_colours() -> None:
    assert lab(chart.published_patches()) == pytest.approx(chart.chart_lab(), abs=0.02)
    made = lab(chart.made_patches(1)) - chart.chart_lab()
    assert 0.05 < np.abs(made).mean() < 0.5


def test_a_camera_sees_colours_roughly_as_they_are() -> None:
    """By its own tone curve and matrix, without any correction: within what a plain photo is off."""
    taken = shot(bits=16)
    curve = device.tone_curve(taken.device, 4096)
    boxes = [*MASK.chart.patches(), MASK.white[17]]
    linear = np.array([np.interp(mean(taken, box) / 65535, curve, np.linspace(0, 1, 4096)) for box in boxes])
    luminance = linear @ [0.2126, 0.7152, 0.0722]
    grey = np.linspace(0, 1, 256)
    true = np.interp(chart.chart_lab()[:, 0], lab(grey[:, None] * np.ones(31))[:, 0], grey)
    assert luminance[:24] / luminance[24] * 0.9 == pytest.approx(true, rel=0.25, abs=0.02)


def test_files_tell_when_they_were_taken() -> None:
    when = datetime(2031, 5, 6, 7, 8, 9, tzinfo=UTC)
    photos = photograph(SHEET, MASK, STATE, 5, "fixed", size=(400, 300), bracket=2, taken_utc=when)
    for photo, second in zip(photos, (9, 10), strict=True):
        about = Image.open(io.BytesIO(photo)).getexif()
        assert about[306] == f"2031:05:06 07:08:{second:02d}"
        assert about.get_ifd(0x8769)[0x9003] == f"2031:05:06 07:08:{second:02d}"
        assert about.get_ifd(0x8769)[0x9011] == "+00:00"


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_orientation_is_stored_so_that_it_looks_upright(orientation: int) -> None:
    upright = shot(size=(400, 300)).pixels[0]
    stored = files.written(
        upright, "png", orientation=orientation, taken="2031:05:06 07:08:09", quality=0, subsampling=0
    )
    image = Image.open(io.BytesIO(stored))
    assert image.getexif()[274] == orientation
    assert image.size == (upright.shape[::-1][1:] if orientation < 5 else upright.shape[:2])
    assert np.array_equal(decoded(stored), upright)


def test_sixteen_bits_are_the_same_picture_and_bear_exif() -> None:
    (fine,) = photograph(SHEET, MASK, STATE, 5, "fixed", size=(400, 300), format="png16")
    (plain,) = photograph(SHEET, MASK, STATE, 5, "fixed", size=(400, 300), format="png")
    deep = cv2.imdecode(np.frombuffer(fine, np.uint8), cv2.IMREAD_UNCHANGED)[:, :, ::-1]
    assert deep.dtype == np.uint16
    assert len(np.unique(deep)) > 2000
    assert np.abs(deep / 257 - decoded(plain)).max() <= 0.51
    assert Image.open(io.BytesIO(fine)).getexif()[271] == "simulated"


def test_a_bracket_darkens_step_by_step() -> None:
    taken = take(SHEET, MASK, STATE, 5, "fixed", size=(400, 300), bracket=5)
    curve = device.tone_curve(taken.device, 4096)
    spot = np.rint(taken.place.px(np.array(MASK.white[17].centre_mm))).astype(int)
    levels = [np.interp(p[spot[1], spot[0]].mean() / 255, curve, np.linspace(0, 1, 4096)) for p in taken.pixels]
    assert levels[0] < 0.95
    steps = [brighter / darker for brighter, darker in pairwise(levels)]
    assert steps == pytest.approx([(0.92 / 0.5) ** 0.25] * 4, rel=0.04)


def test_only_what_changed_changes_in_the_picture() -> None:
    before = shot(bits=16)
    after = take(SHEET, MASK, paper(hours=8).state(), 5, "fixed", size=SIZE, bits=16)
    boxes = {aperture.name: aperture.box for aperture in MASK.apertures}
    rise = {name: (mean(after, box) / mean(before, box))[2] - 1 for name, box in boxes.items()}
    assert rise["A1"] > 0.02
    assert abs(rise["B3"]) < 0.004


def test_where_nothing_happens_the_photo_stays_the_same_to_the_byte() -> None:
    photos = [
        photograph(SHEET, MASK, paper("nothing", hours).state(), 5, "fixed", size=(400, 300)) for hours in (0.0, 8.0)
    ]
    assert photos[0] == photos[1]


def test_print_leaves_nine_tenths_of_a_cell_bare() -> None:
    px_mm = 8
    for seed in range(5):
        layers = printing.sheet(SHEET, seed, px_mm)
        covered = np.clip(sum(layer.astype(float) for layer in layers.values()) / 255, 0, 1)
        for cell in (cell for cell in SHEET.cells if cell.role != "ink watch"):
            middle = Box(x_mm=cell.x_mm, y_mm=cell.y_mm, width_mm=cell.width_mm, height_mm=cell.height_mm).grown(-5)
            x, y = round(middle.x_mm * px_mm), round(middle.y_mm * px_mm)
            piece = covered[y : y + round(middle.height_mm * px_mm), x : x + round(middle.width_mm * px_mm)]
            assert 0.005 < piece.mean() < 0.1, (seed, cell.name)


def test_an_ink_watch_cell_shows_its_ink() -> None:
    watch = Cell(name="V", zone="A1", x_mm=84, y_mm=36, width_mm=12, height_mm=12, role="ink watch", ink="vermilion")
    sheet = SHEET.model_copy(update={"cells": (*SHEET.cells, watch)})
    mask = lay_out(sheet, open_all=True)
    state = SimPaper(sheet, demo_chamber(), 3, fate="brightens").state()
    taken = take(sheet, mask, state, 5, "fixed", size=SIZE)
    red, green, blue = mean(taken, next(a.box for a in mask.apertures if a.name == "V"))
    assert red > 1.7 * green
    assert red > 1.7 * blue


@pytest.mark.parametrize(
    ("fault", "left"), [(Fault.MARKER_COVERED, 3), (Fault.TWO_MARKERS_COVERED, 2), (Fault.MARKER_CUT, 3)]
)
def test_covered_markers_are_not_found(fault: Fault, left: int) -> None:
    assert len(markers(with_fault(fault).pixels[0])) == left


def test_glare_saturates_and_haze_does_not() -> None:
    plain, glare, haze = shot(), with_fault(Fault.GLARE), with_fault(Fault.HAZE)
    first, last = (next(a.box for a in MASK.apertures if a.name == name) for name in ("A1", "B3"))
    assert (pixels(glare, first) >= 254).all(axis=1).mean() > 0.2
    assert (pixels(haze, last) >= 254).mean() == 0
    assert (mean(haze, last) > mean(plain, last) + 5).all()
    more = pixels(haze, last).astype(float) - pixels(plain, last)
    assert np.percentile(more, 90) > 2 * np.percentile(more, 10)
    assert mean(haze, first) == pytest.approx(mean(plain, first), abs=2)


def test_blur_softens_and_shadow_darkens() -> None:
    def sharpness(taken: Taken) -> float:
        return float(cv2.Laplacian(taken.pixels[0][:, :, 1], cv2.CV_64F).std())

    plain = shot()
    assert sharpness(with_fault(Fault.BLUR)) < 0.2 * sharpness(plain)
    shaded = with_fault(Fault.SHADOW)
    whites = [mean(shaded, spot)[1] / mean(plain, spot)[1] for spot in MASK.white]
    assert min(whites) < 0.85
    assert max(whites) > 0.97


def test_missing_chart_moved_swatches_and_another_sheet() -> None:
    plain, bare = shot(), with_fault(Fault.CHART_MISSING)
    patch = MASK.chart.patches()[2]
    assert np.ptp(mean(plain, patch)) > 40
    assert mean(bare, patch).min() > 200
    moved = with_fault(Fault.SWATCHES_MOVED)
    rim = Box.around(MASK.swatches[0].x_mm + 3, MASK.swatches[0].centre_mm[1] + 5, 4)
    assert np.ptp(mean(plain, rim)) > 30
    assert np.ptp(mean(moved, rim)) < 20
    other = with_fault(Fault.WRONG_SHEET)
    assert other.mask.width_mm > other.mask.height_mm
    assert len(markers(other.pixels[0])) == 4


def test_it_serves_as_a_camera_command(tmp_path, capsys) -> None:
    state = tmp_path / "state.json"
    state.write_text(paper(hours=2).state().to_json())
    asked = ["--size", "400x300", "--shot", "4", "--paper", str(state), str(tmp_path / "photo.jpg")]
    assert command.main(asked) == 0
    assert Image.open(tmp_path / "photo.jpg").format == "JPEG"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["photo.jpg", "state.json"]
    state.write_text("nothing")
    assert command.main(asked) == 2
    assert "no state of a simulated paper" in capsys.readouterr().err


def test_a_sheet_without_ink_can_be_photographed() -> None:
    plain = Sheet(
        id="plain", title="Plain", cells=(Cell(name="A", zone="A1", x_mm=20, y_mm=20, width_mm=30, height_mm=30),)
    )
    mask = lay_out(plain)
    state = SimPaper(plain, demo_chamber(), 1).state()
    assert photograph(plain, mask, state, 1, "phone", size=(400, 300))
