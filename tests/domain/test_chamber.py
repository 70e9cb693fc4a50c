"""A chamber's description: what is accepted, and what a wrong one says."""

import math

import pytest
from pydantic import ValidationError

from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.domain.program_file import parse_as
from lampwarden.errors import ProgramError


def zone(name="A", **more):
    return Zone(**{"name": name, "irradiance_w_m2": 100.0} | more)


def test_banks_and_names():
    chamber = Chamber(zones=(zone("A"), zone("B", bank=3), zone("Left edge", bank=2)))
    assert chamber.bank_count == 3
    assert chamber.zone_index("Left edge") == 2
    with pytest.raises(KeyError, match="C"):
        chamber.zone_index("C")


def test_two_zones_of_one_name():
    with pytest.raises(ValidationError, match="two zones are called 'A'; give each its own name"):
        Chamber(zones=(zone("A"), zone("A")))


@pytest.mark.parametrize("count", [0, 9])
def test_one_to_eight_zones(count):
    with pytest.raises(ValidationError, match="zones"):
        Chamber(zones=tuple(zone(f"Z{n}") for n in range(count)))


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("irradiance_w_m2", 0.0),
        ("irradiance_w_m2", -5.0),
        ("irradiance_w_m2", 5000.1),
        ("irradiance_w_m2", math.nan),
        ("irradiance_w_m2", math.inf),
        ("peak_nm", 399.9),  # ultraviolet
        ("peak_nm", 700.1),
        ("peak_nm", math.nan),
        ("bank", 0),
        ("bank", 9),
        ("bank", 1.5),
        ("name", ""),
        ("name", " A"),
        ("name", "A "),
        ("name", "A" * 41),
        ("name", "A\nB"),
        ("colour", "blue"),
    ],
)
def test_a_zone_that_cannot_be(field, value):
    with pytest.raises(ValidationError, match=field):
        zone(**{field: value})


@pytest.mark.parametrize("name", ["A", "Left edge", "Ü 1", "A" * 40])
def test_names_that_are_fine(name):
    assert zone(name).name == name


@pytest.mark.parametrize("key", ["", "Chamber", "a b", "-a", "a" * 33, "ä"])
def test_a_chamber_id_that_is_no_address(key):
    with pytest.raises(ValidationError, match="id"):
        Chamber(id=key, zones=(zone(),))


def test_a_chamber_never_changes():
    chamber = Chamber(zones=(zone(),))
    with pytest.raises(ValidationError, match="frozen"):
        chamber.title = "Other"


def test_a_chamber_file_names_line_and_key():
    zones = '[[zones]]\nname = "A"\nirradiance_w_m2 = 80\n\n[[zones]]\nname = "B"\nirradiance_w_m2 = -1\n'
    text = f'title = "Bench"\n\n{zones}'
    with pytest.raises(ProgramError) as mistake:
        parse_as(Chamber, text, "chamber.toml")
    assert str(mistake.value) == (
        "chamber.toml, line 9, zones[2].irradiance_w_m2: this should be greater than 0, not -1."
    )
    assert parse_as(Chamber, text.replace("-1", "60"), "chamber.toml").zones[1].irradiance_w_m2 == 60
