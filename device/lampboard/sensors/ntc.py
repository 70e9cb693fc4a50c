"""NTC thermistor, 10 kOhm at 25 C, from its plate to ground under a 10 kOhm resistor: ADC code to hundredths of a C.

The curve is a public table of the 103AT-2 style (B25/85 = 3435). Between two of its points 1/T is taken as a straight
line over ln R, and the result is laid out once, at import, on a grid over the ADC codes; the loop then needs integers
only. For another part, change CURVE and nothing else. `steinhart_hart_centi_c` is the usual formula for makers who give
three constants instead of a table.
"""

from math import log

from lampboard.registers import NO_VALUE, SENSOR_OK, SENSOR_RANGE

CURVE = (  # C, Ohm
    (-10, 42470),
    (0, 27280),
    (10, 17960),
    (20, 12090),
    (25, 10000),
    (30, 8313),
    (40, 5827),
    (50, 4160),
    (60, 3020),
    (70, 2228),
    (80, 1668),
    (85, 1451),
    (90, 1266),
    (100, 973),
)
TOP_OHM = 10000
FULL = 65535  # the ADC's code at the divider's supply
KELVIN = 273.15
_STEP_BITS = 10  # codes per grid step, as a power of two


def code(ohm):
    """The ADC code of a resistance, 0..65535."""
    return FULL * ohm // (ohm + TOP_OHM)


# Beyond these a wire is broken (code near full scale), shorted (near 0), or the plate is where no plate should be.
CODE_MIN = code(CURVE[-1][1])
CODE_MAX = code(CURVE[0][1])


def _centi_c(ohm):
    at = 1
    while at < len(CURVE) - 1 and CURVE[at][1] > ohm:
        at += 1
    cold_c, cold_ohm = CURVE[at - 1]
    warm_c, warm_ohm = CURVE[at]
    share = log(ohm / cold_ohm) / log(warm_ohm / cold_ohm)
    cold = 1 / (cold_c + KELVIN)
    warm = 1 / (warm_c + KELVIN)
    return round((1 / (cold + share * (warm - cold)) - KELVIN) * 100)


def _grid():
    """Centi C at every 2 ** _STEP_BITS codes around the legal ones."""
    codes = range(CODE_MIN >> _STEP_BITS, (CODE_MAX >> _STEP_BITS) + 2)
    return tuple(_centi_c(TOP_OHM * (at << _STEP_BITS) / (FULL - (at << _STEP_BITS))) for at in codes)


_GRID = _grid()


def read(adc):
    """(status, temp_centi_c) of an ADC code 0..65535; SENSOR_RANGE and NO_VALUE for an open or shorted sensor."""
    if not CODE_MIN <= adc <= CODE_MAX:
        return SENSOR_RANGE, NO_VALUE
    at = (adc >> _STEP_BITS) - (CODE_MIN >> _STEP_BITS)
    low = _GRID[at]
    return SENSOR_OK, low + ((_GRID[at + 1] - low) * (adc & ((1 << _STEP_BITS) - 1)) >> _STEP_BITS)


def adc_code(centi_c):
    """The ADC code, 0..65535, at which `read` shows this temperature: for simulated boards. Open or short beyond it."""
    if centi_c >= _GRID[0]:
        return 0
    at = 0
    while at < len(_GRID) - 2 and _GRID[at + 1] > centi_c:
        at += 1
    low = _GRID[at]
    rest = ((low - centi_c) << _STEP_BITS) // (low - _GRID[at + 1])
    return min(FULL, ((at + (CODE_MIN >> _STEP_BITS)) << _STEP_BITS) + rest)


def steinhart_hart_centi_c(ohm, a=8.87463e-4, b=2.51520e-4, c=1.91945e-7):
    """Hundredths of a C from 1/T = a + b ln R + c (ln R)^3 (Steinhart and Hart 1968), T in kelvin.

    The constants given go through the curve's 0, 25 and 60 C.
    """
    ln = log(ohm)
    return round((1 / (a + b * ln + c * ln**3) - KELVIN) * 100)
