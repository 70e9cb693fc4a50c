"""A chamber and cells for the trial room's tests."""

import pytest

from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.domain.sheet import Cell, Treatment


@pytest.fixture
def chamber():
    strengths = {"A1": 84, "A2": 88, "A3": 80, "B1": 82, "B2": 87, "B3": 81}
    return Chamber(zones=tuple(Zone(name=name, irradiance_w_m2=w) for name, w in strengths.items()))


@pytest.fixture
def cell():
    def make(name, zone=None, **treatment):
        place = {"x_mm": 0, "y_mm": 0, "width_mm": 10, "height_mm": 10}
        return Cell(name=name, zone=zone or name, treatment=Treatment(**treatment), **place)

    return make
