"""How chromophores and inks change: formulas only, exact for steps of any length in which nothing else changes.

A pool of chromophores C is taken at the rate a; a share f of what was taken returns, waiting in L, at the rate b:

    dC/dt = -a C + b L
    dL/dt = f a C - b L

In the dark (a = 0) this is the reversion alone; with b dt small, C falls exponentially with a dt.
"""

import numpy as np

from .spectra import Array


def pool_after(left: Array, waiting: Array, rate_s: Array, return_s: Array, share: Array, dt_s: float) -> Array:
    """C and L after dt_s, shape (2, ...); rates per s. Exactly unchanged where nothing acts and nothing waits.

    Closed form of the matrix exponential, with eigenvalues m +- q: e^(M t) = e^(m t) (cosh q t + (M - m) sinh(q t)/q).
    """
    mean = -(rate_s + return_s) / 2
    q = np.sqrt((rate_s - return_s) ** 2 / 4 + share * rate_s * return_s)
    slow, fast = np.exp((mean + q) * dt_s), np.exp((mean - q) * dt_s)
    even = (slow + fast) / 2
    odd = np.where(q > 0, (slow - fast) / np.where(q > 0, 2 * q, 1.0), dt_s * slow)
    lit_left = even * left + odd * ((-rate_s - mean) * left + return_s * waiting)
    lit_waiting = even * waiting + odd * (share * rate_s * left + (-return_s - mean) * waiting)
    kept = np.exp(-return_s * dt_s)
    dark = rate_s == 0
    return np.stack(
        [
            np.where(dark, left + waiting * (1 - kept), lit_left),
            np.where(dark, waiting * kept, lit_waiting),
        ]
    )


def towards(value: Array, end: Array | float, doses: Array) -> Array:
    """Exponential approach to `end` by this many rate x time or rate x dose; exactly unchanged by 0."""
    return value + (end - value) * -np.expm1(-doses)


def effective_j_cm2_s(irradiance_w_m2: Array, reciprocity: float, reference_w_m2: float) -> Array:
    """Dose rate with the failure of reciprocity in it: E (E / E_ref)^(p - 1), J/cm2 per s. 80 W/m2 at p = 1: 0.008."""
    share = irradiance_w_m2 / reference_w_m2
    return reference_w_m2 / 1e4 * np.where(share > 0, np.power(np.maximum(share, 1e-12), reciprocity), 0.0)


def by_temperature(temp_c: Array, q10: float, reference_c: float) -> Array:
    """Factor of a rate: q10 for each 10 K above the reference."""
    return np.power(q10, (temp_c - reference_c) / 10)
