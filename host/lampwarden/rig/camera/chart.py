"""The chart of 24 patches as it lies in the simulated picture."""

from functools import cache
from importlib.resources import files

import numpy as np

from ..paper.spectra import WAVELENGTHS_NM, Array

CHART_TOLERANCE = 0.004
"""Invented: standard deviation of a patch's reflectance against its published value, as a share, in each of three bands
of the spectrum. A few tenths in CIEDE2000."""


GREYS = (0.88, 0.59, 0.36, 0.19, 0.09, 0.034)
"""Invented reflectance of the grey steps, white first, the same at all wavelengths."""


@cache
def _table() -> Array:
    text = (files(__package__) / "chart.csv").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line and not line.startswith(("#", "patch"))]
    return np.array([[float(value) for value in line.split(",")] for line in lines])


def chart_lab() -> Array:
    """Published CIELAB (D50, 2 degrees) of the patches by rows, shape (24, 3)."""
    return _table()[:, 1:4]


def published_patches() -> Array:
    """Reflectance with exactly the published colours, shape (24, 31)."""
    return _table()[:, 4:]


def made_patches(seed: int) -> Array:
    """Reflectance of one chart as it was made, within the tolerance; shape (24, 31)."""
    return _made(published_patches(), np.random.default_rng([seed, 31]))


def made_greys(seed: int) -> Array:
    """Reflectance of one set of grey steps, white first, within the same tolerance of evenly grey; shape (6, 31)."""
    return _made(np.repeat(np.array(GREYS)[:, None], len(WAVELENGTHS_NM), axis=1), np.random.default_rng([seed, 32]))


def _made(meant: Array, chance: np.random.Generator) -> Array:
    bells = np.exp(-(((WAVELENGTHS_NM - np.array([[445.0], [545.0], [640.0]])) / 60) ** 2))
    found: Array = meant * (1 + CHART_TOLERANCE * chance.standard_normal((len(meant), 3)) @ bells)
    return found
