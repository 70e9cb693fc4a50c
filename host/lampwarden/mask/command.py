"""The command `lampwarden mask`: a sheet's file in, a page to print out."""

from pathlib import Path
from typing import Annotated

import typer

from ..errors import LampwardenError, ProgramError


def mask(
    sheet: Annotated[Path, typer.Argument(help="Sheet file (TOML) with its cells.")],
    pdf: Annotated[Path | None, typer.Option(help="Write the mask here as PDF.")] = None,
    svg: Annotated[Path | None, typer.Option(help="Write it as SVG, for a cutter.")] = None,
    paper: Annotated[str, typer.Option(help="a4, letter, a3, a2, or width x height in mm: 320x450.")] = "a4",
    chart: Annotated[str, typer.Option(help="Size of the chart of 24 patches, mm.")] = "108x64",
    open_all: Annotated[
        bool, typer.Option("--open-all", help="Open covered cells too: a second mask, for photos only.")
    ] = False,
) -> None:
    """Draw a sheet's mask in true scale, to print and to cut.

    Without --pdf and --svg it is written as PDF to this folder, under the sheet file's name.
    """
    from ..domain.program_file import parse_as
    from ..domain.sheet import Sheet
    from .layout import lay_out, parse_chart, parse_paper
    from .pdf import to_pdf
    from .svg import to_svg

    try:
        text = sheet.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise ProgramError(f"{sheet}: cannot be read: {error}. Check the name.") from None
    laid = lay_out(parse_as(Sheet, text, sheet.name), parse_paper(paper), parse_chart(chart), open_all)
    if pdf is None and svg is None:
        pdf = Path(f"{sheet.stem}-mask.pdf")
    for path, content in ((pdf, to_pdf(laid) if pdf else b""), (svg, to_svg(laid).encode() if svg else b"")):
        if path is not None:
            _write(path, content)
            typer.echo(f"{path}: mask {laid.code}, {laid.width_mm:g} x {laid.height_mm:g} mm on {laid.paper.name}.")
    closed = [aperture.name for aperture in laid.apertures if not aperture.open]
    typer.echo(
        f"{len(laid.apertures) - len(closed)} openings; closed: {', '.join(closed) or 'none'}."
        " Print at 100 %: the ruler must measure 100 mm."
    )


def _write(path: Path, content: bytes) -> None:
    try:
        path.write_bytes(content)
    except OSError as error:
        raise LampwardenError(f"{path}: cannot be written: {error.strerror}. Choose another name or folder.") from None
