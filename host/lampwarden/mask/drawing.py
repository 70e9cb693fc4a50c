"""What is printed, as strokes, areas and text on the page in millimetres; the writers only put it into their format.

Black alone: cut lines are solid and heavy with short marks past the corners, places are dashed, spots to keep white
have four small angles, what falls away is hatched.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

from . import notes
from .geometry import MARKER_BITS, Aperture, Box, Mask
from .lettering import ASCENT, DESCENT, width_mm, wrap
from .notes import SMALL_MM

Point = tuple[float, float]
CUT_MM, PLACE_MM, FINE_MM = 0.3, 0.2, 0.12
"""Line widths."""
DASHES_MM = (1.6, 1.2)


@dataclass(frozen=True, slots=True)
class Stroke:
    points: tuple[Point, ...]
    width_mm: float
    dashed: bool = False
    closed: bool = False
    cut: bool = False
    """A line to cut along; the rest is only printed."""


@dataclass(frozen=True, slots=True)
class Fill:
    """Areas in black, filled as one so that no seam shows between them."""

    areas: tuple[tuple[Point, ...], ...]


@dataclass(frozen=True, slots=True)
class Text:
    at: Point
    """On the line of the letters; `anchor` says which end of the text."""
    text: str
    size_mm: float
    anchor: Literal["start", "middle", "end"] = "start"
    bold: bool = False


Shape = Stroke | Fill | Text


@dataclass(frozen=True, slots=True)
class Page:
    width_mm: float
    height_mm: float
    title: str
    shapes: tuple[Shape, ...]


def draw(mask: Mask) -> Page:
    """The printed page. Places on it are the mask's own, moved to where the frame stands."""
    shapes = tuple(_moved(shape, mask.page_x_mm, mask.page_y_mm) for shape in _shapes(mask))
    return Page(mask.paper.width_mm, mask.paper.height_mm, notes.title(mask), shapes)


def _shapes(mask: Mask) -> Iterator[Shape]:
    yield from _cut(Box(x_mm=0, y_mm=0, width_mm=mask.width_mm, height_mm=mask.height_mm), past=False)
    for aperture in mask.apertures:
        yield from _aperture(aperture)
    for marker in mask.markers:
        yield _marker(marker.id, marker.box)
    for spot in mask.white:
        yield from _spot(spot)
    yield from _sheet_edges(mask)
    yield from _places(mask)
    yield from _arrow(mask.arrow)
    yield from _ruler(mask.ruler)
    yield from _words_below(mask)


def _cut(box: Box, past: bool = True) -> Iterator[Shape]:
    """The outline to cut; `past`: with marks beyond each corner, to lay the cutting ruler by."""
    yield Stroke(box.corners_mm, CUT_MM, closed=True, cut=True)
    if past:
        left, top, right, bottom = box.x_mm, box.y_mm, box.right_mm, box.bottom_mm
        for x, dx in ((left, -1.2), (right, 1.2)):
            for y, dy in ((top, -1.2), (bottom, 1.2)):
                yield Stroke(((x + dx / 3, y), (x + dx, y)), FINE_MM)
                yield Stroke(((x, y + dy / 3), (x, y + dy)), FINE_MM)


def _aperture(aperture: Aperture) -> Iterator[Shape]:
    box, label = aperture.box, aperture.label
    size_mm = label.height_mm / (ASCENT + DESCENT)
    yield Text((label.x_mm, label.y_mm + ASCENT * size_mm), aperture.name, size_mm, bold=True)
    if aperture.open:
        yield from _cut(box)
        yield from _hatched(box)
        yield from _words(box, aperture.treatment)
    else:
        yield Stroke(box.corners_mm, PLACE_MM, dashed=True, closed=True)
        yield from list(_words(box, f"{aperture.treatment}\ndo not cut")) or _words(box, "do not cut")


