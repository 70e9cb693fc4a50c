"""A chamber of six zones with places and leaks, a sheet on it, and the ready trial as a plan."""

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from lampwarden.domain.chamber import Calibration, Chamber, Leak, Place, Zone
from lampwarden.domain.plan import Plan
from lampwarden.domain.sheet import Ink, InkKind, PaperKind
from lampwarden.planning.patterns import light_by_chemical
from lampwarden.planning.place import changed

STRENGTHS = {"A1": 84.0, "A2": 88.0, "A3": 83.0, "B1": 82.0, "B2": 87.0, "B3": 81.0}


@pytest.fixture
def chamber():
    return Chamber(
        id="demo",
        zones=tuple(
            Zone(
                name=name,
                bank=1 + n % 3,
                irradiance_w_m2=w,
                lamp_w=4.0,
                place=Place(x_mm=20 + 62 * (n % 3), y_mm=20 + 62 * (n // 3), width_mm=58, height_mm=58),
                calibration=Calibration(how="measured", instrument="photodiode, 2030", on="2031-02-01", at_lit_h=100),
            )
            for n, (name, w) in enumerate(STRENGTHS.items())
        ),
        leaks=tuple(Leak(**{"from": a, "to": b, "share": 0.004}) for a in STRENGTHS for b in STRENGTHS if a != b),
        power_w_max=30,
    )


@pytest.fixture
def morning():
    return datetime(2031, 3, 3, 8, 0, tzinfo=ZoneInfo("Europe/Berlin"))


@pytest.fixture
def trial(chamber):
    """Plan and sheet of the ready trial."""
    draft = light_by_chemical(chamber)
    sheet = changed(
        draft.sheet,
        id="ferry-timetable",
        paper=PaperKind.GROUNDWOOD,
        inks=(Ink(name="black", kind=InkKind.CARBON_BLACK), Ink(name="vermilion", kind=InkKind.ORGANIC_RED_YELLOW)),
        original=False,
        consent=True,
    )
    plan = Plan(id="ferries", title="Ferries", chamber="demo", sheet=sheet.id, program=draft.program)
    return plan, sheet
