"""Drift of what should not change, and inks against their limit."""

import numpy as np
import pytest

from lampwarden.findings.change import series
from lampwarden.findings.watch import drift, ink_watch, is_real

CHANCE = 0.007


def newest(bench, readings, name, *, swatch=False):
    return series(name, readings, {}, swatch=swatch).changes[-1]


def checked(bench, readings):
    swatches = [newest(bench, readings, name, swatch=True) for name in ("dark-1", "dark-2")]
    return drift(swatches, [newest(bench, readings, "B3")], CHANCE)


def test_nothing_moved(bench):
    of = checked(bench, bench.read(1)[0])
    assert (of.moved, of.floor_de00) == ((), 0.0)
    assert of.sentence.startswith("What should not change did not: dark-1, dark-2 and B3")


def test_a_camera_that_drifts_moves_everything_and_nothing_is_subtracted(bench):
    readings = [bench.reading(0), bench.reading(8, offset=(1.5, 0, 2.0))]
    of = checked(bench, readings)
    assert of.moved == ("dark-1", "dark-2", "B3")
    assert of.floor_de00 == pytest.approx(of.swatches[0].de00.value)
    assert of.photos == ("r8",)
    assert "photograph again" in of.sentence
    assert "Nothing was subtracted" in of.sentence
    unmoved = series("B3", readings, {}).changes[-1]
    assert not is_real(unmoved, CHANCE, of.floor_de00)


def test_a_control_that_moves_alone_points_to_warmth_or_stray_light(bench):
    bench.at_once["B3"] = 0.4
    of = checked(bench, bench.read()[0])
    assert (of.moved, of.photos) == (("B3",), ())
    assert "may have changed the control itself" in of.sentence


def test_swatches_that_looked_different_once_are_named(bench):
    readings = [bench.reading(0), bench.reading(4, offset=(2, 0, 2)), bench.reading(8)]
    odd, last = series("dark-1", readings, {}, swatch=True).changes
    of = drift([last], [], CHANCE, [odd])
    assert (of.moved, of.photos, of.floor_de00) == ((), ("r4",), 0.0)
    assert "looked different at r4" in of.sentence


def test_without_control_and_swatches_it_says_what_that_means():
    assert "cannot be told from an effect" in drift([], [], CHANCE).sentence


def test_a_control_alone_cannot_tell_drift_from_warmth(bench):
    bench.at_once["B3"] = 0.4
    of = drift([], [newest(bench, bench.read()[0], "B3")], CHANCE)
    assert "Without swatches" in of.sentence


def ink(bench, fades, u=0.2, floor=0.0, seed=None):
    bench.ink_fades, bench.u_lab, bench.limit = fades, (u, u, u), 4.5 * u
    readings = bench.read(seed)[0]
    cell = next(cell for cell in bench.cells if cell.role == "ink watch")
    return ink_watch(cell, newest(bench, readings, "B4"), 1.6, CHANCE, floor)


@pytest.mark.parametrize(
    ("fades", "u", "over", "fading", "words"),
    [
        (5.0, 0.2, True, True, "it is fading and over its limit"),
        (1.8, 0.25, None, True, "it may be over its limit"),
        (1.35, 0.25, None, False, "it may be over its limit"),
        (0.3, 0.1, False, False, "is under its limit"),
        (0.5, 0.8, None, False, "cannot tell whether it is over its limit"),
    ],
)
def test_an_ink_against_its_limit(bench, fades, u, over, fading, words):
    of = ink(bench, fades, u)
    assert (of.over, of.fading) == (over, fading)
    assert words in of.sentence
    assert "vermilion" in of.sentence
    assert "limit 1.6" in of.sentence


def test_an_ink_that_does_not_fade_is_hardly_ever_said_to(bench):
    assert np.mean([ink(bench, 0.0, seed=seed).fading for seed in range(60)]) <= 1 / 60


def test_an_ink_is_not_blamed_for_drift(bench):
    assert not ink(bench, 3.0, floor=5.0).fading