def _hatched(box: Box) -> Iterator[Shape]:
    """Slanting lines in two opposite corners; the middle is left for words."""
    reach = min(box.width_mm, box.height_mm) * 0.45
    for step in range(1, int(reach / 2.5) + 1):
        d = step * 2.5
        left, top, right, bottom = box.x_mm, box.y_mm, box.right_mm, box.bottom_mm
        yield Stroke(((left + d, top), (left, top + d)), FINE_MM)
        yield Stroke(((right - d, bottom), (right, bottom - d)), FINE_MM)


def _words(box: Box, text: str, size_mm: float = SMALL_MM) -> Iterator[Shape]:
    """Text in the middle of a box, in smaller letters if need be; none if it would be too small to read."""
    room_mm, step = 0.75 * box.width_mm, 1.3
    while size_mm >= 1.4:
        lines = [line for part in text.split("\n") for line in wrap(part, size_mm, room_mm)]
        high_mm = step * size_mm * len(lines)
        if high_mm <= box.height_mm - 2 and all(width_mm(line, size_mm) <= room_mm for line in lines):
            x, y = box.centre_mm
            for number, line in enumerate(lines):
                yield Text((x, y - high_mm / 2 + (number * step + 0.95) * size_mm), line, size_mm, "middle")
            return
        size_mm -= 0.2


def _marker(number: int, box: Box) -> Fill:
    """The black modules, rim and all; neighbours in a row are one area."""
    rows = ("0" * 8, *(f"0{row}0" for row in MARKER_BITS[number]), "0" * 8)
    module = box.width_mm / len(rows)
    areas = []
    for y, row in enumerate(rows):
        for bit, run in groupby(enumerate(row), key=lambda item: item[1]):
            if bit == "0":
                xs = [x for x, _ in run]
                black = Box(
                    x_mm=box.x_mm + xs[0] * module,
                    y_mm=box.y_mm + y * module,
                    width_mm=len(xs) * module,
                    height_mm=module,
                )
                areas.append(black.corners_mm)
    return Fill(tuple(areas))


def _spot(spot: Box) -> Iterator[Shape]:
    """An angle outside each corner; the spot itself stays bare."""
    rim = spot.grown(0.4)
    for (x, y), (dx, dy) in zip(rim.corners_mm, ((1, 1), (-1, 1), (-1, -1), (1, -1)), strict=True):
        yield Stroke(((x + dx, y), (x, y), (x, y + dy)), FINE_MM)


def _sheet_edges(mask: Mask) -> Iterator[Shape]:
    """A small triangle at the frame wherever an edge of the sheet passes below it."""
    across = (mask.sheet_x_mm, mask.sheet_x_mm + mask.sheet_width_mm)
    down = (mask.sheet_y_mm, mask.sheet_y_mm + mask.sheet_height_mm)
    for x in across:
        if 1 <= x <= mask.width_mm - 1:
            for y, inwards in ((0.0, 1.2), (mask.height_mm, -1.2)):
                yield Fill((((x - 0.8, y), (x + 0.8, y), (x, y + inwards)),))
    for y in down:
        if 1 <= y <= mask.height_mm - 1:
            for x, inwards in ((0.0, 1.2), (mask.width_mm, -1.2)):
                yield Fill((((x, y - 0.8), (x, y + 0.8), (x + inwards, y)),))


def _places(mask: Mask) -> Iterator[Shape]:
    chart = mask.chart
    for box in (chart.box, *(step.grown(-0.4) for step in mask.greys), *mask.swatches):
        yield Stroke(box.corners_mm, PLACE_MM, dashed=True, closed=True)
    for patch in chart.patches():
        yield from _cross(patch)
    (x, y), inwards = chart.box.corners_mm[1 if chart.turned else 0], -7.0 if chart.turned else 7.0
    yield Fill((((x, y), (x + inwards, y), (x, y + 7.0)),))
    words = chart.box.grown(-8)
    yield from _words(words, "24-patch chart\nits first patch at the black corner", 3.4)
    for number, box in enumerate(mask.greys, start=1):
        end = {1: "\nwhite", len(mask.greys): "\nblack"}.get(number, "")
        yield from _words(box, f"grey {number}{end}", 2.2)
    for box in mask.swatches:
        yield from _words(box, "same paper, untreated, kept dark", 2.4)


