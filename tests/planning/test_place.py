"""Cells on zones, and treatments by hand or by lot."""

from collections import Counter

import pytest

from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.domain.sheet import Sheet, Treatment
from lampwarden.errors import ProgramError
from lampwarden.planning.place import Arm, assign, blocks_of, draw, on_zones

LIGHT = Treatment(light=True)
BATH = Treatment(chemical="hydrogen peroxide", strength_pct=3)
ARMS = [
    Arm("control", Treatment(), control=True),
    Arm("light", LIGHT, dose_j_cm2=60),
    Arm("bath", BATH),
]


@pytest.fixture
def sheet():
    return Sheet(id="s", title="s", width_mm=240, height_mm=160)


@pytest.mark.parametrize("per_zone", range(1, 10))
def test_cells_lie_inside_their_zone_and_apart(chamber, sheet, per_zone):
    laid = on_zones(chamber, sheet, ["A1", "B3"], per_zone, share=0.9)
    assert Counter(c.zone for c in laid.cells) == {"A1": per_zone, "B3": per_zone}
    # The chamber's zones cover 20..202 by 20..140 mm; on a sheet of 240 x 160 their middle is its middle.
    for cell in laid.cells:
        left = {"A1": 29, "B3": 153}[cell.zone]
        top = {"A1": 20, "B3": 82}[cell.zone]
        assert left <= cell.x_mm <= left + 58 - cell.width_mm
        assert top <= cell.y_mm <= top + 58 - cell.height_mm
    for one in laid.cells:
        for other in laid.cells:
            beside = abs(one.x_mm - other.x_mm) - one.width_mm
            above = abs(one.y_mm - other.y_mm) - one.height_mm
            assert one is other or max(beside, above) >= 8


def test_zones_without_a_place_stand_in_rows(sheet):
    chamber = Chamber(zones=tuple(Zone(name=f"zone {n}", irradiance_w_m2=80) for n in range(1, 6)))
    laid = on_zones(chamber, sheet)
    assert [c.name for c in laid.cells] == ["Z1", "Z2", "Z3", "Z4", "Z5"]
    assert [len(row) for row in blocks_of(laid, "rows").values()] == [3, 2]
    assert [len(column) for column in blocks_of(laid, "columns").values()] == [2, 2, 1]


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"zones": ["C1"]}, "no zone 'C1'"),
        ({"zones": ["A1", "A1"]}, "only once"),
        ({"zones": []}, "at least one"),
        ({"per_zone": 0}, "1 to 9 cells"),
        ({"per_zone": 9, "share": 0.2}, "too small for 9 cells"),
    ],
)
def test_what_cannot_be_laid_out(chamber, sheet, more, says):
    with pytest.raises(ProgramError, match=says):
        on_zones(chamber, sheet, **more)


def test_treatments_by_hand_count_replicates_and_drop_the_seed(chamber, sheet):
    laid = draw(on_zones(chamber, sheet), ARMS, 7, "rows").sheet
    assert laid.layout_seed == 7
    given = assign(laid, ["A1", "A2"], LIGHT, "test")
    assert given.layout_seed is None
    lit = [c for c in given.cells if c.treatment == LIGHT]
    assert [c.replicate for c in lit] == list(range(1, len(lit) + 1))
    with pytest.raises(ProgramError, match="no cell 'C9'"):
        assign(laid, ["C9"], LIGHT)


def test_a_lot_is_drawn_once_in_each_block_and_the_same_again(chamber, sheet):
    laid = on_zones(chamber, sheet)
    drawn = draw(laid, ARMS, 11, "rows")
    assert drawn == draw(laid, ARMS, 11, "rows")
    for row in blocks_of(laid, "rows").values():
        assert {drawn.arms[name] for name in row} == {"control", "light", "bath"}
    assert [c.block for c in drawn.sheet.cells] == [1, 1, 1, 2, 2, 2]
    assert {drawn.arms[c.name] for c in drawn.sheet.cells if c.role == "control"} == {"control"}
    lit = {c.zone for c in drawn.sheet.cells if c.treatment.light}
    assert {zone: dose for zone, dose in drawn.dose_j_cm2.items() if dose} == dict.fromkeys(lit, 60)
    assert "seed 11" in drawn.method
    others = {tuple(draw(laid, ARMS, seed, "rows").arms.values()) for seed in range(40)}
    assert len(others) > 15


def test_one_block_repeats_its_arms_as_often_as_they_fit(chamber, sheet):
    drawn = draw(on_zones(chamber, sheet), ARMS, 3)
    assert Counter(drawn.arms.values()) == {"control": 2, "light": 2, "bath": 2}
    assert {c.replicate for c in drawn.sheet.cells} == {1, 2}
    with pytest.raises(ProgramError, match="Give each block one place per arm"):
        draw(on_zones(chamber, sheet, ["A1", "A2", "A3", "B1"]), ARMS, 3)


def test_a_latin_square_has_each_arm_once_in_row_and_column(chamber, sheet):
    laid = on_zones(chamber, sheet, ["A1", "A2", "B1", "B2"])
    drawn = draw(laid, ARMS[:2], 5, square=True)
    for line in (*blocks_of(laid, "rows").values(), *blocks_of(laid, "columns").values()):
        assert {drawn.arms[name] for name in line} == {"control", "light"}
    with pytest.raises(ProgramError, match="need 3 rows of 3 places"):
        draw(laid, ARMS, 5, square=True)


def test_a_dark_cell_under_a_lit_zone_is_covered(chamber, sheet):
    laid = on_zones(chamber, sheet, ["A1"], per_zone=3, share=0.9)
    drawn = draw(laid, ARMS, 2)
    by_arm = {drawn.arms[c.name]: c.treatment for c in drawn.sheet.cells}
    assert by_arm["light"] == LIGHT
    assert by_arm["control"].covered
    assert by_arm["bath"].covered
    two = [Arm("short", LIGHT, 30), Arm("long", LIGHT, 60)]
    with pytest.raises(ProgramError, match="at once"):
        draw(on_zones(chamber, sheet, ["A1"], per_zone=2, share=0.9), two, 2)
