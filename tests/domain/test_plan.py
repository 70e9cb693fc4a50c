"""What a plan and a described chamber refuse, and the sentence a person gets."""

from datetime import UTC, date, time

import pytest
from pydantic import ValidationError

from lampwarden.domain.chamber import Calibration, Chamber, Leak, Zone
from lampwarden.domain.plan import Plan
from lampwarden.domain.program import Exposure, Program, ZonePlan
from lampwarden.domain.sheet import Cell, Sheet

PROGRAM = Program(title="Short", zones=(ZonePlan(zone="A", exposures=(Exposure(start=0, end=60),)),))
PAIR = (Zone(name="A", irradiance_w_m2=80), Zone(name="B", irradiance_w_m2=80))


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"leaks": (Leak(from_zone="A", to_zone="C", share=0.1),)}, "two different zones"),
        ({"leaks": (Leak(from_zone="A", to_zone="A", share=0.1),)}, "two different zones"),
        ({"leaks": (Leak(from_zone="A", to_zone="B", share=0.1),) * 2}, "given twice"),
        ({"camera": "take-photo"}, "must contain {file}"),
    ],
)
def test_a_chamber_refuses(changes: dict[str, object], says: str) -> None:
    with pytest.raises(ValidationError, match=says):
        Chamber(zones=PAIR, **changes)


def test_a_measurement_names_its_instrument() -> None:
    with pytest.raises(ValidationError, match="needs its 'instrument'"):
        Calibration(how="measured", on=date(2026, 5, 4))
    assert Calibration(how="measured", instrument="thermopile", on=date(2026, 5, 4)).on == date(2026, 5, 4)


def test_a_plan_names_cells_of_its_sheet() -> None:
    plan = Plan(id="p", title="Trial", chamber="c", sheet="s", program=PROGRAM, arms={"X1": "light"})
    cell = Cell(name="A1", zone="A", x_mm=0, y_mm=0, width_mm=30, height_mm=30)
    assert "'X1'" in plan.fits(Sheet(id="s", title="Sheet", cells=(cell,)))[0]
    assert "no sheet 's'" in plan.fits(None)[0]


def test_sleeping_hours_have_no_zone() -> None:
    with pytest.raises(ValidationError, match="without a zone"):
        Plan(id="p", title="Trial", chamber="c", program=PROGRAM, sleep_from=time(22, 0, tzinfo=UTC))
