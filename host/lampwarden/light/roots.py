"""Where a function crosses zero.

scipy.optimize has better, but brings 27 MB of libraries into the daemon that nothing else there needs (measured:
tests/bench/memory.py); tests/light/test_roots.py compares the two.
"""

import math
from collections.abc import Callable
from itertools import pairwise

STEPS_MAX = 100
"""Each step at least halves what is left: this is far beyond the last bit."""


def zero_of(function: Callable[[float], float], low: float, high: float, xtol: float = 1e-12) -> float:
    """A zero of a continuous function between two places where its signs differ, to `xtol` or the last bits.

    Ridders, IEEE Trans. Circuits Syst. 26 (1979) 979: from memory. Raises ValueError if the signs do not differ.
    """
    at_low, at_high = function(low), function(high)
    for place, value in ((low, at_low), (high, at_high)):
        if value == 0:
            return place
    if not at_low * at_high < 0:
        raise ValueError(f"no change of sign from {low:g} ({at_low:g}) to {high:g} ({at_high:g})")
    found = math.nan
    for _ in range(STEPS_MAX):
        middle = (low + high) / 2
        at_middle = function(middle)
        scale = math.sqrt(at_middle * at_middle - at_low * at_high)
        before, found = found, middle + (middle - low) * math.copysign(1, at_low - at_high) * at_middle / scale
        at_found = function(found)
        if at_found == 0 or abs(found - before) <= xtol or high - low <= xtol:
            break
        ends = sorted(((low, at_low), (middle, at_middle), (found, at_found), (high, at_high)))
        (low, at_low), (high, at_high) = next(
            (one, next_one) for one, next_one in pairwise(ends) if one[1] * next_one[1] <= 0
        )
    return found
