"""Zeros as scipy.optimize finds them."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from lampwarden.light.roots import zero_of


@pytest.mark.parametrize(
    ("function", "low", "high"),
    [
        (lambda x: x**3 - 2, 0.0, 2.0),
        (lambda x: math.cos(x) - x, 0.0, 1.0),
        (lambda x: math.exp(-x) - 1e-6, 0.0, 100.0),
        (lambda x: math.tanh(50 * (x - 0.3)), 0.0, 1.0),
        (lambda x: 0.025 - math.erfc(x) / 2, -8.0, 8.0),
    ],
    ids=["cubic", "cosine", "far tail", "step", "quantile"],
)
def test_as_brentq(function, low: float, high: float) -> None:  # type: ignore[no-untyped-def]
    assert zero_of(function, low, high) == pytest.approx(brentq(function, low, high, xtol=1e-14), abs=1e-11)


@given(st.floats(-5, 5), st.floats(0.01, 20))
def test_found_wherever_it_lies(place: float, steep: float) -> None:
    assert zero_of(lambda x: math.atan(steep * (x - place)), -6.0, 7.0) == pytest.approx(place, abs=1e-9)


def test_an_end_may_be_the_zero() -> None:
    assert zero_of(lambda x: x, 0.0, 3.0) == 0.0
    assert zero_of(lambda x: x - 3, 0.0, 3.0) == 3.0


def test_no_change_of_sign() -> None:
    with pytest.raises(ValueError, match="no change of sign from 0 \\(1\\) to 1 \\(2\\)"):
        zero_of(lambda x: x + 1, 0.0, 1.0)
    with pytest.raises(ValueError, match="no change of sign"):
        zero_of(lambda x: math.nan, 0.0, 1.0)
