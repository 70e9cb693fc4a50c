"""What a lux meter would show, and why blue light must not be planned by it."""

import numpy as np

from .evidence import Statement, Status
from .spectrum import Array, Spectrum

KM_LM_W = 683.002
"""Lumens per watt at the peak of V(l) (CIE; the SI fixes 683 at 540 THz)."""

# CIE 1924 photopic V(l), 380-780 nm in steps of 5 nm; read in colour-science 0.4.7, compared with it by a test.
_V = np.array([
    3.9e-05, 6.4e-05, 0.00012, 0.000217, 0.000396, 0.00064, 0.00121, 0.00218, 0.004, 0.0073, 0.0116, 0.01684,
    0.023, 0.0298, 0.038, 0.048, 0.06, 0.0739, 0.09098, 0.1126, 0.13902, 0.1693, 0.20802, 0.2586, 0.323, 0.4073,
    0.503, 0.6082, 0.71, 0.7932, 0.862, 0.91485, 0.954, 0.9803, 0.99495, 1.0, 0.995, 0.9786, 0.952, 0.9154, 0.87,
    0.8163, 0.757, 0.6949, 0.631, 0.5668, 0.503, 0.4412, 0.381, 0.321, 0.265, 0.217, 0.175, 0.1382, 0.107, 0.0816,
    0.061, 0.04458, 0.032, 0.0232, 0.017, 0.01192, 0.00821, 0.005723, 0.004102, 0.002929, 0.002091, 0.001484,
    0.001047, 0.00074, 0.00052, 0.0003611, 0.0002492, 0.0001719, 0.00012, 8.48e-05, 6e-05, 4.24e-05, 3e-05,
    2.12e-05, 1.499e-05,
])  # fmt: skip
_V_NM = np.arange(380.0, 781.0, 5.0)


def eye_sensitivity(wavelength_nm: Array) -> Array:
    """CIE 1924 V(l), 0..1, for wavelengths in nm, same shape; 0 outside 380-780 nm.

    Between the table's points its logarithm runs straight: within 2 % of the 1 nm table in 400-700 nm (measured).
    Example: 435 nm = 0.01684.
    """
    inside = (wavelength_nm >= _V_NM[0]) & (wavelength_nm <= _V_NM[-1])
    values: Array = np.where(inside, np.exp(np.interp(wavelength_nm, _V_NM, np.log(_V))), 0.0)
    return values


def illuminance_lx(spectrum: Spectrum) -> float:
    """Illuminance, lx: 683 times the integral of E V. Example: 100 W/m2 in a narrow band at 450 nm = 2,600 lx."""
    return KM_LM_W * spectrum.integral(eye_sensitivity)


def lux_caution(spectrum: Spectrum) -> Statement:
    """Why lux misleads for this light, with its own numbers."""
    lux, watts = illuminance_lx(spectrum), spectrum.irradiance_w_m2
    moved = illuminance_lx(spectrum.shifted(5.0)) / lux
    return Statement(
        f"Do not plan by lux. A lux meter measures what the eye sees, and the eye hardly sees blue: this light of"
        f" {watts:.0f} W/m² reads {lux:,.0f} lx; as much green light would read {KM_LM_W * watts:,.0f} lx."
        f" Were its peak only 5 nm longer, it would read {moved:.1f} times as much."
        " Use a calibrated radiometer or photodiode.",
        "CIE 1924 V(λ), restated by colour-science",
        Status.COMPUTED,
    )
