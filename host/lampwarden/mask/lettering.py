"""How much room text takes."""

ASCENT, DESCENT = 0.75, 0.22
"""Height of letters above and below the line, in sizes, for the usual sans-serif fonts."""
FONTS = {False: "Helvetica", True: "Helvetica-Bold"}
"""By `bold`. The PDF's fonts; the SVG asks for fonts cut to the same widths."""
_SLACK = 1.03


def width_mm(text: str, size_mm: float, bold: bool = False) -> float:
    """Width of text, with a little slack; signs that the font lacks count as square."""
    from reportlab.pdfbase.pdfmetrics import stringWidth  # 5 MB with what it loads: only where a mask is laid out

    plain = text.encode("cp1252", "ignore").decode("cp1252")
    return float(_SLACK * (stringWidth(plain, FONTS[bold], size_mm) + size_mm * (len(text) - len(plain))))


def wrap(text: str, size_mm: float, room_mm: float) -> list[str]:
    """The text in lines that fit, broken at plain spaces; a word longer than a line stays whole."""
    lines: list[str] = []
    for word in text.split(" "):
        if lines and width_mm(f"{lines[-1]} {word}", size_mm) <= room_mm:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines
