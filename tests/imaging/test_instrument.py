"""Files of instruments, written by hand as such instruments write them."""

from pathlib import Path

import numpy as np
import pytest

from lampwarden.colour.paper import iso_brightness_pct
from lampwarden.colour.spaces import to_lab
from lampwarden.colour.spectra import xyz_of_reflectance
from lampwarden.domain.reading import Reading, Way
from lampwarden.errors import ProgramError
from lampwarden.imaging.instrument import decoded, parse_instrument_file

CELLS = ("A1", "A2", "B3")
KEYWORDS = (Path(__file__).parent / "instrument_lab.txt").read_text(encoding="utf-8")
SPECTRA = (Path(__file__).parent / "instrument_spectra.txt").read_text(encoding="utf-8")


def read(text: str, repeat_de00: float = 0.3) -> Reading:
    return parse_instrument_file(text, "file.txt", "timetable", CELLS, repeat_de00)


def labs(reading: Reading) -> dict[str, tuple[float, float, float]]:
    return {colour.cell: colour.lab_d50 for colour in reading.cells}


@pytest.mark.parametrize(
    "text",
    [
        "cell,L,a,b\nA1,84.1,3.2,21.5\nB3,80.25,4,25\n",
        "\ufeffCell;L*;a*;b*\r\n\r\na1;84,1;3,2;21,5\r\nb3;80,25;4;25\r\n",
        "# by hand\nno\tLAB_L\tLAB_A\tLAB_B\tsample\n1\t84.1\t3.2\t21.5\tA1\n2\t80.25\t4\t25\tB3\n",
        KEYWORDS,
    ],
    ids=["comma", "semicolon", "tab", "keywords"],
)
def test_cielab_by_cell(text: str) -> None:
    reading = read(text)
    assert labs(reading) == {"A1": (84.1, 3.2, 21.5), "B3": (80.25, 4.0, 25.0)}
    assert (reading.way, reading.sheet, reading.photos, reading.refused) == (Way.INSTRUMENT, "timetable", (), "")
    assert reading.cells[0].u_abs_de00 == 0.3
    assert reading.cells[0].u_lab == pytest.approx((0.3 / 3**0.5,) * 3)


def test_what_is_no_cell_is_left_out_and_told() -> None:
    (warning,) = read(KEYWORDS).warnings
    assert warning == "file.txt, line 13: 'White tile' is no cell of the sheet; it was left out."


def test_readings_of_one_cell_are_averaged_and_surer() -> None:
    reading = read("cell,L,a,b\n" + "".join(f"A1,{84 + n},3,{20 + n}\n" for n in range(4)), 0.4)
    assert labs(reading) == {"A1": (85.5, 3.0, 21.5)}
    assert reading.cells[0].u_abs_de00 == pytest.approx(0.2)


def test_a_row_may_know_its_own_uncertainty() -> None:
    reading = read("cell,L,a,b,u\nA1,84.1,3.2,21.5,0.15\nA2,84.1,3.2,21.5,\n")
    assert [colour.u_abs_de00 for colour in reading.cells] == [0.15, 0.3]
    # 95 of 100 pairs of readings of an unchanged cell differ by less, for the least sure cell.
    chance = np.random.default_rng(5)
    pairs = chance.normal(0, reading.cells[1].u_lab[0], (2, 100_000, 3))
    under = np.mean(np.linalg.norm(pairs[1] - pairs[0], axis=1) < reading.detection_limit_de00)
    assert under == pytest.approx(0.95, abs=0.005)


