"""A sheet whose true course is known, read with noise of known size. All numbers are invented.

Each cell's coloured matter falls exponentially with dose; its colour comes from a spectrum by Kubelka-Munk.
"""

from dataclasses import dataclass, field

import numpy as np
import pytest

from lampwarden.colour.paper import reflectance_of_ks
from lampwarden.colour.spaces import to_lab
from lampwarden.colour.spectra import xyz_of_reflectance
from lampwarden.domain.reading import CellColour, Reading
from lampwarden.domain.sheet import Cell, Ink, Sheet, Treatment

NM = np.arange(400.0, 701.0, 10.0)
YELLOW = np.exp(-(NM - 400) / 70)
HOURS = (0, 1, 2, 4, 8, 16, 24)
J_CM2_PER_H = 30.0


def paper_lab(matter):
    """L*, a*, b* of paper with a share of its coloured matter left."""
    return to_lab(xyz_of_reflectance(NM, 100 * reflectance_of_ks(0.01 + 0.9 * matter * YELLOW)))


@dataclass
class Bench:
    """A sheet, what its cells truly do, and readings of it."""

    cells: list[Cell]
    rate: dict[str, float] = field(default_factory=dict)
    """Share of the matter that goes, per J/cm2, while some can go."""
    floor: float = 0.3
    at_once: dict[str, float] = field(default_factory=dict)
    """Share of the matter that a bath takes right after the baseline."""
    returns: float = 0.0
    """Share of what went that comes back, with a time of 10 days, after 24 h."""
    ink_fades: float = 0.0
    """ΔL* of ink cells by the end."""
    u_lab: tuple[float, float, float] = (0.2, 0.15, 0.25)
    limit: float = 0.9
    light_h: dict[str, float] = field(default_factory=dict)
    inks: tuple[str, ...] = ("vermilion",)

    @property
    def sheet(self):
        return Sheet(id="bill", title="Playbill", inks=tuple(Ink(name=i) for i in self.inks), cells=tuple(self.cells))

    def dose(self, cell, hour):
        return J_CM2_PER_H * min(hour, self.light_h.get(cell, 0.0))

    def matter(self, cell, hour):
        left = 1 - self.at_once.get(cell, 0.0) * (hour > 0)
        left = self.floor + (left - self.floor) * np.exp(-self.rate.get(cell, 0.0) * self.dose(cell, hour))
        back = self.returns * -np.expm1(-max(hour - 24, 0) / 240)
        return left + back * (1 - left)

    def lab(self, cell, hour):
        if cell.role == "ink watch":
            return np.array([55.0, 45, 30]) + np.array([1, -1, -1]) * self.ink_fades * min(hour, 8) / 8
        return paper_lab(self.matter(cell.name, hour))

    def reading(self, hour, rng=None, offset=(0, 0, 0), **more):
        def colour(name, lab):
            noise = rng.standard_normal(3) * self.u_lab if rng is not None else 0.0
            return CellColour(cell=name, lab_d50=tuple(lab + noise + offset), u_lab=self.u_lab, u_abs_de00=0.5)

        start = np.datetime64("2026-05-01T06:00:00") + np.timedelta64(round(hour * 3600), "s")
        details = {
            "id": f"r{hour:g}",
            "sheet": "bill",
            "checkpoint": "baseline" if hour == 0 else f"{hour:g} h",
            "taken_utc": f"{start}Z",
            "session_s": hour * 3600 if hour <= 24 else None,
            "way": "fixed",
            "cells": tuple(colour(cell.name, self.lab(cell, hour)) for cell in self.cells),
            "swatches": tuple(colour(f"dark-{i}", paper_lab(1.0)) for i in (1, 2)),
            "detection_limit_de00": self.limit,
        }
        return Reading(**{**details, **more})

    def doses(self, hours):
        return {f"r{hour:g}": {cell.name: self.dose(cell.name, hour) for cell in self.cells} for hour in hours}

    def read(self, seed=None, hours=HOURS):
        """Readings and doses at these hours; without a seed there is no noise in them."""
        rng = None if seed is None else np.random.default_rng(seed)
        return [self.reading(hour, rng) for hour in hours], self.doses(hours)


def make_cell(name, zone=None, role="test", block=1, ink="", **treatment):
    place = {"x_mm": 20 * (int(name[1:]) - 1), "y_mm": 20 * "ABCDEFGH".index(name[0]), "width_mm": 10, "height_mm": 10}
    return Cell(
        name=name, zone=zone or name, role=role, block=block, ink=ink, treatment=Treatment(**treatment), **place
    )


@pytest.fixture
def cell():
    return make_cell


@pytest.fixture
def bench():
    """Light for 2, 4 and 8 h, 3 % peroxide with and without light, a covered control, a watched ink."""
    bath = {"chemical": "hydrogen peroxide", "strength_pct": 3, "wet_min": 30}
    cells = [
        make_cell("A1", light=True),
        make_cell("A2", light=True),
        make_cell("A3", light=True),
        make_cell("B1", light=True, **bath),
        make_cell("B2", **bath),
        make_cell("B3", role="control", covered=True),
        make_cell("B4", zone="A3", role="ink watch", ink="vermilion", light=True),
    ]
    hours = {"A1": 2, "A2": 4, "A3": 8, "B1": 8, "B4": 8}
    rate = dict.fromkeys(("A1", "A2", "A3", "B1"), 0.015)
    return Bench(cells, rate=rate, light_h=hours, at_once={"B1": 0.2, "B2": 0.2})
