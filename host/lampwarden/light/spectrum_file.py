"""A measured spectrum from CSV text: wavelength in nm, then W/m2/nm. Errors name line, fault and remedy."""

import math

import numpy as np

from ..errors import ProgramError
from .spectrum import Spectrum

ROWS_MIN, ROWS_MAX = 8, 20_000
STEP_NM_MAX = 10.0
"""Widest gap between two rows, nm: half of an LED's width, or its peak could fall between them."""
NOISE_SHARE = 0.02
"""Readings may be below zero by this share of the peak (dark noise) and then count as 0."""
CUT_SHARE = 0.05
"""At both ends the light must have fallen to this share of the peak, or part of it was not measured."""


def parse(text: str, where: str = "spectrum") -> Spectrum:
    """The spectrum written in CSV text. Raises ProgramError.

    Columns wavelength_nm and w_m2_nm; one line of headings and lines starting with # are skipped. Columns stand apart
    by comma, semicolon or tab; with the last two a decimal comma is understood. `where` is the file's name.
    """
    rows: list[tuple[float, float]] = []
    headed = False
    for number, raw in enumerate(text.lstrip("\ufeff").splitlines(), start=1):
        line = raw.strip()
        if not line or line.startswith("#"):
            continue
        mark = next((mark for mark in (";", "\t") if mark in line), ",")
        cells = [cell.strip().strip('"') for cell in line.split(mark)]
        while cells and not cells[-1]:
            cells.pop()
        if mark != ",":
            cells = [cell.replace(",", ".") for cell in cells]
        if len(cells) != 2:
            raise ProgramError(
                f"{where}, line {number}: {len(cells)} columns, not 2. Keep wavelength_nm and w_m2_nm only;"
                " write decimals with a point, or part the columns with semicolons."
            )
        try:
            nm, value = float(cells[0]), float(cells[1])
        except ValueError:
            if not rows and not headed:
                headed = True
                continue
            raise ProgramError(f"{where}, line {number}: '{line}' is not two numbers. Remove or correct it.") from None
        if not (math.isfinite(nm) and math.isfinite(value)):
            raise ProgramError(f"{where}, line {number}: '{line}' is not two finite numbers. Remove or correct it.")
        if not 200 <= nm <= 1100:
            raise ProgramError(
                f"{where}, line {number}: {nm:g} nm is outside 200 to 1100 nm. The first column is the wavelength."
            )
        if rows and not 0 < nm - rows[-1][0] <= STEP_NM_MAX:
            raise ProgramError(
                f"{where}, line {number}: {nm:g} nm follows {rows[-1][0]:g} nm. Order the rows by wavelength,"
                f" each once, in steps of at most {STEP_NM_MAX:g} nm."
            )
        if len(rows) >= ROWS_MAX:
            raise ProgramError(f"{where}: more than {ROWS_MAX} rows. Give the spectrum in steps of 0.1 nm or more.")
        rows.append((nm, value))
    if len(rows) < ROWS_MIN:
        raise ProgramError(f"{where}: {len(rows)} rows of numbers; a spectrum needs at least {ROWS_MIN}.")
    data = np.array(rows)
    peak = float(data[:, 1].max())
    if not peak > 0:
        raise ProgramError(f"{where}: no value is above 0. The second column is the spectral irradiance, W/m²/nm.")
    lowest = int(data[:, 1].argmin())
    if data[lowest, 1] < -NOISE_SHARE * peak:
        raise ProgramError(
            f"{where}: {data[lowest, 1]:g} at {data[lowest, 0]:g} nm is further below 0 than noise can be."
            " Subtract the right dark reading."
        )
    for end, side in ((0, "starts"), (-1, "ends")):
        if data[end, 1] > CUT_SHARE * peak:
            raise ProgramError(
                f"{where}: it {side} at {data[end, 0]:g} nm with {100 * data[end, 1] / peak:.0f} % of the peak,"
                f" so part of the light is missing. Measure on until it has fallen below {100 * CUT_SHARE:.0f} %."
            )
    return Spectrum(data[:, 0], np.maximum(data[:, 1], 0.0))
