"""Stray light from zone to zone."""

import pytest

from lampwarden.errors import ProgramError
from lampwarden.light.leakage import leakage

ZONES = ("A1", "A2", "A3")
SHARES = {
    ("A1", "A2"): 0.02,
    ("A2", "A1"): 0.01,
    ("A2", "A3"): 0.01,
    ("A3", "A2"): 0.02,
    ("A1", "A3"): 0,
    ("A3", "A1"): 0,
}


def test_every_place_gets_its_own_light_and_its_neighbours_share():
    spread = leakage({zone: zone for zone in ZONES}, ZONES, SHARES)
    assert spread.received([100, 200, 0]).tolist() == pytest.approx([104, 201, 4])
    assert spread.unmeasured == ()


def test_cells_get_the_light_of_the_zone_they_lie_in():
    spread = leakage({"left": "A1", "right": "A1"}, ZONES, {("right", "A2"): 0.1})
    assert spread.received([100, 50, 0]).tolist() == pytest.approx([100, 105])
    assert set(spread.unmeasured) == {("left", "A2"), ("left", "A3"), ("right", "A3")}


def test_a_dark_control_beside_a_lit_zone_speaks_up():
    # 1 W/m2 for 8 h beside a zone of 100 W/m2: 2.9 J/cm2 (hardware_notes/calibration.md).
    spread = leakage({"A1": "A1", "A2": "A2"}, ("A1", "A2"), {("A2", "A1"): 0.01, ("A1", "A2"): 0.01})
    (said,) = spread.cautions([288.0, 0.0])
    assert said == (
        "'A2' is meant to stay dark but gets 2.9 J/cm² of its neighbours' light."
        " Cover it with black, opaque sheet, or put a wall between."
    )


def test_a_lit_zone_speaks_up_only_above_one_per_cent_of_its_own():
    spread = leakage({zone: zone for zone in ZONES}, ZONES, SHARES)
    assert spread.cautions([100, 100, 100]) == [
        "'A1' gets 102.0 J/cm² and not 100.0: 2.0 J/cm² leak in from neighbours.",
        "'A2' gets 102.0 J/cm² and not 100.0: 2.0 J/cm² leak in from neighbours.",
        "'A3' gets 102.0 J/cm² and not 100.0: 2.0 J/cm² leak in from neighbours.",
    ]
    assert list(spread.stray([100, 0, 0])) == ["A2"]
    assert spread.cautions([0, 0, 0]) == []


def test_what_nobody_measured_is_said():
    spread = leakage({zone: zone for zone in ZONES}, ZONES, {})
    assert spread.cautions([100, 0, 0])[-1].startswith("6 leaks between zones not measured")


@pytest.mark.parametrize(
    ("shares", "words"),
    [
        ({("A1", "B9"): 0.1}, "no such zone"),
        ({("B9", "A1"): 0.1}, "no such zone"),
        ({("A1", "A1"): 0.1}, "this is no leak"),
        ({("A1", "A2"): 1.1}, "from 0 to 1"),
        ({("A1", "A2"): float("nan")}, "from 0 to 1"),
    ],
)
def test_wrong_shares_are_refused(shares, words):
    with pytest.raises(ProgramError, match=words):
        leakage({zone: zone for zone in ZONES}, ZONES, shares)


def test_a_cell_in_no_zone_is_refused():
    with pytest.raises(ProgramError, match="lies in zone 'B9'"):
        leakage({"x": "B9"}, ZONES, {})
