"""Files of colorimeters and spectrophotometers: colours of cells from text.

Two kinds are read: a CSV with a head (cell, L, a, b and, if known, u), and the keyword text of CGATS.17, which is also
that of ISO 28178 (keywords from memory). Either gives CIELAB under D50 for the 2 degree observer, or reflectance by
wavelength, from which CIELAB is computed here (spectra under D50 and D65, ISO brightness if they begin at 400 nm).
"""

import csv
import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ..colour.paper import iso_brightness_pct, r457_from_xyz_d50
from ..colour.spaces import Array, to_lab, to_xyz
from ..colour.spectra import xyz_of_reflectance
from ..domain.reading import CellColour, Lab, Reading, Way
from ..errors import ProgramError

ROWS_MAX = 2000
LETTERS_MAX = 2_000_000
REPEAT_DE00 = 0.3
"""How far readings of one place scatter if nobody says, ΔE: common practice for a hand-held instrument, no source."""
NAMES = ("sample_name", "sample_id", "cell", "name", "sample", "id")
"""Columns that may name the cell; the one that knows most cells is taken."""
LABS = (("lab_l", "l*", "l"), ("lab_a", "a*", "a"), ("lab_b", "b*", "b"))
SCATTERS = ("u", "u_de", "u_de00")
"""A row's own standard uncertainty as a distance, ΔE; it takes the place of the repeatability."""
RANGES = ((0.0, 110.0), (-150.0, 150.0), (-150.0, 150.0))
BAND = re.compile(r"(?:spectral_?|spec_?|r_?)?(?P<scale>pct|dec|nm)?_?(?P<nm>[3-9]\d\d)(?:\.0+)?(?:_?nm)?")
"""Names such as SPECTRAL_NM400, SPECTRAL_PCT_400, SPECTRAL_DEC400, NM400, R_400 and plain 400."""
BRIGHTER_THAN_WHITE = 2.0
"""Reflectances that all lie under this are shares, not per cent: no paper is as dark as 2 %."""
CHI_3_95 = 2.795
"""95 % of points that scatter alike in three directions lie within so many standard deviations of one of them."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of data."""

    line: int
    values: dict[str, str]
    """By column, in small letters."""


@dataclass(frozen=True, slots=True)
class Table:
    """What a file holds, before any of it is a colour."""

    name: str
    rows: tuple[Row, ...]
    told: tuple[tuple[int, str], ...]
    """Lines outside the data, with their number: what the instrument says of itself."""


@dataclass(frozen=True, slots=True)
class Sample:
    """One row's colour."""

    lab_d50: Lab
    lab_d65: Lab | None
    brightness_pct: float | None
    scatter_de00: float


