"""The printed page, measured in pictures of it at 300 dpi: everything lies where the geometry says, to 0.2 mm.

The PDF's markers are off by 0.03 mm at most; a browser rounds the SVG's page to whole pixels, which makes it 0.14 mm.
"""

import re
import subprocess
from html import unescape
from pathlib import Path

import cv2
import numpy as np
import pytest

from lampwarden.mask.drawing import CUT_MM
from lampwarden.mask.geometry import DICTIONARY, MARKER_IDS, Box, Mask
from lampwarden.mask.layout import PRINT_MARGIN_MM
from lampwarden.mask.pdf import to_pdf
from lampwarden.mask.svg import to_svg

from .conftest import PX_PER_MM, Print

TOLERANCE_MM = 0.2
HALF_LINE = np.array([1, 1, -1, -1]) * CUT_MM / 2


def detect(grey: np.ndarray) -> dict[int, np.ndarray]:
    """Corners (4, 2) in pixels of each marker found, as a photo's reader would."""
    rules = cv2.aruco.DetectorParameters()
    rules.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, DICTIONARY))
    corners, ids, _ = cv2.aruco.ArucoDetector(dictionary, rules).detectMarkers(grey)
    numbers = [] if ids is None else ids.ravel().tolist()
    assert len(set(numbers)) == len(numbers)
    return {number: corner.reshape(4, 2) for number, corner in zip(numbers, corners, strict=True)}


def cut_outlines(printed: Print) -> np.ndarray:
    """Middle lines (n, 4) of all large outlines drawn without a gap: left, top, right, bottom in mask mm."""
    dark = (printed.grey < 128).astype(np.uint8)
    _, _, stats, _ = cv2.connectedComponentsWithStats(dark, connectivity=8)
    found = []
    for left, top, width, height, area in stats[1:]:
        large = min(width, height) > 8 * PX_PER_MM
        if large and area < 0.4 * width * height:  # the markers are fuller
            corners = np.array([[left, top], [left + width - 1, top + height - 1]], float)
            found.append(printed.mask_mm(corners).ravel() + HALF_LINE)
    return np.array(found)


def test_the_four_markers_are_found_where_they_belong(printed: Print) -> None:
    found = detect(printed.grey)
    assert sorted(found) == sorted(MARKER_IDS)
    for marker in printed.mask.markers:
        away_mm = printed.mask_mm(found[marker.id]) - np.array(marker.box.corners_mm)
        assert np.hypot(*away_mm.T).max() < TOLERANCE_MM


def test_markers_are_found_in_a_small_and_blurred_picture(printed: Print) -> None:
    height = 1200  # pixels for the whole page, the figure behind MARKER_MM
    width = round(height * printed.grey.shape[1] / printed.grey.shape[0])
    small = cv2.resize(printed.grey, (width, height), interpolation=cv2.INTER_AREA)
    assert sorted(detect(cv2.GaussianBlur(small, None, 1.0))) == sorted(MARKER_IDS)


def test_cut_lines_are_the_open_cells_and_the_frame_and_nothing_else(printed: Print) -> None:
    mask = printed.mask
    boxes = [Box(x_mm=0, y_mm=0, width_mm=mask.width_mm, height_mm=mask.height_mm)]
    boxes += [aperture.box for aperture in mask.apertures if aperture.open]
    expected = np.array([(b.x_mm, b.y_mm, b.right_mm, b.bottom_mm) for b in boxes])
    found = cut_outlines(printed)
    assert len(found) == len(expected)
    away_mm = np.abs(found[:, None, :] - expected[None, :, :]).max(axis=2)
    assert sorted(away_mm.argmin(axis=1)) == list(range(len(expected)))
    assert away_mm.min(axis=1).max() < TOLERANCE_MM


def test_closed_cells_have_a_broken_outline_where_they_belong(printed: Print) -> None:
    closed = [aperture.box for aperture in printed.mask.apertures if not aperture.open]
    assert bool(closed) != printed.mask.open_all
    for box in closed:
        for x, y, width, height in (
            (box.x_mm, box.y_mm, box.width_mm, 0),
            (box.x_mm, box.bottom_mm, box.width_mm, 0),
            (box.x_mm, box.y_mm, 0, box.height_mm),
            (box.right_mm, box.y_mm, 0, box.height_mm),
        ):
            line = printed.window(x - 0.2, y - 0.2, width + 0.4, height + 0.4).min(axis=0 if width else 1)
            assert 0.4 < (line < 128).mean() < 0.75


