"""What is printed, as coverage 0..255: the card, from the mask's own drawing, and the sheet, an invented timetable."""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from ...domain.sheet import Sheet
from ...mask.drawing import Fill, Stroke, Text, draw
from ...mask.geometry import Box, Mask

Coverage = NDArray[np.uint8]
"""Shape (rows, columns); 255 is all ink."""

FINE_PX_MM = 16
"""Things are drawn at this resolution or finer, then averaged down: thin lines become grey, not thick."""


_HARBOURS = (
    "Saltpan Quay", "Nether Mole", "Gull Stairs", "Oxbow Pier", "Lantern Row", "Tarhouse", "East Basin", "Reedholm",
)  # fmt: skip
"""Invented places."""


class _Board:
    """A grey picture to draw coverage on, in mm."""

    def __init__(self, width_mm: float, height_mm: float, px_mm: int) -> None:
        self._px_mm = px_mm
        self._times = max(1, -(-FINE_PX_MM // px_mm))
        self._scale = px_mm * self._times
        self._size = round(width_mm * px_mm), round(height_mm * px_mm)
        self._image = Image.new("L", (self._size[0] * self._times, self._size[1] * self._times), 0)
        self._draw = ImageDraw.Draw(self._image)

    def area(self, points: tuple[tuple[float, float], ...], depth: int = 255) -> None:
        # Pillow colours the pixels on the last row and column, too.
        xs, ys = [round(x * self._scale) for x, _ in points], [round(y * self._scale) for _, y in points]
        if len(points) == 4 and len(set(xs)) == len(set(ys)) == 2:
            self._draw.rectangle((min(xs), min(ys), max(xs) - 1, max(ys) - 1), fill=depth)
        else:
            self._draw.polygon(list(zip(xs, ys, strict=True)), fill=depth)

    def line(self, points: tuple[tuple[float, float], ...], width_mm: float, depth: int = 255) -> None:
        self._draw.line(
            [(x * self._scale, y * self._scale) for x, y in points],
            fill=depth,
            width=max(1, round(width_mm * self._scale)),
        )

    def text(self, at: tuple[float, float], text: str, size_mm: float, anchor: str = "ls", bold: bool = False) -> None:
        self._draw.text(
            (at[0] * self._scale, at[1] * self._scale),
            text,
            fill=255,
            font=_font(round(size_mm * self._scale)),
            anchor=anchor,
            stroke_width=size_mm * self._scale / 28 if bold else 0,
        )

    def coverage(self) -> Coverage:
        image = self._image if self._times == 1 else self._image.reduce(self._times)
        found = np.asarray(image)
        found.flags.writeable = False
        return found


@lru_cache(maxsize=32)
def _font(size_px: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    return ImageFont.load_default(size_px)


@lru_cache(maxsize=4)
def card(mask: Mask, px_mm: int) -> Coverage:
    """Black on the card, within its frame."""
    board = _Board(mask.width_mm, mask.height_mm, px_mm)

    def place(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        return tuple((x - mask.page_x_mm, y - mask.page_y_mm) for x, y in points)

    for shape in draw(mask).shapes:
        match shape:
            case Fill():
                for area in shape.areas:
                    board.area(place(area))
            case Stroke():
                points = place(shape.points)
                board.line((*points, points[0]) if shape.closed else points, shape.width_mm)
            case Text():
                anchor = {"start": "ls", "middle": "ms", "end": "rs"}[shape.anchor]
                board.text(place((shape.at,))[0], shape.text, shape.size_mm, anchor, shape.bold)
    return board.coverage()


@lru_cache(maxsize=4)
def sheet(sheet: Sheet, seed: int, px_mm: int) -> dict[str, Coverage]:
    """Each of the sheet's inks on it. The seed draws the words and times.

    An ink watch cell that names an ink is full of that ink.
    """
    chance = np.random.default_rng([seed, 24])
    boards = {ink.name: _Board(sheet.width_mm, sheet.height_mm, px_mm) for ink in sheet.inks}
    if not boards:
        return {}
    names = list(boards)
    black, second, third = (boards[names[min(index, len(names) - 1)]] for index in range(3))
    width, height = sheet.width_mm, sheet.height_mm
    black.text((width / 2, 14), sheet.title, 6.5, "ms", bold=True)
    second.line(((8, 18), (width - 8, 18)), 1.2)
    third.line(((8, 20), (width - 8, 20)), 0.5)
    row_mm, column_mm = 5.2, 15.0
    for row, y in enumerate(np.arange(28.0, height - 6, row_mm)):
        if row % 6 == 0:
            board = third if row % 12 else second
            board.line(((8, y + 1.4), (width - 8, y + 1.4)), 0.6)
        black.text((9, y), _HARBOURS[int(chance.integers(len(_HARBOURS)))], 2.3)
        minute = int(chance.integers(5 * 60, 8 * 60))
        for x in np.arange(40.0, width - 12, column_mm):
            minute += int(chance.integers(12, 95))
            if chance.random() < 0.75:
                black.text((x, y), f"{minute // 60 % 24}.{minute % 60:02d}", 2.3)
    for cell in sheet.cells:
        if cell.role == "ink watch" and cell.ink in boards:
            field = Box(x_mm=cell.x_mm, y_mm=cell.y_mm, width_mm=cell.width_mm, height_mm=cell.height_mm).grown(2.0)
            for name, board in boards.items():
                board.area(field.corners_mm, 255 if name == cell.ink else 0)
    return {name: board.coverage() for name, board in boards.items()}
