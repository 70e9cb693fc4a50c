"""From a sheet to its mask: what goes where, or a sentence why not.

Frame, from the top: a band with two markers, the cells, the places for chart, grey steps and swatches (below the cells
or to their right), a band with two markers and the ruler. White spots stand in the bands, at the sides, between cells
and chart, and between cells where there is room.

A mask that does not fit the paper is refused, not split: a glued seam would shift markers and openings against each
other by more than a photo is read to, throw a shadow and let light through. A copy shop prints any size in one piece.
"""

from collections.abc import Iterator

from ..domain.sheet import Cell, Sheet
from ..errors import ProgramError
from . import geometry as g
from . import notes
from .geometry import Box, Chart, Mask, Paper
from .lettering import ASCENT, DESCENT, width_mm

PAPERS = {
    "a4": Paper(name="a4", width_mm=210, height_mm=297),
    "letter": Paper(name="letter", width_mm=215.9, height_mm=279.4),
    "a3": Paper(name="a3", width_mm=297, height_mm=420),
    "a2": Paper(name="a2", width_mm=420, height_mm=594),
}
"""Sizes by ISO 216 and ANSI Y14.1, the smallest first."""
PRINT_MARGIN_MM = 6.0
"""What office printers leave blank at the edges is mostly 4 to 5 mm (common practice, from memory)."""
CHART_MM = (108.0, 64.0)
"""The small common size of charts with 24 patches (from memory); `--chart` gives another."""

BAND_MM = g.QUIET_MM + g.MARKER_MM + g.QUIET_MM
NAME_MM = 3.6
"""Size of the letters of a cell's name, 10 points."""
_NAME_IN_MM, _NAME_UP_MM, _NAME_OVER_MM = 0.8, 1.8, 2.0
"""A name begins this far inside its cell's left edge, its line runs this far above, and it may pass the right edge."""
SIDE_MM = 3.0 + g.SPOT_MM + g.CLEAR_MM + _NAME_OVER_MM
"""From the frame's side to the nearest cell: 3 mm to the edge, a white spot, what keeps clear of it, a long name."""
ABOVE_MM = g.BRIDGE_MIN_MM
"""From the upper band to the first cells: room for their names."""
GAP_MM = _NAME_OVER_MM + g.CLEAR_MM + g.SPOT_MM + g.CLEAR_MM + _NAME_OVER_MM
"""From the cells to chart, grey steps and swatches, with white spots between."""
PLACE_GAP_MM = 6.0
GREY_MM = (14.0, 11.0)
SWATCH_MM, SWATCHES, SWATCH_GAP_MM = 20.0, 3, 3.0
RULER_BOX_MM = 8.0
WIDTH_MIN_MM = g.RULER_MM + 2 * BAND_MM + 2 * g.CLEAR_MM + 8.0
"""The ruler with its end figures between the lower markers."""


def parse_paper(text: str) -> Paper:
    """Paper by name or as 'WIDTHxHEIGHT' in mm. Raises ProgramError with what is possible."""
    if text.lower() in PAPERS:
        return PAPERS[text.lower()]
    width, height = _size(text, f"paper '{text}'", f"Say one of {', '.join(PAPERS)}, or width x height in mm: 320x450")
    if not (100 <= width <= 2000 and 100 <= height <= 2000):
        raise ProgramError(f"The paper '{text}' is out of range: each side may be 100 to 2000 mm.")
    return Paper(name=f"{width:g} x {height:g} mm", width_mm=width, height_mm=height)


def parse_chart(text: str) -> tuple[float, float]:
    """Size of the 24-patch chart as 'WIDTHxHEIGHT', mm, six patches across. Raises ProgramError."""
    width, height = _size(text, f"chart '{text}'", "Say width x height in mm, six patches across: 108x64")
    if not (24 <= height <= width <= 400):
        raise ProgramError(
            f"The chart '{text}' is out of range: 24 to 400 mm, and not higher than wide (six patches across)."
        )
    return width, height


