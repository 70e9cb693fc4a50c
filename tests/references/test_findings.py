"""Comparisons and changes of the findings against published numbers, each with its source."""

import pytest

from lampwarden.domain.reading import CellColour, Reading
from lampwarden.findings.change import series
from lampwarden.findings.treatments import Arm, Unit, compare

# Dunnett 1955, blood counts and fabric strength: data in scipy's test_multicomp.py, read there; t, p and intervals of
# the second recomputed apart from this code. Quasi-Monte Carlo p values vary in the 4th digit, the intervals with them.
BLOOD = {
    "control": [7.40, 8.50, 7.20, 8.24, 9.84, 8.32],
    "A": [9.76, 8.80, 7.68, 9.36],
    "B": [12.80, 9.68, 12.16, 9.20, 10.55],
}
FABRIC = {"control": [55, 47, 48], "1": [55, 64, 64], "2": [55, 49, 52], "3": [50, 44, 41]}


@pytest.mark.parametrize(
    ("data", "scatter", "df", "intervals", "found"),
    [
        (BLOOD, 1.17496, 12, [(-1.2564, 2.5564), (0.8396, 4.4164)], [False, True]),
        (
            FABRIC,
            4.3589,
            8,
            [(0.7529, 21.2471), (-8.2471, 12.2471), (-15.2471, 5.2471)],
            [True, False, False],
        ),
    ],
    ids=["blood counts", "fabric strength"],
)
def test_dunnetts_own_cases(data, scatter, df, intervals, found):
    arms = [Arm(name, (name,), False, "", name == "control", 0.0, None) for name in data]
    units = [Unit(name, "one", value, 0.1) for name, values in data.items() for value in values]
    of = compare(units, arms, "control")
    assert (of.df, of.scatter_de00) == (df, pytest.approx(scatter, abs=1e-4))
    assert [c.found for c in of.against_control] == found
    for contrast, (low, high) in zip(of.against_control, intervals, strict=True):
        assert contrast.low == pytest.approx(low, abs=0.02 * (high - low))
        assert contrast.high == pytest.approx(high, abs=0.02 * (high - low))


# Sharma, Wu, Dalal 2005, Color Res. Appl. 30:21-30, Table 1 (restated in public test files): those nearest to paper and
# the ones whose hue and chroma pull hardest. The last is a paper-like pair, computed apart from this code.
SHARMA = [
    ((90.8027, -2.0831, 1.4410), (91.1528, -1.6435, 0.0447), 1.4441),
    ((90.9257, -0.5406, -0.9208), (88.6381, -0.8985, -0.7239), 1.5381),
    ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
    ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
    ((50.0, 2.5, 0.0), (73.0, 25.0, -18.0), 27.1492),
    ((50.0, 2.49, -0.001), (50.0, -2.49, 0.0011), 7.2195),
    ((82.0, 2.5, 18.0), (84.0, 1.8, 14.0), 2.7331),
]


@pytest.mark.parametrize(("before", "after", "de00"), SHARMA)
def test_differences_of_readings(before, after, de00):
    def reading(day, lab):
        colour = CellColour(cell="A1", lab_d50=lab, u_lab=(0.1, 0.1, 0.1), u_abs_de00=0.3)
        return Reading(
            id=str(day), sheet="s", taken_utc=f"2026-05-0{day}T06:00:00Z", way="instrument", cells=(colour,),
            detection_limit_de00=0.3,
        )  # fmt: skip

    for one, two in ((before, after), (after, before)):
        found = series("A1", [reading(1, one), reading(2, two)], {}).changes[0].de00
        assert found.value == pytest.approx(de00, abs=5e-5)
        assert found.low < de00 < found.high