def test_the_ruler_is_100_mm_long_and_even(printed: Print) -> None:
    ruler = printed.mask.ruler
    rows = printed.window(ruler.x_mm - 3, ruler.y_mm + 2.8, ruler.width_mm + 6, 0.8)  # only the tens reach so far down
    dark = (rows.max(axis=0) < 160).astype(np.int8)
    starts, ends = np.flatnonzero(np.diff(dark) == 1), np.flatnonzero(np.diff(dark) == -1)
    ticks_mm = (starts + ends) / 2 / PX_PER_MM
    assert len(ticks_mm) == 11
    assert ticks_mm[-1] - ticks_mm[0] == pytest.approx(100, abs=0.1)
    assert np.diff(ticks_mm) == pytest.approx(10, abs=0.1)


def test_white_spots_and_the_quiet_zones_of_markers_are_bare(printed: Print) -> None:
    assert len(printed.mask.white) >= 8
    for spot in printed.mask.white:
        assert printed.window(spot.x_mm, spot.y_mm, spot.width_mm, spot.height_mm).min() == 255
    for marker in printed.mask.markers:
        box, module = marker.box, marker.box.width_mm / 8
        outer = printed.window(*_sides(box.grown(module)))
        rim = round(0.9 * module * PX_PER_MM)
        assert min(outer[:rim].min(), outer[-rim:].min(), outer[:, :rim].min(), outer[:, -rim:].min()) > 250


def test_one_cannot_tell_the_page_from_one_printed_in_black_alone(printed: Print) -> None:
    assert np.ptp(printed.colours.astype(int), axis=2).max() == 0


def test_a_turned_chart_has_its_black_corner_at_the_upper_right(printed: Print) -> None:
    box, turned = printed.mask.chart.box, printed.mask.chart.turned
    left = printed.window(box.x_mm + 0.5, box.y_mm + 0.5, 2, 2).mean()
    right = printed.window(box.right_mm - 2.5, box.y_mm + 0.5, 2, 2).mean()
    assert (left < 5, right < 5) == (not turned, turned)


def test_pdf_and_svg_show_the_same_page(mask: Mask, pdf_file: Path) -> None:
    """Word for word; the pictures above compare the rest."""
    words = _words(mask, pdf_file)
    text = " ".join(re.findall(r"<text[^>]*>([^<]*)</text>", to_svg(mask)))
    text = unescape(text).translate(str.maketrans("Łź東", "?z?"))  # the PDF's font lacks these
    assert sorted(word for word, *_ in words) == sorted(text.split())


def test_every_cell_is_named_once_above_its_opening(mask: Mask, pdf_file: Path) -> None:
    words = _words(mask, pdf_file)
    for aperture in mask.apertures:
        found = [place for word, *place in words if word == aperture.name]
        assert len(found) == 1
        left, _, right, _ = found[0]
        assert aperture.box.x_mm <= left <= aperture.box.x_mm + 1.5
        assert right <= aperture.label.right_mm + 0.1


def test_all_words_lie_on_the_part_that_printers_reach(mask: Mask, pdf_file: Path) -> None:
    for _, left, top, right, bottom in _words(mask, pdf_file):
        assert left + mask.page_x_mm >= PRINT_MARGIN_MM
        assert right + mask.page_x_mm <= mask.paper.width_mm - PRINT_MARGIN_MM
        assert top + mask.page_y_mm >= PRINT_MARGIN_MM
        assert bottom + mask.page_y_mm <= mask.paper.height_mm - PRINT_MARGIN_MM


def test_the_pdf_has_the_papers_size_and_asks_not_to_be_scaled(mask: Mask, pdf_file: Path) -> None:
    told = subprocess.run(["pdfinfo", pdf_file], capture_output=True, text=True, check=True).stdout
    size = re.search(r"Page size:\s+([\d.]+) x ([\d.]+) pts", told)
    assert size
    assert [float(side) * 25.4 / 72 for side in size.groups()] == pytest.approx(
        [mask.paper.width_mm, mask.paper.height_mm], abs=0.01
    )
    assert re.search(rb"/PrintScaling\s*/None", pdf_file.read_bytes())


def test_the_same_mask_gives_the_same_bytes(mask: Mask) -> None:
    again = Mask.model_validate_json(mask.model_dump_json())
    assert again == mask
    assert to_pdf(again) == to_pdf(mask)
    assert to_svg(again) == to_svg(mask)


def _sides(box: Box) -> tuple[float, float, float, float]:
    return box.x_mm, box.y_mm, box.width_mm, box.height_mm


def _words(mask: Mask, pdf: Path) -> list[tuple[str, float, float, float, float]]:
    """The page's words with left, top, right and bottom in the mask's coordinates."""
    page = subprocess.run(["pdftotext", "-bbox", pdf, "-"], capture_output=True, text=True, check=True).stdout
    pattern = r'<word xMin="(.*?)" yMin="(.*?)" xMax="(.*?)" yMax="(.*?)">(.*?)</word>'
    moved = (mask.page_x_mm, mask.page_y_mm) * 2
    return [
        (unescape(word), *(float(pt) * 25.4 / 72 - by for pt, by in zip(sides, moved, strict=True)))
        for *sides, word in re.findall(pattern, page)
    ]
