"""Photos are read as well as the goals say: a pair of two cases here, 200 of each in the long form."""

import os

import numpy as np
import pytest

from . import photos

LONG = bool(os.environ.get("LAMPWARDEN_LONG"))


@pytest.mark.timeout(14_400 if LONG else 120)
@pytest.mark.parametrize("name", photos.CASES if LONG else ["phone, one JPEG", "fixed, one JPEG"])
def test_goals(name):
    if LONG:
        found = photos.collect(name, range(photos.FIRST, photos.FIRST + 200), jobs=os.cpu_count() or 1)
        assert photos.missed(name, found) == []
        assert found.refused < 30
    else:
        found = photos.collect(name, (5,), size=(1200, 900))
        case = photos.CASES[name]
        assert found.refused + found.marked == 0
        assert max(found.absolute) < 1.5 * case.absolute[1]
        assert max(found.change) < case.change[1]
        assert np.mean(found.covered_change) > 0.8


def test_missed_goals_are_told():
    """The judge itself: errors above the goals and uncertainties that are too wide or too narrow are found."""
    found = photos.Figures(
        absolute=[2.0], change=[2.0], unchanged=[3.0], covered_change=[1.0] * 100, covered_colour=[1.0] * 8 + [0.0] * 2
    )
    said = photos.missed("phone, one JPEG", found)
    assert [line.split(":")[0] for line in said] == [
        "absolute median", "absolute 95 %", "change median", "unchanged 95 %", "covered change", "covered colour",
    ]  # fmt: skip
