"""The mask as PDF in true scale, with the standard sans-serif font every reader has.

Import this module late: the library behind it adds to the daemon's size.
"""

from io import BytesIO
from unicodedata import normalize

from reportlab.pdfgen.canvas import Canvas

from .drawing import DASHES_MM, Fill, Stroke, Text, draw
from .geometry import Mask
from .lettering import FONTS

_POINTS = 72 / 25.4
"""Points in a millimetre."""


def to_pdf(mask: Mask) -> bytes:
    """The page as PDF, the same bytes for the same mask. Readers are told to print it at 100 %."""
    page, file = draw(mask), BytesIO()
    canvas = Canvas(file, pagesize=(page.width_mm * _POINTS, page.height_mm * _POINTS), invariant=1)
    canvas.setTitle(page.title)
    canvas.setAuthor("")
    canvas.setCreator("Lampwarden")
    canvas.setProducer("Lampwarden")
    canvas.setViewerPreference("PrintScaling", "None")
    canvas.translate(0, page.height_mm * _POINTS)
    canvas.scale(_POINTS, -_POINTS)  # from here on in mm, y down
    for shape in page.shapes:
        match shape:
            case Stroke() | Fill():
                path = canvas.beginPath()
                areas, closed = ((shape.points,), shape.closed) if isinstance(shape, Stroke) else (shape.areas, True)
                for points in areas:
                    path.moveTo(*points[0])
                    for point in points[1:]:
                        path.lineTo(*point)
                    if closed:
                        path.close()
                if isinstance(shape, Stroke):
                    canvas.setLineWidth(shape.width_mm)
                    canvas.setDash(*DASHES_MM) if shape.dashed else canvas.setDash()
                canvas.drawPath(path, stroke=isinstance(shape, Stroke), fill=isinstance(shape, Fill))
            case Text():
                canvas.saveState()
                canvas.translate(*shape.at)
                canvas.scale(1, -1)
                canvas.setFont(FONTS[shape.bold], shape.size_mm)
                match shape.anchor:
                    case "start":
                        canvas.drawString(0, 0, _plain(shape.text))
                    case "middle":
                        canvas.drawCentredString(0, 0, _plain(shape.text))
                    case "end":
                        canvas.drawRightString(0, 0, _plain(shape.text))
                canvas.restoreState()
    canvas.save()
    return file.getvalue()


def _plain(text: str) -> str:
    """The text with the signs that the standard fonts have: accents go if need be, other scripts become '?'."""
    return "".join(_sign(sign) for sign in text)


def _sign(sign: str) -> str:
    for form in (sign, normalize("NFKD", sign)[0]):
        if form.encode("cp1252", "ignore"):
            return form
    return "?"
