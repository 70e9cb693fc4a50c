"""The chart's reference values: the published set, and a person's own file with its mistakes."""

import colour
import numpy as np
import pytest

from lampwarden.errors import ProgramError
from lampwarden.imaging.chart import parse_chart_csv, published_chart

ROWS = "".join(f"{number},50,{number},0\n" for number in range(1, 25))
GREYS = "".join(f"grey-{number},{100 - 15 * number},0,0\n" for number in range(1, 7))


def test_the_published_set_is_the_one_that_colour_science_restates():
    """Averages of 24 patches, published by the maker in November 2014, D50."""
    theirs = colour.CCS_COLOURCHECKERS["cca2014"]
    lab = [colour.XYZ_to_Lab(colour.xyY_to_XYZ(xyy), theirs.illuminant) for xyy in theirs.data.values()]
    assert np.array(published_chart().patches) == pytest.approx(np.array(lab), abs=0.006)
    assert published_chart().greys == published_chart().patches[18:]


def test_a_chart_of_one_s_own():
    chart = parse_chart_csv(f"# mine\n# tolerance 0.3\npatch, L, a, b\n\n{ROWS}", "mine.csv")
    assert (chart.name, chart.tolerance_de00, chart.greys) == ("mine.csv", 0.3, ())
    assert chart.patches[6] == (50.0, 7.0, 0.0)
    assert parse_chart_csv(GREYS + ROWS, "x").greys[5] == (10.0, 0.0, 0.0)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "missing or unknown: 1, 2, 3"),
        (ROWS.replace("7,50,7,0\n", ""), r"x\.csv: patches missing or unknown: 7\."),
        (ROWS + "25,50,0,0\n", "unknown: 25"),
        (ROWS + "7,50,0,0\n", r"line 25: patch '7' stands there a second time"),
        (ROWS + "grey-1,90,0,0\n", "grey-2, grey-3"),
        (ROWS.replace("7,50,7,0", "7,50,7"), r"line 7: 3 fields; a patch needs four"),
        (ROWS.replace("7,50,7,0", '7,"50,1",7,0'), "line 7: '50,1' is no number. Write it with a point"),
        (ROWS.replace("7,50,7,0", "7,500,7,0"), "line 7: .* is no CIELAB"),
        (ROWS.replace("7,50,7,0", "7,nan,7,0"), "line 7: .* is no CIELAB"),
        (ROWS.replace("7,50,7,0", "7,50,7,inf"), "line 7: .* is no CIELAB"),
        ("# tolerance wide\n" + ROWS, "line 1: 'wide' is no number"),
        ("# tolerance -1\n" + ROWS, "greater than or equal to 0"),
    ],
)
def test_a_file_that_cannot_be_used_is_told_by_its_line(text, says):
    with pytest.raises(ProgramError, match=says):
        parse_chart_csv(text, "x.csv")
