"""A document as PDF, A4, with the fonts every reader has. Import this module late: the library behind it is large."""

from html import escape
from io import BytesIO
from typing import Any

from reportlab.lib import colors
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.platypus.doctemplate import SimpleDocTemplate
from reportlab.platypus.flowables import Image, Spacer
from reportlab.platypus.paragraph import Paragraph
from reportlab.platypus.tables import Table as PdfTable

from .html import Fetch
from .telling import Block, Document, Para, Picture, Table

MARGIN = 18 * mm
WIDTH = A4[0] - 2 * MARGIN
PICTURE_HEIGHT_MAX = 110 * mm

_BODY = ParagraphStyle("body", fontName="Times-Roman", fontSize=10, leading=13, spaceAfter=3)
_STRONG = ParagraphStyle("strong", parent=_BODY, fontName="Times-Bold")
_CELL = ParagraphStyle("cell", parent=_BODY, fontSize=8, leading=10, spaceAfter=0)
_TITLE = ParagraphStyle("title", parent=_BODY, fontName="Times-Bold", fontSize=18, leading=22, spaceAfter=4)
_HEAD = ParagraphStyle(
    "head", parent=_BODY, fontName="Times-Bold", fontSize=12, leading=15, spaceBefore=10, spaceAfter=4, keepWithNext=1
)
_LETTERS = {"Δ": "Delta-", "≤": "<=", "≥": ">=", "−": "-", "–": "-", "“": '"', "”": '"', "’": "'", "…": "..."}
"""What the standard fonts do not have, and what stands for it."""


def to_pdf(document: Document, fetch: Fetch) -> bytes:
    """The document; the same bytes for the same document."""
    out = BytesIO()
    template = SimpleDocTemplate(
        out, pagesize=A4, leftMargin=MARGIN, rightMargin=MARGIN, topMargin=MARGIN, bottomMargin=MARGIN, invariant=1,
        title=document.title, author="", creator="Lampwarden", producer="Lampwarden",
    )  # fmt: skip
    story: list[Any] = [Paragraph(_text(document.title), _TITLE), Paragraph(_text(document.about), _BODY)]
    for section in document.sections:
        story.append(Paragraph(_text(section.title), _HEAD))
        for block in section.blocks:
            story += _block(block, fetch)
    template.build(story, onFirstPage=_foot, onLaterPages=_foot)
    return out.getvalue()


def _foot(canvas: Any, _template: Any) -> None:
    canvas.setFont("Times-Roman", 8)
    canvas.drawRightString(A4[0] - MARGIN, 10 * mm, str(canvas.getPageNumber()))


def _block(block: Block, fetch: Fetch) -> list[Any]:
    match block:
        case Para():
            return [Paragraph(_text(block.text), _STRONG if block.strong else _BODY)]
        case Table():
            return [_table(block), Spacer(0, 4)]
        case Picture():
            data = fetch(block.hash)
            if data is None:
                return [Paragraph(_text(f"{block.caption} The picture is not here: {block.hash}."), _BODY)]
            across, down = ImageReader(BytesIO(data)).getSize()
            scale = min(WIDTH / across, PICTURE_HEIGHT_MAX / down)
            picture = Image(BytesIO(data), across * scale, down * scale)
            return [picture, Paragraph(_text(block.caption), _CELL), Spacer(0, 6)]


def _table(table: Table) -> PdfTable:
    rows = [[Paragraph(f"<b>{_text(title)}</b>", _CELL) for title in table.head]] if any(table.head) else []
    rows += [[Paragraph(_text(text), _CELL) for text in row] for row in table.rows]
    longest = [max(len(row[i]) for row in (table.head, *table.rows)) for i in range(len(table.head))]
    shares = [min(max(length, 5), 60) ** 0.7 for length in longest]
    widths = [WIDTH * share / sum(shares) for share in shares]
    made = PdfTable(rows, colWidths=widths, repeatRows=1 if any(table.head) else 0, hAlign="LEFT")
    made.setStyle(
        [
            ("LINEBELOW", (0, 0), (-1, -1), 0.25, colors.grey),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ]
    )
    return made


def _text(text: str) -> str:
    """Text as the library's little markup, in the letters the standard fonts have."""
    for letter, stands in _LETTERS.items():
        text = text.replace(letter, stands)
    return escape(text.encode("cp1252", "replace").decode("cp1252"), quote=False)