def test_spectra_become_colours() -> None:
    """Shares of one under NM400 ..., for a file whose own CIELAB is under D65 and must not be taken."""
    reading = read(SPECTRA)
    lines = [line.split("\t") for line in SPECTRA.splitlines() if line.startswith('"')]
    nm = np.arange(400, 701, 20)
    for colour, line in zip(reading.cells, lines, strict=True):
        pct = 100 * np.array([float(value) for value in line[4:]])
        assert colour.lab_d50 == pytest.approx(to_lab(xyz_of_reflectance(nm, pct)), abs=1e-4)
        assert colour.lab_d65 == pytest.approx(to_lab(xyz_of_reflectance(nm, pct, "D65"), "D65"), abs=1e-4)
        assert colour.r457_pct == pytest.approx(float(iso_brightness_pct(nm, pct)), abs=1e-3)
    grey = reading.cells[1]
    # A neutral grey of 50 % has L* 76.07 under any light (CIE 15, by hand: 116 * 0.5 ** (1 / 3) - 16).
    assert grey.lab_d50 == pytest.approx((76.07, 0, 0), abs=0.05)
    assert grey.r457_pct == 50


def test_scales_of_spectra() -> None:
    flat = " ".join("{}" for _ in range(400, 701, 10))
    for head, value in (("SPECTRAL_PCT{}", "50"), ("SPECTRAL_DEC_{}", "0.5"), ("{}nm", "50"), ("R_{}", "0.5")):
        names = flat.format(*(head.format(nm) for nm in range(400, 701, 10))).split()
        text = ",".join(["cell", *names]) + "\n" + ",".join(["A1", *[value] * len(names)]) + "\n"
        assert labs(read(text))["A1"] == pytest.approx((76.07, 0, 0), abs=0.05), head


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", r"file.txt: 0 rows.*Choose the right file"),
        ("cell,L,a,b\nA1,84.1,3.2\n", r"line 2: 3 values under 4 columns.*decimal comma between semicolons"),
        ("cell,L,a,b\nA1,84.1,x,3\n", r"line 2: 'x' is no number in column A\. Correct it"),
        ("cell,L,a,b\nA1,84.1,,3\n", r"line 2: the value is missing in column A"),
        ("cell,L,a,b\nA1,84.1,nan,3\n", r"line 2: 'nan' is no number"),
        ("cell,L,a,b\nA2,1,1,1\nA1,841,3,3\n", r"line 3: L is 841; it lies from 0 to 110"),
        ("cell,X,Y,Z\nA1,1,2,3\n", r"line 2: no column LAB_L, LAB_A, LAB_B.*in a CSV: cell, L, a, b"),
        ("cell,L,a,b\nQ7,1,2,3\n", r"line 2: 'Q7'\. No row names a cell of the sheet \(A1, A2, B3\)"),
        ("cell,L,a,b,u\nA1,1,2,3,0\n", r"line 2: an uncertainty of 0"),
        (KEYWORDS.replace("END_DATA\n", ""), r"line 10: BEGIN_DATA is not ended.*export it again"),
        (KEYWORDS.replace("SETS 3", "SETS 4"), r"line 14: 3 rows, but NUMBER_OF_SETS says 4"),
        (KEYWORDS.replace("END_DATA_FORMAT\n", ""), r"line 9: BEGIN_DATA before the table of line 7 ended"),
        (KEYWORDS.replace("D50", "D65"), r"line 4: 'ILLUMINATION_NAME D65'\. Colours are kept under D50"),
        (KEYWORDS.replace('"2"', '"10"'), r"line 5: 'OBSERVER_ANGLE 10'"),
        (SPECTRA.replace("0.61", "-0.61"), r"line 9: a reflectance of -61 to .*Export reflectance, not density"),
        ("cell,500,510\nA1,0.5,0.5\n", r"line 2: a colour needs reflectance from 420.*Export the whole spectrum"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_with_its_line(text: str, says: str) -> None:
    with pytest.raises(ProgramError, match=says):
        read(text)


def test_limits() -> None:
    with pytest.raises(ProgramError, match="too many"):
        read("x" * 2_000_001)
    with pytest.raises(ProgramError, match="2001 rows"):
        read("cell,L,a,b\n" + "A1,1,1,1\n" * 2001)
    for repeat in (0.0, float("nan"), 11.0):
        with pytest.raises(ProgramError, match="repeatability"):
            read(KEYWORDS, repeat)


def test_bytes_of_any_office_program() -> None:
    for coded in ("utf-8", "utf-8-sig", "utf-16", "cp1252"):
        assert decoded("Zelle;Größe".encode(coded)) == "Zelle;Größe"
