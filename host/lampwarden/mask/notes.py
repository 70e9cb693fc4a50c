"""What to do with the page, in words, printed below the frame. They are cut off with the rest of the paper."""

from collections.abc import Iterator

from .geometry import Mask
from .lettering import wrap

SMALL_MM, LINE_MM = 2.6, 3.7
"""Size of small text, 7.4 points, and the step from line to line."""
TITLE_MM, LEGEND_MM, FIRST_MM = 8.0, 14.0, 20.0
"""From the frame down to the lines of the title, the legend and the first note."""
INDENT_MM = 4.0


def title(mask: Mask) -> str:
    return f"{mask.title}: mask {'for photos' if mask.open_all else 'for the light'}"


def height_mm(mask: Mask) -> float:
    """Room that title, legend and notes take below the frame."""
    return FIRST_MM + LINE_MM * (len(list(lines(mask))) - 1) + 1.0


def lines(mask: Mask) -> Iterator[tuple[str, str]]:
    """The lines, each with its note's number if it is the first of one, else with ''."""
    for number, note in enumerate(_notes(mask), start=1):
        for index, words in enumerate(wrap(note, SMALL_MM, mask.width_mm - INDENT_MM)):
            yield ("" if index else str(number)), words


def _notes(mask: Mask) -> Iterator[str]:
    size = f"{mask.width_mm:.1f} x {mask.height_mm:.1f} mm"
    yield (
        "Print at 100 %, never fitted to the page, in black on matte white card without optical brightener."
        f" Before you cut: the ruler must measure 100 mm, the frame {size}, within 0.5 mm."
    )
    yield "Cut along solid lines. Keep the white matte, flat and clean: no tape, no writing."
    yield (
        "Paper lets light through. Where light must not reach, lay black polyethylene below, its openings 1 mm wider;"
        " cover the rest of the sheet too. Leave it there for photos, so that all white has the same ground."
    )
    x, y = -mask.sheet_x_mm, -mask.sheet_y_mm
    place = f"{abs(x):.1f} mm {'right' if x >= 0 else 'left'} of and {abs(y):.1f} mm {'below' if y >= 0 else 'above'}"
    yield f"The frame's upper left corner lies {place} the sheet's, with TOP at its upper edge."
    ageing = (
        "Use this mask for photos only: its paper ages in the light, too."
        if mask.open_all
        else "The mask's paper ages too: for photos print a second one with all cells open (--open-all)."
    )
    yield f"Lay chart, grey steps and swatches on for photos only and keep them in the dark: light ages them. {ageing}"