def decoded(data: bytes) -> str:
    """The text of a file: UTF-8 or UTF-16 with a mark, else Windows' western letters."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", "replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", "replace")


def parse_instrument_file(
    text: str, name: str, sheet: str, cells: Sequence[str], repeat_de00: float = REPEAT_DE00
) -> Reading:
    """The reading of a sheet (id, names of its cells) that a file holds, without its place in a session.

    Rows of one cell are averaged. Names that are no cell are left out and told as warnings. `repeat_de00`: standard
    deviation of readings of one place, lifted in between. Raises ProgramError naming file, line and remedy.
    """
    if not (math.isfinite(repeat_de00) and 0 < repeat_de00 <= 10):
        raise ProgramError(f"A repeatability of {repeat_de00} ΔE cannot be. Give one over 0, up to 10.")
    if len(text) > LETTERS_MAX:
        raise ProgramError(f"{name}: {len(text)} letters are too many for one sheet; give up to {LETTERS_MAX}.")
    text = text.removeprefix("\ufeff")
    table = _keyword(text, name) if re.search(r"(?m)^\s*BEGIN_DATA", text) else _csv(text, name)
    column, known = _naming(table, cells)
    percent = _in_percent(table)
    samples: dict[str, list[Sample]] = {}
    strangers = []
    for row in table.rows:
        called = row.values.get(column, "")
        cell = known.get(called, known.get(called.lower()))
        if cell is None:
            strangers.append(f"{name}, line {row.line}: '{called[:40]}' is no cell of the sheet; it was left out.")
            continue
        samples.setdefault(cell, []).append(_sample(row, table, percent, repeat_de00))
    colours = tuple(_mean(cell, samples[cell]) for cell in cells if cell in samples)
    return Reading(
        id="instrument",
        sheet=sheet,
        taken_utc="",
        way=Way.INSTRUMENT,
        cells=colours,
        detection_limit_de00=round(CHI_3_95 * math.sqrt(2) * max(max(colour.u_lab) for colour in colours), 2),
        warnings=tuple(strangers[:20]),
    )


def _csv(text: str, name: str) -> Table:
    lines = text.splitlines()
    first = next((line for line in lines if line.strip() and not line.startswith("#")), "")
    mark = max(";\t,", key=first.count)
    head: list[str] = []
    rows, told = [], []
    reader = csv.reader(lines, delimiter=mark)
    for fields in reader:
        at = reader.line_num
        if fields and fields[0].startswith("#"):
            told.append((at, mark.join(fields)))
        elif any(field.strip() for field in fields):
            if not head:
                head = [field.strip().lower() for field in fields]
                continue
            rows.append(_row(head, [field.strip() for field in fields], at, name))
    return _table(name, rows, told)


def _keyword(text: str, name: str) -> Table:
    """Tables between BEGIN_DATA and END_DATA, each under the format that was told last."""
    rows: list[Row] = []
    told: list[tuple[int, str]] = []
    head: list[str] = []
    inside, began, sets = "", 0, 0
    for at, line in enumerate(text.splitlines(), start=1):
        words = _words(line)
        if not words:
            continue
        key = words[0].upper()
        if key in ("BEGIN_DATA_FORMAT", "BEGIN_DATA"):
            if inside:
                raise ProgramError(f"{name}, line {at}: {key} before the table of line {began} ended. Export it again.")
            inside, began, head = key.removeprefix("BEGIN_"), at, [] if key == "BEGIN_DATA_FORMAT" else head
            before = len(rows)
        elif key in ("END_DATA_FORMAT", "END_DATA"):
            if inside != key.removeprefix("END_"):
                raise ProgramError(f"{name}, line {at}: {key} ends nothing that was begun. Export the file again.")
            if inside == "DATA" and sets and len(rows) - before != sets:
                raise ProgramError(
                    f"{name}, line {at}: {len(rows) - before} rows, but NUMBER_OF_SETS says {sets}. The file is cut off"
                    " or was changed by hand; export it again, or correct the number."
                )
            inside = ""
        elif inside == "DATA_FORMAT":
            head += [word.lower() for word in words]
        elif inside == "DATA":
            if not head:
                raise ProgramError(f"{name}, line {at}: data before any BEGIN_DATA_FORMAT. Export the file again.")
            rows.append(_row(head, words, at, name))
        else:
            told.append((at, " ".join(words)))
            if key == "NUMBER_OF_SETS" and len(words) > 1 and words[1].isdigit():
                sets = int(words[1])
    if inside:
        raise ProgramError(f"{name}, line {began}: BEGIN_{inside} is not ended. The file is cut off; export it again.")
    return _table(name, rows, told)


def _words(line: str) -> list[str]:
    """The words of a line, those in quotes whole; what follows # is a remark."""
    found: Iterator[re.Match[str]] = re.finditer(r'"([^"]*)"|(#.*)|([^\s"#]+)', line)
    return [match[1] if match[1] is not None else match[3] for match in found if match[2] is None]


def _row(head: Sequence[str], fields: Sequence[str], line: int, name: str) -> Row:
    if len(fields) != len(head):
        raise ProgramError(
            f"{name}, line {line}: {len(fields)} values under {len(head)} columns ({', '.join(head[:8])}"
            f"{' ...' if len(head) > 8 else ''}). Put names with blanks in quotes, and numbers with a decimal comma"
            " between semicolons."
        )
    return Row(line, dict(zip(head, fields, strict=True)))


def _table(name: str, rows: Sequence[Row], told: Sequence[tuple[int, str]]) -> Table:
    if not 0 < len(rows) <= ROWS_MAX:
        raise ProgramError(f"{name}: {len(rows)} rows of data; 1 to {ROWS_MAX} can be read. Choose the right file.")
    return Table(name, tuple(rows), tuple(told))


def _naming(table: Table, cells: Sequence[str]) -> tuple[str, dict[str, str]]:
    """The column that names cells, and the cells by their names, as they are and in small letters."""
    known = {cell.lower(): cell for cell in cells} | {cell: cell for cell in cells}

    def hits(column: str) -> int:
        return sum(row.values.get(column, "").lower() in known for row in table.rows)

    best = max(NAMES, key=hits)
    if not hits(best):
        first = table.rows[0]
        seen = next((f"'{first.values[column]}'" for column in NAMES if column in first.values), "no name at all")
        raise ProgramError(
            f"{table.name}, line {first.line}: {seen}. No row names a cell of the sheet ({', '.join(cells)}). Give each"
            " row its cell in SAMPLE_NAME, SAMPLE_ID or a column 'cell'."
        )
    return best, known


def _bands(row: Row) -> list[tuple[float, str, str]]:
    """Wavelength, nm, scale ('pct', 'dec' or '') and column of each reflectance, the shortest first."""
    found = ((BAND.fullmatch(column), column) for column in row.values)
    return sorted(
        (float(match["nm"]), (match["scale"] or "").replace("nm", ""), column) for match, column in found if match
    )


def _in_percent(table: Table) -> bool:
    """True if reflectances whose columns do not say so are per cent."""
    most = 0.0
    for row in table.rows:
        for _, scale, column in _bands(row):
            if not scale:
                most = max(most, _number(row, column, table.name))
    return most > BRIGHTER_THAN_WHITE


