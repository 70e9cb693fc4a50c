from lampwarden.domain.program import Limits
from lampwarden.store.records import SavedLine, Stretch
from lampwarden.web.charts import GRID, course
from lampwarden.web.wording import Taste

BEGAN = "2031-03-03T08:00:00.000Z"
BEGAN_MS = 1_930_291_200_000  # date -u -d 2031-03-03T08:00Z +%s


def stretch(run_s: float, air: float | None, banks: tuple[float | None, ...] = (30.0, None)) -> Stretch:
    return Stretch(run_s, air, air, air, 40.0, banks, banks, False)


def levels(run_s: float, *shares: float, kind: str = "levels_set") -> SavedLine:
    data = {"levels": list(shares)} if kind == "levels_set" else {}
    return SavedLine(kind, run_s, BEGAN, data, "", "bench", "s", 1)


READINGS = [stretch(0.0, 22.0), stretch(500.0, None), stretch(1000.0, 31.5, (41.0, 36.0))]


def drawn(taste: Taste = Taste(), readings: list[Stretch] = READINGS, set_: tuple[SavedLine, ...] = ()):  # noqa: B008
    return course(readings, set_, BEGAN, 1000.0, Limits(), ["A1", "A2"], taste)


def test_points_are_moments_and_missing_values_stay_gaps() -> None:
    air = drawn().charts[0].options["series"][0]["data"]
    assert air == [[BEGAN_MS, 22.0], [BEGAN_MS + 500_000, None], [BEGAN_MS + 1_000_000, 31.5]]


def test_limits_are_marked_and_inside_the_chart() -> None:
    for chart, soft, hard in zip(drawn().charts, (35.0, 55.0), (40.0, 63.0), strict=False):
        marks = [mark["yAxis"] for mark in chart.options["series"][0]["markLine"]["data"]]
        assert marks == [soft, hard]
        low, high = chart.options["yAxis"]["min"], chart.options["yAxis"]["max"]
        assert low <= min(point[1] for point in chart.options["series"][0]["data"] if point[1] is not None)
        assert high > hard
        assert low % GRID == high % GRID == 0


def test_one_line_a_bank_told_apart_without_colour() -> None:
    series = drawn().charts[1].options["series"]
    assert [one["name"] for one in series] == ["Bank 1", "Bank 2"]
    assert series[0]["lineStyle"]["type"] != series[1]["lineStyle"]["type"]
    assert [point[1] for point in series[1]["data"]] == [None, None, 36.0]


def test_fahrenheit() -> None:
    shown = drawn(Taste("F"))
    assert shown.charts[0].title == "Air at the sheet, °F"
    assert shown.charts[0].options["series"][0]["data"][0][1] == 71.6  # 22 x 9/5 + 32
    assert shown.charts[0].said == "Air went from 71.6 °F to 88.7 °F and is 88.7 °F at the end; lamps pause at 95.0 °F."


def test_nothing_read_yet() -> None:
    shown = drawn(readings=[])
    assert shown.charts[0].said == "Air: no readings yet."
    assert shown.rows == ()


def test_light_by_zone() -> None:
    set_ = (levels(0, 1.0, 0.0), levels(250, 1.0, 0.5), levels(500, 0.0, 0.0), levels(750, 0.0, 1.0))
    first, second = drawn(set_=set_).strips
    assert first.lit == ((0.0, 0.5, 1.0),)
    assert second.lit == ((0.25, 0.5, 0.5), (0.75, 1.0, 1.0))  # lit still: up to now
    assert (first.said, second.said) == ("Zone A1: light once", "Zone A2: light in 2 stretches")


def test_light_stops_with_the_session() -> None:
    set_ = (levels(0, 1.0, 0.0), levels(500, kind="ended"))
    assert drawn(set_=set_).strips[0].lit == ((0.0, 0.5, 1.0),)


def test_table_holds_the_newest_first_and_stays_short() -> None:
    many = [stretch(10.0 * index, 22.0 + index / 10) for index in range(100)]
    shown = drawn(readings=many)
    assert shown.head == ("Time", "Air", "Bank 1", "Bank 2", "Humidity")
    assert shown.rows[0] == ("08:16", "31.9 °C", "30.0 °C", "no reading", "40 %")
    assert 6 <= len(shown.rows) <= 12