def lay_out(
    sheet: Sheet, paper: Paper = PAPERS["a4"], chart_mm: tuple[float, float] = CHART_MM, open_all: bool = False
) -> Mask:
    """The sheet's mask, on the paper upright or lying.

    `open_all`: covered cells are open too. Raises ProgramError with a sentence for each cell that cannot be cut, or if
    the paper is too small.
    """
    wrong = list(_cannot_be_cut(sheet, open_all))
    if wrong:
        raise ProgramError("\n".join(wrong))
    frames = [_frame(sheet, chart_mm, open_all, beside) for beside in (False, True)]
    for frame in frames:
        for page in (paper, paper.turned):
            if _needs(frame)[0] <= page.width_mm and _needs(frame)[1] <= page.height_mm:
                x_mm = (page.width_mm - frame.width_mm) / 2
                return frame.model_copy(update={"paper": page, "page_x_mm": x_mm, "page_y_mm": PRINT_MARGIN_MM})
    raise ProgramError(_too_small(sheet, paper, [_needs(frame) for frame in frames]))


def _size(text: str, what: str, remedy: str) -> tuple[float, float]:
    try:
        width, height = (float(part) for part in text.lower().removesuffix("mm").split("x"))
    except ValueError:
        raise ProgramError(f"The {what} is not understood. {remedy}.") from None
    return width, height


def _cannot_be_cut(sheet: Sheet, open_all: bool) -> Iterator[str]:
    if not sheet.cells:
        yield f"The sheet '{sheet.title}' has no cells; a mask needs at least one."
    elif not open_all and all(cell.treatment.covered for cell in sheet.cells):
        yield f"All cells of the sheet '{sheet.title}' are covered; nothing is left to open. Use --open-all for photos."
    least = g.CELL_MIN_MM
    for cell in sheet.cells:
        if min(cell.width_mm, cell.height_mm) < least - 1e-6:
            yield (
                f"Cell '{cell.name}' is {cell.width_mm:g} x {cell.height_mm:g} mm; an opening needs {least:g} x"
                f" {least:g} mm, or too little is left to measure. Make it larger."
            )
    for index, first in enumerate(sheet.cells):
        for second in sheet.cells[index + 1 :]:
            gap_mm = _box(first).gap_mm(_box(second))
            if gap_mm < g.BRIDGE_MIN_MM - 1e-6:
                yield (
                    f"Cells '{first.name}' and '{second.name}' are {gap_mm:g} mm apart; the mask needs"
                    f" {g.BRIDGE_MIN_MM:g} mm between openings to hold together and to print the names. Move one."
                )


