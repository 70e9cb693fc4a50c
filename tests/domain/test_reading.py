"""A colour reading: what is accepted, and that it survives being kept as text."""

import math

import pytest
from pydantic import ValidationError

from lampwarden.domain.reading import CellColour, Reading, Way


def colour(cell="A1", **more):
    return CellColour(
        **{"cell": cell, "lab_d50": (82.0, 2.5, 18.0), "u_lab": (0.2, 0.1, 0.3), "u_abs_de00": 0.8} | more
    )


def reading(**more):
    plain = {
        "id": "r1",
        "sheet": "trial",
        "taken_utc": "2024-05-01T10:00:00Z",
        "way": Way.FIXED,
        "detection_limit_de00": 1.3,
        "cells": (colour("A1"), colour("A2", usable=False, marks=("A glare lies on it.",))),
    }
    return Reading(**plain | more)


def test_kept_as_text_it_comes_back_the_same():
    taken = reading(photos=("ab" * 32,), swatches=(colour("dark-1", r457_pct=48.0, r457_u_pct=1.5),), session_s=3600.0)
    assert Reading.model_validate_json(taken.model_dump_json()) == taken


def test_a_cell_by_name():
    taken = reading(swatches=(colour("dark-1"),))
    assert taken.cell("A2") is taken.cells[1]
    assert taken.cell("dark-1") is taken.swatches[0]
    assert taken.cell("B1") is None


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"refused": "Fewer than 3 markers."}, "a refused reading has no cells"),
        ({"swatches": (colour("A1"),)}, "twice"),
        ({"photos": ("photo.jpg",)}, "photos"),
        ({"way": "guess"}, "way"),
        ({"detection_limit_de00": math.nan}, "detection_limit"),
        ({"dose_j_cm2": 3.0}, "dose_j_cm2"),
    ],
)
def test_a_reading_that_cannot_be(more, says):
    with pytest.raises(ValidationError, match=says):
        reading(**more)


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"r457_pct": 48.0}, "belong together"),
        ({"lab_d50": (math.nan, 0.0, 0.0)}, "lab_d50"),
        ({"u_lab": (0.1, -0.1, 0.1)}, "u_lab"),
        ({"spread_de00": math.inf}, "spread_de00"),
    ],
)
def test_a_colour_that_cannot_be(more, says):
    with pytest.raises(ValidationError, match=says):
        colour(**more)