def _cross(box: Box) -> Iterator[Shape]:
    x, y = box.centre_mm
    yield Stroke(((x - 0.8, y), (x + 0.8, y)), FINE_MM)
    yield Stroke(((x, y - 0.8), (x, y + 0.8)), FINE_MM)


def _arrow(box: Box) -> Iterator[Shape]:
    x, top = box.centre_mm[0], box.y_mm
    yield Fill(
        (
            (
                (x, top),
                (x + 4, top + 6),
                (x + 1, top + 6),
                (x + 1, top + 9.5),
                (x - 1, top + 9.5),
                (x - 1, top + 6),
                (x - 4, top + 6),
            ),
        )
    )
    yield Text((x, box.bottom_mm - 0.6), "TOP", 3.2, "middle", bold=True)


def _ruler(box: Box) -> Iterator[Shape]:
    left, top = box.x_mm, box.y_mm
    yield Stroke(((left, top), (box.right_mm, top)), PLACE_MM)
    for mm in range(int(box.width_mm) + 1):
        length = 4.0 if mm % 10 == 0 else 2.5 if mm % 5 == 0 else 1.5
        yield Stroke(((left + mm, top), (left + mm, top + length)), PLACE_MM if mm % 10 == 0 else FINE_MM)
        if mm % 10 == 0:
            yield Text((left + mm, top + 7.2), str(mm), 2.8, "middle")
    yield Text((box.right_mm + 3.2, top + 7.2), "mm", 2.8)


def _words_below(mask: Mask) -> Iterator[Shape]:
    frame, title = mask.height_mm, notes.title(mask)
    room_mm = mask.width_mm - 22
    size_mm = min(4.2, 4.2 * room_mm / width_mm(title, 4.2, bold=True))
    yield Text((0, frame + notes.TITLE_MM), title, size_mm, bold=True)
    yield Text((mask.width_mm, frame + notes.TITLE_MM), f"mask {mask.code}", SMALL_MM, "end")
    yield from _legend(frame + notes.LEGEND_MM)
    for index, (number, words) in enumerate(notes.lines(mask)):
        y = frame + notes.FIRST_MM + index * notes.LINE_MM
        if number:
            yield Text((0, y), number, SMALL_MM, bold=True)
        yield Text((notes.INDENT_MM, y), words, SMALL_MM)


def _legend(y: float) -> Iterator[Shape]:
    middle = y - 0.9
    yield Stroke(((0, middle), (8, middle)), CUT_MM)
    yield Text((9.5, y), "cut", SMALL_MM)
    yield Stroke(((19, middle), (27, middle)), PLACE_MM, dashed=True)
    yield Text((28.5, y), "place, do not cut", SMALL_MM)
    yield from (Stroke(((x, y), (x + 2, y - 2)), FINE_MM) for x in (54, 55.5, 57))
    yield Text((60.5, y), "falls away", SMALL_MM)
    yield from _spot(Box.around(79, middle, 2.6))
    yield Text((82.5, y), "white spot, leave bare", SMALL_MM)
    yield Fill((((114, y), (115.6, y), (114.8, y - 1.2)),))
    yield Text((117, y), "edge of the sheet below", SMALL_MM)


def _moved(shape: Shape, dx: float, dy: float) -> Shape:
    match shape:
        case Stroke():
            points = tuple((x + dx, y + dy) for x, y in shape.points)
            return Stroke(points, shape.width_mm, shape.dashed, shape.closed, shape.cut)
        case Fill():
            return Fill(tuple(tuple((x + dx, y + dy) for x, y in area) for area in shape.areas))
        case Text():
            return Text((shape.at[0] + dx, shape.at[1] + dy), shape.text, shape.size_mm, shape.anchor, shape.bold)
