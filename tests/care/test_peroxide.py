"""Peroxide: what is refused, what must be confirmed, and that nothing ever suggests more than 3 %."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lampwarden.care import cautions, peroxide
from lampwarden.care.defaults import DEFAULTS, WORKING_PCT, WORKING_PCT_MAX
from lampwarden.care.peroxide import Additive, Confirmation, Tray, check_bath, confirmation_sentence, dilute
from lampwarden.domain.sheet import Sheet, Treatment
from lampwarden.errors import ProgramError

BATH = Treatment(chemical="hydrogen peroxide", strength_pct=3, wet_min=20)


def agreed(pct, by="A. Tester"):
    return Confirmation(pct, confirmation_sentence(pct), by)


@given(st.floats(0.1, 50), st.floats(0.01, 1), st.floats(1, 5000))
def test_dilution_keeps_mass_and_peroxide(stock, share, total_g):
    made = dilute(stock, stock * share, total_g=total_g, confirmed=agreed(stock) if stock >= 8 else None)
    assert made.stock_g + made.water_g == pytest.approx(total_g)
    assert made.stock_g * stock == pytest.approx(total_g * stock * share)
    assert made.water_g >= 0


def test_a_total_by_volume_fills_the_volume():
    made = dilute(3, 1, total_ml=500)
    assert made.total_ml == pytest.approx(500)
    assert made.total_g == pytest.approx(501.1, abs=0.05)
    assert made.stock_ml == pytest.approx(501.1 / 3 / 1.0095, abs=0.05)
    assert made.text.startswith("For 501 g (500 mL) of 1 %: weigh 334.1 g of deionised water")


def test_the_strength_to_begin_with_is_one_per_cent():
    assert dilute(3, total_g=100).working_pct == WORKING_PCT.value == 1.0


@pytest.mark.parametrize(
    ("stock", "working", "total"),
    [
        (3, 0, 100),
        (0, 0, 100),
        (math.nan, 1, 100),
        (3, math.nan, 100),
        (60, 1, 100),
        (3, 4, 100),
        (3, 1, 0),
        (3, 1, math.nan),
    ],
)
def test_impossible_dilutions_are_refused(stock, working, total):
    with pytest.raises(ProgramError):
        dilute(stock, working, total_g=total)


def test_a_total_is_given_once():
    for totals in ({}, {"total_g": 1.0, "total_ml": 1.0}):
        with pytest.raises(ProgramError, match="either in g or in mL"):
            dilute(3, 1, **totals)


def test_up_to_eight_per_cent_nothing_needs_confirming():
    assert confirmation_sentence(7.99) is None
    assert dilute(7.99, 1, total_g=100).stock_g == pytest.approx(12.5, abs=0.05)


@pytest.mark.parametrize("strength", [8, 12, 35])
def test_from_eight_per_cent_a_person_must_confirm(strength):
    with pytest.raises(ProgramError, match="damages eyes") as error:
        dilute(strength, 1, total_g=100)
    assert confirmation_sentence(strength) in str(error.value)
    assert dilute(strength, 1, total_g=100, confirmed=agreed(strength)).stock_pct == strength


@pytest.mark.parametrize(
    "confirmed",
    [
        agreed(9),
        agreed(12, by=" "),
        Confirmation(12, "yes", "A. Tester"),
        Confirmation(12, confirmation_sentence(9), "A"),
    ],
)
def test_a_confirmation_must_be_whole(confirmed):
    with pytest.raises(ProgramError, match="confirm by name"):
        dilute(12, 1, total_g=100, confirmed=confirmed)


def test_an_unknown_strength_is_never_taken_for_a_weak_one():
    with pytest.raises(ProgramError):
        peroxide.require_confirmation(math.nan, None)
    with pytest.raises(ProgramError):
        peroxide.strength_cautions(math.nan)


@pytest.mark.parametrize(
    ("strength", "words"),
    [
        (3, []),
        (3.5, ["stronger than paper needs"]),
        (6, ["stronger than paper needs", "H319"]),
        (12, ["stronger than paper needs", "H318", "H272"]),
        (12.5, ["stronger than paper needs", "licence", "H318", "H272"]),
    ],
)
def test_strength_speaks_from_above_three_per_cent(strength, words):
    said = peroxide.strength_cautions(strength)
    assert len(said) == len(words)
    for statement, word in zip(said, words, strict=True):
        assert word in statement.text


def test_nothing_ever_suggests_more_than_three_per_cent():
    """Every strength in words of advice, through all strengths and the whole sheet of cautions."""
    advice = re.compile(r"(?:[Bb]egin with|[Bb]uy|[Tt]ake|go above|usual are 0\.5 to|use)\s+(\d+(?:\.\d+)?) %")
    texts = [s.text for pct in (1, 3, 4, 8, 13, 35, 50) for s in peroxide.strength_cautions(pct)]
    sheet = Sheet(id="t", title="t")
    texts += [c.statement.text for pct in (1, 3, 12, 40) for c in cautions.cautions(sheet, [bath_of(pct)])]
    found = [float(number) for text in texts for number in advice.findall(text)]
    assert len(found) > 10
    assert max(found) == WORKING_PCT_MAX.value == 3.0


def bath_of(pct):
    return Treatment(chemical="hydrogen peroxide", strength_pct=pct)


@pytest.mark.parametrize(
    ("name", "is_it"),
    [
        ("hydrogen peroxide", True),
        ("H2O2", True),
        ("H₂O₂ bath", True),
        ("Peroxide", True),
        ("calcium hydroxide", False),
    ],
)
def test_peroxide_is_known_by_its_names(name, is_it):
    assert peroxide.is_peroxide(Treatment(chemical=name, strength_pct=1)) is is_it
    assert not peroxide.is_peroxide(Treatment(light=True))


@pytest.mark.parametrize("tray", [Tray.METAL, Tray.UNKNOWN])
def test_only_glass_and_plastic_trays_pass(tray):
    check_bath(Tray.GLASS)
    check_bath(Tray.PLASTIC, [Additive.WATER, Additive.CALCIUM_HYDROXIDE, Additive.AMMONIA])
    with pytest.raises(ProgramError, match="glass or plastic tray"):
        check_bath(tray)


@pytest.mark.parametrize(
    "additive", [Additive.ACID, Additive.ACETONE, Additive.OTHER_BLEACH, Additive.METAL_SALT, Additive.UNKNOWN]
)
def test_dangerous_mixtures_are_refused(additive):
    with pytest.raises(ProgramError, match="Do not mix peroxide with"):
        check_bath(Tray.GLASS, [Additive.WATER, additive])


def test_every_default_has_a_name_a_unit_and_a_source():
    assert len({d.name for d in DEFAULTS}) == len(DEFAULTS) > 10
    assert all(d.unit and d.source for d in DEFAULTS)
