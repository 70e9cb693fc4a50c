"""The mask as SVG in true scale: one user unit is one millimetre. Cut lines are a group of their own, for cutters."""

from html import escape

from .drawing import DASHES_MM, Fill, Shape, Stroke, Text, draw
from .geometry import Mask

_SPACE = "http://www.w3.org/2000/svg"
_FONT = "Helvetica, 'Liberation Sans', Arial, sans-serif"


def to_svg(mask: Mask) -> str:
    """The page as SVG text, the same for the same mask. Set the printer to 100 %."""
    page = draw(mask)
    cut = [shape for shape in page.shapes if isinstance(shape, Stroke) and shape.cut]
    printed = [shape for shape in page.shapes if shape not in cut]
    width, height = _number(page.width_mm), _number(page.height_mm)
    return "\n".join(
        [
            f'<svg xmlns="{_SPACE}" width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}">',
            f"<title>{escape(page.title)}</title>",
            f'<rect width="{width}" height="{height}" fill="white"/>',
            f'<g id="print" fill="none" stroke="black" font-family="{_FONT}">',
            *map(_element, printed),
            "</g>",
            '<g id="cut" fill="none" stroke="black">',
            *map(_element, cut),
            "</g>",
            "</svg>",
            "",
        ]
    )


def _element(shape: Shape) -> str:
    match shape:
        case Stroke():
            dashes = f' stroke-dasharray="{" ".join(map(_number, DASHES_MM))}"' if shape.dashed else ""
            path = _path(shape.points, shape.closed)
            return f'<path d="{path}" stroke-width="{_number(shape.width_mm)}"{dashes}/>'
        case Fill():
            return f'<path d="{" ".join(_path(area, True) for area in shape.areas)}" fill="black" stroke="none"/>'
        case Text():
            x, y = map(_number, shape.at)
            anchor = "" if shape.anchor == "start" else f' text-anchor="{shape.anchor}"'
            weight = ' font-weight="bold"' if shape.bold else ""
            return (
                f'<text x="{x}" y="{y}" font-size="{_number(shape.size_mm)}"{anchor}{weight} fill="black"'
                f' stroke="none">{escape(shape.text)}</text>'
            )


def _path(points: tuple[tuple[float, float], ...], closed: bool) -> str:
    return "M" + " L".join(f"{_number(x)} {_number(y)}" for x, y in points) + (" Z" if closed else "")


def _number(value: float) -> str:
    """Micrometres are enough."""
    return f"{value:.3f}".rstrip("0").rstrip(".")
