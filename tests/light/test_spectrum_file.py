"""Measured spectra as CSV text."""

import pytest

from lampwarden.errors import ProgramError
from lampwarden.light.spectrum import of_band
from lampwarden.light.spectrum_file import parse

LED = of_band(435, 84, 20)
ROWS = [pair for pair in zip(LED.wavelength_nm.tolist(), LED.w_m2_nm.tolist(), strict=True) if 380 <= pair[0] <= 500]


def written(rows=ROWS, head="wavelength_nm,w_m2_nm\n", line="{:g},{:.9g}\n"):
    return head + "".join(line.format(*row) for row in rows)


def changed(index, row):
    return written([*ROWS[:index], row, *ROWS[index + 1 :]])


@pytest.mark.parametrize(
    "text",
    [
        written(),
        written(head=""),
        written(head="# desk spectrometer\n\nwavelength,value\n"),
        written(head="\ufeffwavelength_nm,w_m2_nm\r\n", line="{:g},{:.9g}\r\n"),
        written(line="{:g};{:.9g}\n", head="nm;E\n"),
        written(line="{:g}\t{:.9g}\n", head=""),
        written(line='"{:g}", "{:.9g}",\n'),
    ],
)
def test_what_people_export_is_read(text):
    assert parse(text).irradiance_w_m2 == pytest.approx(84, rel=1e-4)


def test_decimal_commas_after_semicolons():
    text = written(head="", line="{:g};{:.9g}\n").replace(".", ",")
    assert parse(text).peak_nm == 435


def test_noise_below_zero_counts_as_none():
    assert parse(changed(0, (380, -0.01))).w_m2_nm[0] == 0.0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "0 rows of numbers"),
        ("a,b\nc,d\n", "line 2: 'c,d' is not two numbers"),
        (written() + "501,0.1,3\n", "line 123: 3 columns, not 2"),
        (written(head="", line="{:.1f},{:.9g}\n").replace("400.0,", "400,0,"), "columns, not 2"),
        (written() + "501,nan\n", "not two finite numbers"),
        (written() + "1200,0\n", "outside 200 to 1100 nm"),
        (written() + "500,0\n", "500 nm follows 500 nm"),
        (written() + "540,0\n", "steps of at most 10 nm"),
        (written([(nm, 0.0) for nm, _ in ROWS]), "no value is above 0"),
        (changed(3, (383, -1.0)), "further below 0 than noise"),
        (written([r for r in ROWS if r[0] >= 430]), "starts at 430 nm with"),
        (written([r for r in ROWS if r[0] <= 440]), "ends at 440 nm with"),
    ],
)
def test_what_is_wrong_is_named(text, words):
    with pytest.raises(ProgramError, match=r"^led\.csv") as error:
        parse(text, "led.csv")
    assert words in str(error.value)