def _too_small(sheet: Sheet, paper: Paper, needs: list[tuple[float, float]]) -> str:
    def fits(size: Paper) -> bool:
        sides = sorted((size.width_mm, size.height_mm))
        return any(short <= sides[0] and long <= sides[1] for short, long in map(sorted, needs))

    width, height = (-(-side // 1) for side in min(needs, key=lambda need: need[0] * need[1]))
    larger = next((f"--paper {name}" for name, size in PAPERS.items() if fits(size)), None)
    remedy = f"Use {larger}, or" if larger else "Use"
    return (
        f"The mask of '{sheet.title}' with its chart, margins and notes needs {width:g} x {height:g} mm;"
        f" the paper {paper.name} has {paper.width_mm:g} x {paper.height_mm:g} mm. {remedy} --paper"
        f" {width:g}x{height:g} at a copy shop, or a smaller --chart. A mask is not split: glued pieces would shift."
    )


def _needs(frame: Mask) -> tuple[float, float]:
    """Width and height of the smallest paper for a frame, mm."""
    return frame.width_mm + 2 * PRINT_MARGIN_MM, frame.height_mm + notes.height_mm(frame) + 2 * PRINT_MARGIN_MM


def _box(cell: Cell) -> Box:
    return Box(x_mm=cell.x_mm, y_mm=cell.y_mm, width_mm=cell.width_mm, height_mm=cell.height_mm)


def _frame(sheet: Sheet, chart_mm: tuple[float, float], open_all: bool, beside: bool) -> Mask:
    """The mask without its place on a page. `beside`: the places stand to the right of the cells, not below."""
    cells = [_box(cell) for cell in sheet.cells]
    left, top = min(c.x_mm for c in cells), min(c.y_mm for c in cells)
    field_w, field_h = max(c.right_mm for c in cells) - left, max(c.bottom_mm for c in cells) - top
    chart, greys, swatches, strip_w, strip_h = _places(chart_mm)
    if beside:
        chart, *rest = [box.turned(strip_h) for box in (chart, *greys, *swatches)]
        greys, swatches = rest[: g.GREY_STEPS], rest[g.GREY_STEPS :]
        strip_w, strip_h = strip_h, strip_w
        width = max(field_w + GAP_MM + strip_w + 2 * SIDE_MM, WIDTH_MIN_MM)
        field_room = (width - 2 * SIDE_MM - GAP_MM - strip_w, max(ABOVE_MM + field_h, strip_h) - ABOVE_MM)
        height = 2 * BAND_MM + ABOVE_MM + field_room[1]
        strip_x, strip_y = width - SIDE_MM - strip_w, BAND_MM
    else:
        width = max(field_w, strip_w, WIDTH_MIN_MM - 2 * SIDE_MM) + 2 * SIDE_MM
        field_room = (width - 2 * SIDE_MM, field_h)
        height = 2 * BAND_MM + ABOVE_MM + field_h + GAP_MM + strip_h
        strip_x, strip_y = (width - strip_w) / 2, height - BAND_MM - strip_h
    field_x = SIDE_MM + (field_room[0] - field_w) / 2
    field_y = BAND_MM + ABOVE_MM + (field_room[1] - field_h) / 2

    apertures = tuple(
        g.Aperture(
            name=cell.name,
            box=(box := _box(cell).moved(field_x - left, field_y - top)),
            open=open_all or not cell.treatment.covered,
            treatment=cell.treatment.label.replace(" %", "\u00a0%"),
            label=_label(cell.name, box),
        )
        for cell in sheet.cells
    )
    near, far_x, far_y = g.QUIET_MM, width - g.QUIET_MM - g.MARKER_MM, height - g.QUIET_MM - g.MARKER_MM
    corners = ((near, near), (far_x, near), (far_x, far_y), (near, far_y))
    frame = Mask(
        sheet=sheet.id,
        title=sheet.title,
        open_all=open_all,
        width_mm=width,
        height_mm=height,
        sheet_x_mm=field_x - left,
        sheet_y_mm=field_y - top,
        sheet_width_mm=sheet.width_mm,
        sheet_height_mm=sheet.height_mm,
        markers=tuple(
            g.Marker(id=number, box=Box(x_mm=x, y_mm=y, width_mm=g.MARKER_MM, height_mm=g.MARKER_MM))
            for number, (x, y) in zip(g.MARKER_IDS, corners, strict=True)
        ),
        apertures=apertures,
        white=(),
        chart=Chart(box=chart.moved(strip_x, strip_y), turned=beside),
        greys=tuple(box.moved(strip_x, strip_y) for box in greys),
        swatches=tuple(box.moved(strip_x, strip_y) for box in swatches),
        ruler=Box(
            x_mm=(width - g.RULER_MM) / 2, y_mm=height - BAND_MM + 3, width_mm=g.RULER_MM, height_mm=RULER_BOX_MM
        ),
        arrow=Box.around(width / 2, BAND_MM / 2, 10.0, 14.0),
        paper=PAPERS["a4"],
        page_x_mm=0.0,
        page_y_mm=0.0,
    )
    gap = (
        Box(x_mm=strip_x - GAP_MM, y_mm=BAND_MM, width_mm=GAP_MM, height_mm=height - 2 * BAND_MM)
        if beside
        else Box(x_mm=SIDE_MM, y_mm=strip_y - GAP_MM, width_mm=width - 2 * SIDE_MM, height_mm=GAP_MM)
    )
    return frame.model_copy(update={"white": _white(frame, gap)})


def _places(chart_mm: tuple[float, float]) -> tuple[Box, list[Box], list[Box], float, float]:
    """Chart, grey steps and swatches in a row with its corner at 0, 0; and the row's width and height, mm."""
    height = max(chart_mm[1], g.GREY_STEPS * GREY_MM[1], SWATCHES * (SWATCH_MM + SWATCH_GAP_MM) - SWATCH_GAP_MM)
    chart = Box(x_mm=0, y_mm=(height - chart_mm[1]) / 2, width_mm=chart_mm[0], height_mm=chart_mm[1])
    grey_x = chart.right_mm + PLACE_GAP_MM
    grey_y = (height - g.GREY_STEPS * GREY_MM[1]) / 2
    greys = [
        Box(x_mm=grey_x, y_mm=grey_y + step * GREY_MM[1], width_mm=GREY_MM[0], height_mm=GREY_MM[1])
        for step in range(g.GREY_STEPS)
    ]
    swatch_x = grey_x + GREY_MM[0] + PLACE_GAP_MM
    step_mm = SWATCH_MM + SWATCH_GAP_MM
    swatch_y = (height - SWATCHES * step_mm + SWATCH_GAP_MM) / 2
    swatches = [
        Box(x_mm=swatch_x, y_mm=swatch_y + index * step_mm, width_mm=SWATCH_MM, height_mm=SWATCH_MM)
        for index in range(SWATCHES)
    ]
    return chart, greys, swatches, swatch_x + SWATCH_MM, height


def _label(name: str, cell: Box) -> Box:
    """Where the name stands above its cell; smaller letters if it is long."""
    room_mm = cell.width_mm - _NAME_IN_MM + _NAME_OVER_MM
    size_mm = min(NAME_MM, NAME_MM * room_mm / width_mm(name, NAME_MM, bold=True))
    return Box(
        x_mm=cell.x_mm + _NAME_IN_MM,
        y_mm=cell.y_mm - _NAME_UP_MM - ASCENT * size_mm,
        width_mm=width_mm(name, size_mm, bold=True),
        height_mm=(ASCENT + DESCENT) * size_mm,
    )


def _white(mask: Mask, gap: Box) -> tuple[Box, ...]:
    """White spots: all around the frame, in the gap, then between cells wherever one keeps clear of everything."""
    across, down = mask.width_mm - 2 * BAND_MM, mask.height_mm - 2 * BAND_MM
    pairs, rows = max(2, round(across / 80)), max(2, round(down / 40))
    xs = [BAND_MM + across * (i + 0.5) / (2 * pairs) for i in range(2 * pairs)]  # even: the arrow has the middle
    ys = [BAND_MM + down * (i + 0.5) / rows for i in range(rows)]
    edge = 3 + g.SPOT_MM / 2
    border = [(x, BAND_MM / 2) for x in xs] + [(x, mask.height_mm - edge) for x in xs]
    border += [(x, y) for x in (edge, mask.width_mm - edge) for y in ys]
    long = max(gap.width_mm, gap.height_mm)
    count = max(3, round(long / 50))
    for i in range(count):
        share = (i + 0.5) / count
        x, y = gap.centre_mm
        border.append(
            (gap.x_mm + gap.width_mm * share, y) if gap.width_mm >= gap.height_mm else (x, gap.y_mm + long * share)
        )
    white = [Box.around(x, y, g.SPOT_MM) for x, y in border]
    taken = [
        *(box for aperture in mask.apertures for box in (aperture.box, aperture.label)),
        *(marker.box.grown(g.QUIET_MM - g.CLEAR_MM) for marker in mask.markers),
        *(mask.chart.box, *mask.greys, *mask.swatches, mask.ruler, mask.arrow),
    ]
    for x, y in _between([aperture.box for aperture in mask.apertures]):
        spot = Box.around(x, y, g.SPOT_MM)
        if all(spot.gap_mm(box) >= g.CLEAR_MM for box in taken) and all(
            spot.gap_mm(other) >= g.SPOT_MM for other in white
        ):
            white.append(spot)
    return tuple(white)


def _between(cells: list[Box]) -> Iterator[tuple[float, float]]:
    """The middle between each two cells, in each direction: of the gap, or of what they share."""

    def middle(a: float, b: float, c: float, d: float) -> float:
        inner = sorted((a, b, c, d))
        return (inner[1] + inner[2]) / 2

    for index, one in enumerate(cells):
        for two in cells[index + 1 :]:
            yield (
                middle(one.x_mm, one.right_mm, two.x_mm, two.right_mm),
                middle(one.y_mm, one.bottom_mm, two.y_mm, two.bottom_mm),
            )
