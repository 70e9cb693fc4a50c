"""The command `lampwarden measure`: photos and a sheet's file in, colours out. It needs no daemon."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ..errors import LampwardenError, ProgramError

if TYPE_CHECKING:
    from .found import Measured

EXIT_REFUSED = 3
"""Exit code when nothing could be read from the photos."""


def measure(
    photos: Annotated[list[Path], typer.Argument(help="Photos of one moment: one, or a bracket of exposures.")],
    sheet: Annotated[Path, typer.Option("--sheet", help="Sheet file (TOML) with its cells.")],
    paper: Annotated[str, typer.Option(help="Paper of the mask, as `lampwarden mask` was given it.")] = "a4",
    chart_size: Annotated[str, typer.Option(help="Size of the chart of 24 patches, mm, likewise.")] = "108x64",
    light_mask: Annotated[
        bool, typer.Option("--light-mask", help="The mask for the light lies on it, with covered cells closed.")
    ] = False,
    fixed: Annotated[
        bool, typer.Option("--fixed", help="Camera and lamp stay in their places from photo to photo.")
    ] = False,
    chart: Annotated[
        Path | None, typer.Option(help="Your chart's values (CSV: patch, L, a, b). Default: the published ones.")
    ] = None,
    before: Annotated[Path | None, typer.Option(help="Earlier reading (as --json printed it) to compare with.")] = None,
    drawn: Annotated[Path | None, typer.Option(help="Folder for the photos with what was read drawn on them.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")] = False,
) -> None:
    """Read the colours of a sheet's cells from photos of it under its mask.

    Exit code 0: read; 3: nothing could be read, and it says why; 2: a file is wrong.
    """
    from pydantic import ValidationError

    from ..domain.program_file import parse_as
    from ..domain.reading import Way
    from ..domain.sheet import Sheet
    from ..mask.layout import lay_out, parse_chart, parse_paper
    from . import annotated, measure_photos
    from .chart import parse_chart_csv
    from .found import Measured

    described = parse_as(Sheet, _read(sheet).decode("utf-8", "replace"), sheet.name)
    mask = lay_out(described, parse_paper(paper), parse_chart(chart_size), open_all=not light_mask)
    values = parse_chart_csv(_read(chart).decode("utf-8", "replace"), chart.name) if chart else None
    earlier = None
    if before is not None:
        try:
            earlier = Measured.model_validate_json(_read(before))
        except ValidationError as error:
            raise ProgramError(f"{before}: is no reading: {error.errors()[0]['msg']}. Make it with --json.") from None
    data = [_read(photo) for photo in photos]
    way = Way.FIXED if fixed else Way.PHONE
    measured = measure_photos(data, mask, way, values, earlier.reading if earlier else None)
    if drawn is not None:
        for photo, content, found in zip(photos, data, measured.photos, strict=True):
            if found.mm_to_px is not None:
                _write(drawn / f"{photo.stem}-read.jpg", annotated(content, measured, mask))
    typer.echo(
        json.dumps(measured.model_dump(mode="json"), indent=2, ensure_ascii=False)
        if as_json
        else "\n".join(_in_words(photos, measured, earlier))
    )
    if measured.reading.refused:
        raise typer.Exit(EXIT_REFUSED)


def _in_words(photos: list[Path], measured: "Measured", earlier: "Measured | None") -> list[str]:
    from ..colour.difference import de00
    from .trust import REAL_CAMERA_DE00

    reading = measured.reading
    lines = []
    for photo, found in zip(photos, measured.photos, strict=True):
        about = [f"{found.width_px} x {found.height_px} {found.format}"] if found.width_px else []
        about += [found.taken] if found.taken else []
        about += [f"markers {len(found.markers)} of 4, chart within {found.fit_de00:.1f}"] if found.fit_de00 else []
        lines.append(f"{photo.name}: {', '.join(about)}")
        lines += [f"  refused: {found.refused}"] if found.refused else []
    if reading.refused:
        return lines
    changed = earlier.reading if earlier else None
    lines += [
        "",
        f"{'Cell':<8}{'L*':>8}{'a*':>8}{'b*':>8}{'u':>6}{'R457 %':>9}" + (f"{'change':>9}" if changed else ""),
    ]
    for colour in (*reading.cells, *reading.swatches):
        row = f"{colour.cell:<8}{colour.lab_d50[0]:>8.2f}{colour.lab_d50[1]:>8.2f}{colour.lab_d50[2]:>8.2f}"
        row += f"{colour.u_abs_de00:>6.1f}" + ("-" if colour.r457_pct is None else f"{colour.r457_pct:.1f}").rjust(9)
        old = changed.cell(colour.cell) if changed else None
        lines.append(row + (f"{float(de00(old.lab_d50, colour.lab_d50)):>9.2f}" if old else ""))
        lines += [f"  {'note' if colour.usable else 'not usable'}: {mark}" for mark in colour.marks]
    lines += ["", "L*, a*, b* under D50; u: standard uncertainty of the colour, CIEDE2000; R457 is an estimate."]
    lines.append(
        f"Way: {reading.way.value}. A change of {reading.detection_limit_de00:.2f} CIEDE2000 or more can be told on"
        f" rendered photos; trust nothing below {REAL_CAMERA_DE00:g} before your own camera was tried."
    )
    return lines + [f"Note: {warning}" for warning in reading.warnings]


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise ProgramError(f"{path}: cannot be read: {error.strerror}. Check the name.") from None


def _write(path: Path, content: bytes) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    except OSError as error:
        raise LampwardenError(f"{path}: cannot be written: {error.strerror}. Choose another folder.") from None
