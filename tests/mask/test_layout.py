"""Where things are put, and what is refused."""

import math
import re
from collections.abc import Iterator
from itertools import combinations

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lampwarden.domain.sheet import Sheet
from lampwarden.errors import ProgramError
from lampwarden.mask import geometry as g
from lampwarden.mask import notes
from lampwarden.mask.geometry import Box, Mask, Paper
from lampwarden.mask.layout import PRINT_MARGIN_MM, lay_out, parse_chart, parse_paper
from lampwarden.mask.lettering import wrap
from lampwarden.rehearsal import demo_chamber, demo_programs

from .conftest import sheet_of, shipped_sheet, sixty_cells, wide_sheet

HUGE = Paper(name="huge", width_mm=2000, height_mm=2000)


def apart_mm(one: Box, two: Box) -> float:
    """Distance of two boxes, mm; 0 if they touch, below 0 if they overlap."""
    dx = max(one.x_mm, two.x_mm) - min(one.x_mm + one.width_mm, two.x_mm + two.width_mm)
    dy = max(one.y_mm, two.y_mm) - min(one.y_mm + one.height_mm, two.y_mm + two.height_mm)
    return math.hypot(dx, dy) if dx > 0 and dy > 0 else max(dx, dy)


def refused(sheet: Sheet, paper: str = "a4", **more: object) -> str:
    with pytest.raises(ProgramError) as error:
        lay_out(sheet, parse_paper(paper), **more)
    return str(error.value)


# --- the shipped sheet ------------------------------------------------------------------------------------------------


def test_the_shipped_sheet_fits_the_demo_chamber_and_its_program():
    sheet, chamber = shipped_sheet(), demo_chamber()
    assert sheet.fits(chamber) == []
    assert list(dict.fromkeys(cell.zone for cell in sheet.cells)) == [zone.name for zone in chamber.zones]
    lit = {plan.zone for plan in demo_programs()["ferry_timetable"].zones if plan.exposures}
    assert {cell.zone for cell in sheet.cells if cell.treatment.light} == lit


def test_open_cells_are_those_that_are_not_covered():
    assert [(a.name, a.open) for a in lay_out(shipped_sheet()).apertures] == [
        ("A1", True),
        ("A2", True),
        ("A3", True),
        ("B1", True),
        ("B2", True),
        ("B3", False),
        ("V1", True),
    ]


def test_a_second_mask_for_photos_opens_all_and_moves_nothing():
    light, photos = lay_out(shipped_sheet()), lay_out(shipped_sheet(), open_all=True)
    assert all(aperture.open for aperture in photos.apertures)
    assert photos.code != light.code
    closed = tuple(a.model_copy(update={"open": a.open and a.name != "B3"}) for a in photos.apertures)
    assert photos.model_copy(update={"open_all": False, "apertures": closed}) == light


def test_cells_keep_their_places_on_the_sheet():
    sheet = wide_sheet()
    mask = lay_out(sheet, parse_paper("a3"))
    for cell, aperture in zip(sheet.cells, mask.apertures, strict=True):
        box = aperture.box
        found = (box.x_mm - mask.sheet_x_mm, box.y_mm - mask.sheet_y_mm, box.width_mm, box.height_mm)
        assert found == pytest.approx((cell.x_mm, cell.y_mm, cell.width_mm, cell.height_mm))


def test_markers_run_clockwise_from_the_upper_left():
    mask = lay_out(shipped_sheet())
    assert [m.id for m in mask.markers] == [0, 1, 2, 3]
    centres = [m.box.centre_mm for m in mask.markers]
    right, low = mask.width_mm - 12, mask.height_mm - 12
    assert np.array(centres) == pytest.approx(np.array([(12, 12), (right, 12), (right, low), (12, low)]))


def test_there_are_white_spots_between_the_cells_too():
    mask = lay_out(shipped_sheet())
    cells = [aperture.box for aperture in mask.apertures]
    left, top = min(c.x_mm for c in cells), min(c.y_mm for c in cells)
    right, low = max(c.right_mm for c in cells), max(c.bottom_mm for c in cells)
    inside = [s for s in mask.white if left < s.x_mm < right and top < s.y_mm < low]
    assert len(inside) == 10
    assert len(mask.white) - len(inside) >= 8


def test_patches_follow_the_chart_when_it_is_turned():
    upright, turned = lay_out(shipped_sheet()).chart, lay_out(wide_sheet(), parse_paper("a3")).chart
    assert (upright.turned, turned.turned) == (False, True)
    first, second, *_, last = (box.centre_mm for box in upright.patches())
    assert np.subtract(first, (upright.box.x_mm, upright.box.y_mm)) == pytest.approx((9, 8))
    assert np.subtract(second, first) == pytest.approx((18, 0))
    assert np.subtract(last, first) == pytest.approx((5 * 18, 3 * 16))
    first, second, *_, last = (box.centre_mm for box in turned.patches())
    assert np.subtract(first, (turned.box.right_mm, turned.box.y_mm)) == pytest.approx((-8, 9))
    assert np.subtract(second, first) == pytest.approx((0, 18))
    assert np.subtract(last, first) == pytest.approx((-3 * 16, 5 * 18))
    assert len(upright.patches()) == len(turned.patches()) == 24


