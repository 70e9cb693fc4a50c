"""One treatment over several sheets whose true courses are known: the sheet is the unit."""

import numpy as np
import pytest

from lampwarden.findings.conclude import conclude
from lampwarden.findings.sheets import alike, given, over_sheets

from .conftest import Bench, make_cell

LIGHT = "light, about 60 J/cm²"


def trial(rate: float, seed: int, hours: float = 2.0, control: bool = True) -> Bench:
    cells = [make_cell("A1", light=True), make_cell("A2", light=True)]
    cells.append(make_cell("B3", role="control", covered=True) if control else make_cell("B3", light=True))
    light_h = {"A1": hours, "A2": 8.0} | ({} if control else {"B3": 16.0})
    return Bench(cells, rate=dict.fromkeys(light_h, rate), light_h=light_h)


def found(benches):
    out = []
    for number, bench in enumerate(benches):
        readings, doses = bench.read(number)
        out.append((f"sheet-{number}", conclude(bench.sheet, None, readings, doses)))
    return out


def test_effects_are_those_of_each_sheet_and_the_mean_lies_among_them():
    sheets = found(trial(rate, n) for n, rate in enumerate((0.010, 0.015, 0.020, 0.025)))
    rows = {row.treatment: row for row in over_sheets(sheets)}
    assert set(rows) == {LIGHT, "light, about 240 J/cm²"}
    row = rows[LIGHT]
    for effect, (_, of) in zip(row.effects, sheets, strict=True):
        contrast = next(c for c in of.comparison.against_control if c.one == effect.arm)
        assert effect.difference == contrast.difference
        assert effect.low < effect.difference < effect.high
    values = [effect.difference for effect in row.effects]
    assert min(values) < row.mean < max(values)
    assert row.low < row.mean < row.high
    # What the sheets scatter is what they differ and what measuring adds; Student's t with 3 degrees of freedom: 3.182.
    measuring = np.sqrt(np.mean([effect.u**2 for effect in row.effects]))
    assert np.hypot(row.between, measuring) == pytest.approx(np.std(values, ddof=1), rel=0.1)
    assert row.high - row.mean == pytest.approx(3.182 * np.std(values, ddof=1) / 2, rel=0.1)
    assert rows["light, about 240 J/cm²"].verdict == "whiter"


@pytest.mark.parametrize(("count", "mean", "bounds", "says"), [
    (1, False, False, "one sheet only"),
    (2, True, False, "too few sheets to tell"),
    (3, True, True, "whiter"),
])  # fmt: skip
def test_few_sheets_say_what_they_cannot(count, mean, bounds, says):
    rows = over_sheets(found(trial(0.015, n) for n in range(count)))
    row = next(row for row in rows if "240" in row.treatment)
    assert (row.mean is not None, row.low is not None, row.between is not None) == (mean, bounds, bounds)
    assert row.verdict == says


def test_nothing_happened_and_nothing_is_claimed():
    verdicts = []
    for seed in range(30):
        benches = []
        for n in range(4):
            bench = trial(0.0, n)
            readings, doses = bench.read(100 * seed + n)
            benches.append((str(n), conclude(bench.sheet, None, readings, doses)))
        verdicts += [row.verdict for row in over_sheets(benches)]
    assert len(verdicts) == 60
    assert sum(verdict in ("whiter", "darker or yellower") for verdict in verdicts) <= 7  # 5 % of 60 is 3


def test_a_sheet_without_control_gives_no_effect():
    assert over_sheets(found([trial(0.015, 0, control=False)])) == ()


def test_doses_that_differ_are_other_treatments():
    rows = {row.treatment: len(row.effects) for row in over_sheets(found([trial(0.015, 0, 2), trial(0.015, 1, 4)]))}
    assert rows == {LIGHT: 1, "light, about 120 J/cm²": 1, "light, about 240 J/cm²": 2}


def test_treatments_are_told_apart_by_what_was_given():
    (_, of), (_, other) = found([trial(0.015, 0), trial(0.015, 1, 2.05)])
    by_name = {arm.dose_j_cm2: arm for arm in of.arms}
    near = next(arm for arm in other.arms if 60 < arm.dose_j_cm2 < 62)
    assert alike(by_name[60.0], near)
    assert not alike(by_name[60.0], by_name[240.0])
    assert given(next(arm for arm in of.arms if arm.control)) == "neither light nor bath (control)"