def _sample(row: Row, table: Table, percent: bool, repeat_de00: float) -> Sample:
    where = f"{table.name}, line {row.line}"
    scatter = next((_number(row, key, table.name) for key in SCATTERS if row.values.get(key)), repeat_de00)
    if not 0 < scatter <= 10:
        raise ProgramError(f"{where}: an uncertainty of {scatter:g} ΔE cannot be. Give one over 0, up to 10, or none.")
    columns = [next((name for name in names if name in row.values), "") for names in LABS]
    bands = _bands(row)
    otherwise = _other_light(table)
    if all(columns) and not (otherwise and bands):
        if otherwise:
            raise ProgramError(
                f"{table.name}, line {otherwise[0]}: '{otherwise[1][:60]}'. Colours are kept under D50 for the 2°"
                " observer: set the instrument so, or export the spectra too."
            )
        values = [_number(row, column, table.name) for column in columns]
        for value, column, (low, high) in zip(values, columns, RANGES, strict=True):
            if not low <= value <= high:
                raise ProgramError(
                    f"{where}: {column.upper()} is {value:g}; it lies from {low:g} to {high:g}. Correct it."
                )
        return Sample((values[0], values[1], values[2]), None, None, scatter)
    if not bands:
        missing = [names[0].upper() for names, column in zip(LABS, columns, strict=True) if not column]
        raise ProgramError(
            f"{where}: no column {', '.join(missing)}, and no reflectances such as SPECTRAL_NM400. Export CIELAB under"
            " D50, or the spectra; in a CSV: cell, L, a, b."
        )
    return _of_spectrum(row, bands, table.name, percent, scatter)


def _of_spectrum(row: Row, bands: Sequence[tuple[float, str, str]], name: str, percent: bool, scatter: float) -> Sample:
    where = f"{name}, line {row.line}"
    nm = np.array([each for each, _, _ in bands])
    per_cent = {"pct": 1.0, "dec": 100.0, "": 1.0 if percent else 100.0}
    reflectance = np.array([_number(row, column, name) * per_cent[scale] for _, scale, column in bands])
    if reflectance.min() < 0 or reflectance.max() > 200:
        raise ProgramError(
            f"{where}: a reflectance of {reflectance.min():g} to {reflectance.max():g} % cannot be. Export reflectance,"
            " not density."
        )
    try:
        d50, d65 = (to_lab(xyz_of_reflectance(nm, reflectance, light), light) for light in ("D50", "D65"))
    except ValueError as error:
        raise ProgramError(f"{where}: {error}. Export the whole spectrum, each wavelength once.") from None
    brightness = float(iso_brightness_pct(nm, reflectance)) if nm[0] <= 400 else None
    return Sample(_three(d50), _three(d65), brightness, scatter)


def _three(lab: Array) -> Lab:
    one, two, three = (round(float(value), 4) for value in lab)
    return one, two, three


def _other_light(table: Table) -> tuple[int, str] | None:
    """The line by which the file's own CIELAB is under another light than D50, or for the 10 degree observer."""
    for line, said in table.told:
        if re.search(r"(?i)illumin|weighting", said) and re.search(r"\b(A|C|D55|D65|D75|F\d+)\b", said):
            return line, said
        if re.search(r"(?i)observer", said) and re.search(r"\b10\b|10°", said):
            return line, said
    return None


def _number(row: Row, column: str, name: str) -> float:
    text = row.values[column]
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        said = f"'{text[:40]}' is no number" if text else "the value is missing"
        raise ProgramError(
            f"{name}, line {row.line}: {said} in column {column.upper()}. Correct it or leave the row out."
        )
    return value


def _mean(cell: str, samples: Sequence[Sample]) -> CellColour:
    """Of all readings of one cell; they scatter alike in three directions, each by chance."""
    scatter = math.sqrt(sum(each.scatter_de00**2 for each in samples)) / len(samples)
    d65 = [each.lab_d65 for each in samples if each.lab_d65 is not None]
    r457 = [each.brightness_pct for each in samples if each.brightness_pct is not None]
    u, whole = scatter / math.sqrt(3), len(samples)
    lab = np.mean([each.lab_d50 for each in samples], axis=0)
    # As for photos: how the blue reflectance moves as the paper gets lighter and less yellow.
    one, other = (float(r457_from_xyz_d50(to_xyz(lab + step))) for step in ((0.5, 0, -0.5), (-0.5, 0, 0.5)))
    slope = abs(one - other)
    return CellColour(
        cell=cell,
        lab_d50=_three(lab),
        lab_d65=_three(np.mean(d65, axis=0)) if len(d65) == whole else None,
        u_lab=(u, u, u),
        u_abs_de00=scatter,
        r457_pct=round(float(np.mean(r457)), 3) if len(r457) == whole else None,
        r457_u_pct=round(slope * scatter, 3) if len(r457) == whole else None,
    )