# --- random sheets ----------------------------------------------------------------------------------------------------


@st.composite
def sheets(draw) -> Sheet:
    """Cells of random size, each at a random place in its field of an uneven grid; some fields stay empty."""
    millimetres = st.floats(10, 60).map(lambda mm: round(mm, 2))
    widths = draw(st.lists(millimetres, min_size=1, max_size=6))
    heights = draw(st.lists(millimetres, min_size=1, max_size=5))
    gaps = st.floats(6, 40).map(lambda mm: round(mm, 2))
    cells, y = [], draw(gaps)
    for row, height in enumerate(heights):
        x = draw(gaps)
        for column, width in enumerate(widths):
            if not cells or draw(st.integers(0, 4)):
                name = draw(st.sampled_from(["A", "WW", "Wider", "MMMMWW"])) + f"{row}{column}"
                w, h = draw(st.floats(10, width)), draw(st.floats(10, height))
                cells.append((name, x + draw(st.floats(0, width - w)), y + draw(st.floats(0, height - h)), w, h))
            x += width + draw(gaps)
        y += height + draw(gaps)
    covered = tuple(name for name, *_ in cells[1:] if draw(st.integers(0, 5)) == 0)
    return sheet_of(*cells, covered=covered, width_mm=1000, height_mm=1000)


def obstacles(mask: Mask) -> Iterator[tuple[str, Box, float]]:
    """What a white spot has to keep clear of, and by how much, mm."""
    for aperture in mask.apertures:
        yield aperture.name, aperture.box, g.CLEAR_MM
        yield f"the name {aperture.name}", aperture.label, g.CLEAR_MM
    for marker in mask.markers:
        yield f"marker {marker.id}", marker.box, g.QUIET_MM
    for box in (mask.chart.box, *mask.greys, *mask.swatches, mask.ruler, mask.arrow):
        yield "a place", box, g.CLEAR_MM


@settings(deadline=None, max_examples=150)
@given(sheets())
def test_nothing_is_in_the_way_of_anything(sheet):
    mask = lay_out(sheet, HUGE)
    near = 1e-6
    assert len(mask.white) >= 8
    for spot in mask.white:
        assert [what for what, box, by in obstacles(mask) if apart_mm(spot, box) < by - near] == []
    assert all(apart_mm(one, two) >= g.CLEAR_MM for one, two in combinations(mask.white, 2))
    everything = [box for _, box, _ in obstacles(mask)]
    for marker in mask.markers:
        others = [box for box in everything if box != marker.box]
        assert min(apart_mm(marker.box, box) for box in [*others, *mask.white]) >= g.QUIET_MM - near
    labels = [aperture.label for aperture in mask.apertures]
    rest = [mask.chart.box, *mask.greys, *mask.swatches, mask.ruler, mask.arrow]
    for aperture in mask.apertures:
        assert min(apart_mm(aperture.box, label) for label in labels) > 0.5
        assert min(apart_mm(aperture.box, box) for box in rest) >= g.BRIDGE_MIN_MM - near
        assert min(apart_mm(aperture.label, box) for box in rest) > 0.5
    assert all(apart_mm(one, two) > 0.5 for one, two in combinations(labels, 2))
    frame = Box(x_mm=0, y_mm=0, width_mm=mask.width_mm, height_mm=mask.height_mm)
    for box in [*everything, *mask.white]:
        assert box.x_mm >= 2.5
        assert box.y_mm >= 2.5
        assert box.right_mm <= frame.right_mm - 2.5
        assert box.bottom_mm <= frame.bottom_mm - 2.5


@settings(deadline=None, max_examples=60)
@given(sheets(), st.floats(150, 700), st.floats(150, 700))
def test_a_mask_fits_its_paper_or_is_refused_with_a_paper_that_will_do(sheet, width_mm, height_mm):
    paper = Paper(name="some", width_mm=width_mm, height_mm=height_mm)
    try:
        mask = lay_out(sheet, paper)
    except ProgramError as error:
        remedies = re.findall(r"--paper (\S+\w)", str(error))
        assert remedies
        for remedy in remedies:
            lay_out(sheet, parse_paper(remedy))
        return
    page = mask.paper
    assert sorted((page.width_mm, page.height_mm)) == sorted((width_mm, height_mm))
    assert mask.page_x_mm >= PRINT_MARGIN_MM
    assert mask.page_y_mm >= PRINT_MARGIN_MM
    assert mask.page_x_mm + mask.width_mm <= page.width_mm - PRINT_MARGIN_MM + 1e-6
    assert mask.page_y_mm + mask.height_mm + notes.height_mm(mask) <= page.height_mm - PRINT_MARGIN_MM + 1e-6


