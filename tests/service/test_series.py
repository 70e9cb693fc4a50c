"""A series of sheets through the service, its view and its tables."""

import csv
import io
from pathlib import Path

import pytest
from tests.photos.conftest import Scene, as_json, chamber, program, sheet
from tests.web.conftest import Asker

from lampwarden.domain.chamber import Chamber
from lampwarden.domain.plan import Plan
from lampwarden.domain.program import Program
from lampwarden.domain.reading import CellColour, Lab, Reading, Way
from lampwarden.domain.sheet import Sheet
from lampwarden.errors import UnknownName
from lampwarden.store import Batch, Line
from lampwarden.store.records import Ended, Planned
from lampwarden.web.api import create_api
from lampwarden.web.results_view.series import series_shown

__all__ = ["chamber", "program", "sheet"]

BEFORE: Lab = (80.0, 2.0, 24.0)


def reading(sheet: Sheet, after: dict[str, Lab], utc: str) -> Reading:
    cells = tuple(
        CellColour(cell=c.name, lab_d50=after.get(c.name, BEFORE), u_lab=(0.1, 0.1, 0.1), u_abs_de00=0.3)
        for c in sheet.cells
    )
    return Reading(id="x", sheet=sheet.id, taken_utc=utc, way=Way.INSTRUMENT, cells=cells, detection_limit_de00=0.4)


class Series(Scene):
    """Sheets alike but for how much each gained."""

    def treat(self, number: int, gain_b: float, *, series: str = "ferries") -> None:
        sheet = self._sheet.model_copy(update={"id": f"copy-{number}", "title": f"Copy {number}", "series": series})
        self.service.save_sheet(sheet, "Wilma", None)
        day, name = f"2026-05-1{number}", f"t{number}"
        plan = Plan(id="p", title="Trial", chamber="demo", sheet=sheet.id, program=self.program)
        self.store.begin_session(
            name, "demo", "Trial", as_json(self.program), self.chamber.model_dump(mode="json"),
            f"{day}T09:00:00.000Z", Planned("p", as_json(plan), sheet.model_dump(mode="json")),
        )  # fmt: skip
        for checkpoint, at_s, hour in (("baseline", 0.0, "09"), ("8 h", 28_800.0, "17")):
            utc = f"{day}T{hour}:30:00.000Z"
            data = {"checkpoint": checkpoint, "session_s": at_s, "lit_s": [at_s] * 6}
            self.store.commit(Batch(name, [Line("checkpoint_reached", at_s, utc, data, "Reached.", "demo", name)]))
            after = {"A3": (82.0, 1.5, 24.0 - gain_b)} if at_s else {}
            self.service.add_reading(
                reading(sheet, after, utc), "Wilma", chamber_id="demo", session_id=name, checkpoint=checkpoint
            )
        ended = Line("ended", at_s, utc, {"lit_s": [at_s] * 6}, "Done.", "demo", name)
        self.store.commit(Batch(name, [ended], ended=Ended("completed", "Done.", utc)))


@pytest.fixture
def series(tmp_path: Path, chamber: Chamber, program: Program, sheet: Sheet):
    scene = Series(tmp_path, chamber, program, sheet)
    scene.store.commit(Batch("s", ended=Ended("completed", "Done.", "2026-05-05T09:30:00.000Z")))
    for number, gain_b in enumerate((6.0, 7.0, 9.0), start=1):
        scene.treat(number, gain_b)
    yield scene
    scene.service.close()
    scene.store.close()


def test_a_series_is_its_sheets_and_their_mean(series: Series) -> None:
    assert series.service.series_names() == ("ferries",)
    found = series.service.series("ferries")
    assert [(s.title, s.session_id, s.why_not) for s in found.sheets] == [
        ("Copy 1", "t1", ""), ("Copy 2", "t2", ""), ("Copy 3", "t3", ""),
    ]  # fmt: skip
    bright = max((row for row in found.treatments if row.mean is not None), key=lambda row: row.mean)
    assert len(bright.effects) == 3
    assert bright.verdict in ("whiter", "not determined")
    assert [e.difference for e in bright.effects] == sorted(e.difference for e in bright.effects)
    with pytest.raises(UnknownName, match="page Sheets"):
        series.service.series("none such")


def test_a_sheet_that_was_not_read_says_so(series: Series) -> None:
    blank = series._sheet.model_copy(update={"id": "blank", "title": "Blank", "series": "ferries"})
    series.service.save_sheet(blank, "Wilma", None)
    found = series.service.series("ferries")
    assert found.sheets[0].why_not == "It was not yet read before and after."
    shown = series_shown(found)
    assert shown.sheets[0].href == ""
    assert shown.sheets[1].href == "/results/demo/t1"


def test_what_is_shown_can_be_sorted_and_says_what_holds(series: Series) -> None:
    found = series.service.series("ferries")
    shown = series_shown(found)
    assert "the sheet counts, not the cell" in shown.lead
    means = [row for row in shown.rows if row.mean]
    assert all(row.sheet == "Mean of 3 sheets" for row in means)
    assert all("(" in row.effect for row in means)
    for row in shown.rows:
        assert row.span is not None
        assert 0 <= row.span[0] <= row.span[1] <= row.span[2] <= 1
    by_effect = [float(row.effect.split()[0]) for row in series_shown(found, "effect", down=True).rows]
    assert by_effect == sorted(by_effect, reverse=True)
    by_sheet = [row.sheet for row in series_shown(found, "sheet").rows]
    assert by_sheet == sorted(by_sheet)


def test_two_sheets_give_no_interval(series: Series) -> None:
    series.treat(4, 6.0, series="pair")
    series.treat(5, 8.0, series="pair")
    shown = series_shown(series.service.series("pair"))
    assert "cannot be told with fewer than 3" in shown.lead
    assert all("(" not in row.effect for row in shown.rows if row.mean)


def test_a_script_gets_the_same(series: Series) -> None:
    asker = Asker(create_api(series.service))
    assert asker.get("/series").json() == {"names": ["ferries"]}
    answer = asker.get("/series/effects.csv", params={"name": "ferries"})
    rows = list(csv.DictReader(io.StringIO(answer.text.removeprefix("\ufeff"))))
    data = asker.get("/series/effects", params={"name": "ferries"}).json()
    assert len(rows) == sum(len(row["effects"]) + 1 for row in data["treatments"])
    assert {row["sheet"] for row in rows} == {"copy-1", "copy-2", "copy-3", "mean of 3 sheets"}
    assert asker.get("/series/effects", params={"name": "none"}).status_code == 404
