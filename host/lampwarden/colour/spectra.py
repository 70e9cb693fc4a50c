"""XYZ from reflectance spectra."""

import numpy as np
from numpy.typing import ArrayLike

from .spaces import Array

# nm, x, y, z of the CIE 1931 observer, relative power of D50 and D65. CIE 15, every 10 nm; taken from colour-science.
_TABLE = np.array([
    (380, 0.001368, 0.000039, 0.00645, 24.488, 49.9755),
    (390, 0.004243, 0.00012, 0.02005, 29.871, 54.6482),
    (400, 0.01431, 0.000396, 0.06785, 49.308, 82.7549),
    (410, 0.04351, 0.00121, 0.2074, 56.513, 91.486),
    (420, 0.13438, 0.004, 0.6456, 60.034, 93.4318),
    (430, 0.2839, 0.0116, 1.3856, 57.818, 86.6823),
    (440, 0.34828, 0.023, 1.74706, 74.825, 104.865),
    (450, 0.3362, 0.038, 1.77211, 87.247, 117.008),
    (460, 0.2908, 0.06, 1.6692, 90.612, 117.812),
    (470, 0.19536, 0.09098, 1.28764, 91.368, 114.861),
    (480, 0.09564, 0.13902, 0.81295, 95.109, 115.923),
    (490, 0.03201, 0.20802, 0.46518, 91.963, 108.811),
    (500, 0.0049, 0.323, 0.272, 95.724, 109.354),
    (510, 0.0093, 0.503, 0.1582, 96.613, 107.802),
    (520, 0.06327, 0.71, 0.07825, 97.129, 104.79),
    (530, 0.1655, 0.862, 0.04216, 102.099, 107.689),
    (540, 0.2904, 0.954, 0.0203, 100.755, 104.405),
    (550, 0.43345, 0.99495, 0.00875, 102.317, 104.046),
    (560, 0.5945, 0.995, 0.0039, 100.0, 100.0),
    (570, 0.7621, 0.952, 0.0021, 97.735, 96.3342),
    (580, 0.9163, 0.87, 0.00165, 98.918, 95.788),
    (590, 1.0263, 0.757, 0.0011, 93.499, 88.6856),
    (600, 1.0622, 0.631, 0.0008, 97.688, 90.0062),
    (610, 1.0026, 0.503, 0.00034, 99.269, 89.5991),
    (620, 0.85445, 0.381, 0.00019, 99.042, 87.6987),
    (630, 0.6424, 0.265, 0.00005, 95.722, 83.2886),
    (640, 0.4479, 0.175, 0.00002, 98.857, 83.6992),
    (650, 0.2835, 0.107, 0.0, 95.667, 80.0268),
    (660, 0.1649, 0.061, 0.0, 98.19, 80.2146),
    (670, 0.0874, 0.032, 0.0, 103.003, 82.2778),
    (680, 0.04677, 0.017, 0.0, 99.133, 78.2842),
    (690, 0.0227, 0.00821, 0.0, 87.381, 69.7213),
    (700, 0.011359, 0.004102, 0.0, 91.604, 71.6091),
    (710, 0.00579, 0.002091, 0.0, 92.889, 74.349),
    (720, 0.002899, 0.001047, 0.0, 76.854, 61.604),
    (730, 0.00144, 0.00052, 0.0, 86.511, 69.8856),
])  # fmt: skip
_NM = _TABLE[:, 0]
_POWER = {"D50": _TABLE[:, 4], "D65": _TABLE[:, 5]}


def xyz_of_reflectance(wavelength_nm: ArrayLike, reflectance_pct: ArrayLike, illuminant: str = "D50") -> Array:
    """XYZ (..., 3) of reflectance (..., n) in per cent at rising wavelengths (n,), under 'D50' or 'D65'.

    Straight lines between the points, the end values beyond them (ASTM E308 permits both), summed every 10 nm.
    Raises ValueError if the wavelengths do not rise or do not reach from 420 to 680 nm.
    """
    nm, r = np.asarray(wavelength_nm, dtype=float), np.asarray(reflectance_pct, dtype=float)
    if np.any(np.diff(nm) <= 0) or nm[0] > 420 or nm[-1] < 680:
        raise ValueError("a colour needs reflectance from 420 to 680 nm at least, in rising order")
    at = np.apply_along_axis(lambda values: np.interp(_NM, nm, values), -1, r)
    weights = _TABLE[:, 1:4] * _POWER[illuminant][:, None]
    return np.asarray(at @ weights / weights[:, 1].sum())
