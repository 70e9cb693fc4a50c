"""Each advice for what truly happens, with its reason in numbers."""

import re
from dataclasses import replace

import numpy as np
import pytest

from lampwarden.findings.advice import Advice, Kind, cell_advice, sheet_advice
from lampwarden.findings.change import series
from lampwarden.findings.course import course
from lampwarden.findings.defaults import Settings
from lampwarden.findings.watch import drift, ink_watch

from .conftest import HOURS

CHANCE = 0.007
STEADY = drift([], [], CHANCE)


def advised(bench, name="A3", seed=None, hours=HOURS, check=STEADY, **settings):
    readings, doses = bench.read(seed, hours)
    of = series(name, readings, doses)
    return cell_advice(of, course(of), Settings(**settings), CHANCE, check)


def test_a_cell_that_still_gains_goes_on(bench):
    bench.rate["A3"] = 0.005
    of = advised(bench)
    assert of.kind is Kind.GO_ON
    assert re.search(r"whiter by \d\.\d ± \d\.\d ΔE00 after 240 J/cm²", of.reason)
    assert re.search(r"120 J/cm² more would bring \d\.\d \(\d\.\d to \d\.\d\)", of.reason)


def test_a_cell_on_its_plateau_has_nothing_more_to_gain(bench):
    bench.rate["A3"] = 0.03
    of = advised(bench)
    assert of.kind is Kind.ENOUGH
    assert "less than 1 ΔE00" in of.reason


def test_the_plateau_rule_is_the_persons(bench):
    bench.rate["A3"] = 0.012
    assert advised(bench, plateau_de00=3.0).kind is Kind.ENOUGH
    assert advised(bench, plateau_de00=0.2).kind is Kind.GO_ON


def test_paper_that_gets_darker(bench):
    bench.rate["A3"], bench.floor = 0.01, 1.4
    of = advised(bench)
    assert of.kind is Kind.DARKER
    assert re.search(r"darker or yellower than before, by \d\.\d", of.reason)


def test_paper_that_turns_back_under_light(bench):
    # Whiter until 4 h, then darker: what comes back does so while the dose still grows.
    bench.rate["A3"] = 0.03
    readings, doses = bench.read(hours=(0, 1, 2, 4))
    late = bench.reading(8)
    bench.rate["A3"] = 0.005
    late = bench.reading(8)
    of = series("A3", [*readings, late], {**doses, **bench.doses((8,))})
    found = cell_advice(of, course(of), Settings(), CHANCE, STEADY)
    assert found.kind is Kind.DARKER
    assert "was whiter after 120 J/cm²" in found.reason


def test_colour_that_comes_back_in_the_dark_is_not_getting_darker(bench):
    bench.rate["A1"], bench.returns = 0.03, 0.6
    assert advised(bench, "A1", hours=(*HOURS, 300, 900)).kind is not Kind.DARKER


def test_no_change_is_no_plateau(bench):
    bench.rate["A3"] = 0.0
    of = advised(bench, seed=3)
    assert of.kind is Kind.UNCLEAR
    assert "No change of A3 is found" in of.reason
    assert "detection limit of 0.9" in of.reason


def test_a_small_first_step_is_no_plateau(bench):
    bench.rate["A3"] = 0.002
    kinds = {advised(bench, seed=seed, hours=(0, 1, 2)).kind for seed in range(20)}
    assert Kind.ENOUGH not in kinds


def test_a_change_within_the_drift_is_not_laid_to_light(bench):
    of = advised(bench, check=replace(STEADY, floor_de00=20.0))
    assert of.kind is Kind.UNCLEAR
    assert "No change of A3 is found" in of.reason


def test_no_course_is_told_through_photos_that_moved(bench):
    of = advised(bench, check=replace(STEADY, photos=("r4",)))
    assert of.kind is Kind.UNCLEAR
    assert "photograph again" in of.reason
    assert advised(bench, check=replace(STEADY, photos=("r24",))).kind is Kind.ENOUGH


def test_a_change_of_hue_is_not_whitening(bench):
    readings, doses = bench.read()
    hue = [
        r.model_copy(
            update={
                "cells": tuple(
                    c.model_copy(update={"lab_d50": (80.0, 3.0 + 4 * (r.id != "r0"), 20.0)}) for c in r.cells
                )
            }
        )
        for r in readings
    ]
    of = series("A3", hue, doses)
    found = cell_advice(of, course(of), Settings(), CHANCE, STEADY)
    assert found.kind is Kind.UNCLEAR
    assert "not towards white" in found.reason


def test_one_dose_says_nothing_of_a_plateau(bench):
    of = advised(bench, hours=(0, 8))
    assert of.kind is Kind.UNCLEAR
    assert "two doses or more" in of.reason


def test_readings_that_follow_no_approach_say_so(bench):
    bench.u_lab = (0.02, 0.02, 0.02)
    readings, doses = bench.read()
    bench.rate["A3"] = 0.03
    readings[2] = bench.reading(2)
    of = series("A3", readings, doses)
    assert "do not follow a plain approach" in cell_advice(of, course(of), Settings(), CHANCE, STEADY).reason


def test_the_sheet_gets_the_gravest():
    def one(kind, name):
        return Advice(kind, (name,), f"{name} {kind}.")

    go, enough, dark = one(Kind.GO_ON, "A1"), one(Kind.ENOUGH, "A2"), one(Kind.DARKER, "A3")
    assert sheet_advice([enough, go], []).kind is Kind.GO_ON
    assert sheet_advice([enough, enough], []).kind is Kind.ENOUGH
    assert sheet_advice([enough, one(Kind.UNCLEAR, "A4")], []).kind is Kind.UNCLEAR
    of = sheet_advice([enough, go, dark], [])
    assert (of.kind, of.cells) == (Kind.DARKER, ("A3",))
    assert "A2 nothing more to gain and A1 go on" in of.reason
    assert sheet_advice([], []).kind is Kind.UNCLEAR


def test_a_fading_ink_comes_before_everything(bench):
    bench.ink_fades = 6.0
    watched = series("B4", bench.read()[0], {}).changes[-1]
    ink = ink_watch(next(c for c in bench.cells if c.name == "B4"), watched, 1.6, CHANCE, 0.0)
    of = sheet_advice([Advice(Kind.DARKER, ("A1",), "A1 is darker.")], [ink])
    assert (of.kind, of.cells) == (Kind.FADING, ("B4",))
    assert "The paper: A1 getting darker." in of.reason


@pytest.mark.parametrize(("rate", "wrong"), [(0.004, Kind.ENOUGH), (0.03, Kind.GO_ON)])
def test_advice_is_hardly_ever_the_wrong_one(bench, rate, wrong):
    bench.rate["A3"] = rate
    kinds = [advised(bench, seed=seed).kind for seed in range(40)]
    assert np.mean([kind is wrong for kind in kinds]) <= 2 / 40
    assert Kind.DARKER not in kinds