# --- refused ----------------------------------------------------------------------------------------------------------


def test_sixty_cells_fit_a4():
    assert len(lay_out(sixty_cells()).apertures) == 60


def test_tiny_and_crowded_cells_are_refused_each_with_a_sentence():
    sheet = sheet_of(("A", 10, 10, 9.5, 30), ("B", 25, 10, 30, 30), ("C", 60, 44, 30, 30))
    reason = "the mask needs 6 mm between openings to hold together and to print the names. Move one."
    assert refused(sheet).splitlines() == [
        "Cell 'A' is 9.5 x 30 mm; an opening needs 10 x 10 mm, or too little is left to measure. Make it larger.",
        f"Cells 'A' and 'B' are 5.5 mm apart; {reason}",
        f"Cells 'B' and 'C' are 5 mm apart; {reason}",
    ]


def test_the_smallest_cells_and_bridges_are_taken():
    assert lay_out(sheet_of(("A", 10, 10, 10, 10), ("B", 26, 10, 10, 10), ("C", 10, 26, 10, 10)))


def test_a_sheet_with_nothing_to_open_is_refused():
    assert refused(sheet_of()) == "The sheet 'Trial sheet' has no cells; a mask needs at least one."
    covered = sheet_of(("A", 10, 10, 30, 30), covered=("A",))
    assert refused(covered).startswith("All cells of the sheet 'Trial sheet' are covered")
    assert lay_out(covered, open_all=True).apertures[0].open


def test_a_mask_too_large_for_the_paper_names_one_that_will_do():
    assert refused(shipped_sheet(), "210x270") == (
        "The mask of 'Harbour Line Ferries, summer timetable' with its chart, margins and notes needs 204 x 279 mm; the"
        " paper 210 x 270 mm has 210 x 270 mm. Use --paper a4, or --paper 204x279 at a copy shop, or a smaller --chart."
        " A mask is not split: glued pieces would shift."
    )


@pytest.mark.parametrize(
    ("text", "size"), [("a4", (210, 297)), ("A3", (297, 420)), ("letter", (215.9, 279.4)), ("320x450mm", (320, 450))]
)
def test_paper_is_named_or_measured(text, size):
    paper = parse_paper(text)
    assert (paper.width_mm, paper.height_mm) == size


@pytest.mark.parametrize(
    "text", ["", "a9", "210", "210x", "x", "210x297x5", "nanx300", "infx300", "50x300", "-210x297"]
)
def test_other_paper_is_refused_with_a_remedy(text):
    with pytest.raises(ProgramError, match=r"Say one of a4, letter|each side may be 100 to 2000 mm"):
        parse_paper(text)


@pytest.mark.parametrize("text", ["", "card", "64x108", "500x300", "nanx60", "10x5"])
def test_other_charts_are_refused_with_a_remedy(text):
    with pytest.raises(ProgramError, match=r"six patches across"):
        parse_chart(text)


# --- markers and letters ----------------------------------------------------------------------------------------------


def test_marker_bits_are_the_dictionarys():
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, g.DICTIONARY))
    assert tuple(g.MARKER_BITS) == g.MARKER_IDS
    for number, rows in g.MARKER_BITS.items():
        modules = cv2.aruco.generateImageMarker(dictionary, number, 8, borderBits=1)[1:-1, 1:-1] > 0
        assert [[bit == "1" for bit in row] for row in rows] == modules.tolist()


def test_markers_differ_in_as_many_bits_as_said():
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, g.DICTIONARY))
    every = [cv2.aruco.generateImageMarker(dictionary, n, 8, borderBits=1)[1:-1, 1:-1] > 0 for n in range(250)]

    def least(markers):
        turned = np.array([np.rot90(m, k).ravel() for m in markers for k in range(4)])
        upright = np.array([m.ravel() for m in markers])
        distance = (upright[:, None] != turned[None]).sum(axis=2)
        return distance[distance > 0].min(), (distance == 0).sum()

    assert least(every) == (12, 250)
    assert least(every[:4]) == (18, 4)


def test_text_is_broken_at_spaces_and_numbers_keep_their_units():
    assert wrap("light and hydrogen peroxide 3\u00a0%", 2.6, 30) == ["light and hydrogen", "peroxide 3\u00a0%"]
    assert wrap("Donaudampfschifffahrt", 2.6, 5) == ["Donaudampfschifffahrt"]
