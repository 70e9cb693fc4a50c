"""Sheets and plans: every revision kept, changes of old ones refused, nothing removed that is in use."""

import pytest
from tests.web.conftest import Bench

from lampwarden.domain.plan import Plan
from lampwarden.errors import ChangedMeanwhile, NotNow, UnknownName
from lampwarden.service import Service

from .conftest import PLAN, SHEET, yes


def test_every_revision_is_kept(service: Service) -> None:
    again = SHEET.model_copy(update={"title": "Winter timetable"})
    assert service.save_sheet(again, "Ida", 1) == 2
    newest = service.sheet("timetable")
    assert (newest.sheet, newest.revision, newest.saved_by) == (again, 2, "Ida")
    assert service.sheet("timetable", 1).sheet == SHEET
    assert newest.saved_utc.startswith("2031-03-03T08:00:")
    with pytest.raises(UnknownName, match="revision 3"):
        service.sheet("timetable", 3)


def test_the_last_saved_comes_first(service: Service) -> None:
    service.save_sheet(SHEET.model_copy(update={"id": "map"}), "Ida", None)
    assert [saved.sheet.id for saved in service.sheets()] == ["map", "timetable"]
    service.save_sheet(SHEET, "Ida", 1)
    assert [(saved.sheet.id, saved.revision) for saved in service.sheets()] == [("timetable", 2), ("map", 1)]


@pytest.mark.parametrize("what", ["sheet", "plan"])
def test_a_change_of_an_old_revision_is_refused(service: Service, what: str) -> None:
    save, thing = (service.save_sheet, SHEET) if what == "sheet" else (service.save_plan, PLAN)
    save(thing, "Ida", 1)  # type: ignore[operator]
    with pytest.raises(ChangedMeanwhile, match=rf"Ida saved revision 2 of {what} '{thing.id}' at 08:00 UTC, .*1 was"):
        save(thing, "Wilma", 1)  # type: ignore[operator]
    with pytest.raises(NotNow, match="already"):
        save(thing, "Wilma", None)  # type: ignore[operator]
    assert getattr(service, what)(thing.id).revision == 2


def test_a_removed_one_is_gone_from_lists_and_kept(service: Service) -> None:
    service.remove_plan("strips", "Ida")
    assert service.plans("bench") == []
    assert service.plan("strips", 1).plan == PLAN
    for gone in (lambda: service.plan("strips"), lambda: service.remove_plan("strips", "Ida")):
        with pytest.raises(UnknownName):
            gone()
    with pytest.raises(ChangedMeanwhile, match="Ida removed plan 'strips'"):
        service.save_plan(PLAN, "Wilma", 1)
    assert service.save_plan(PLAN, "Wilma", None) == 3, "its name is free again, its numbers go on"


def test_a_sheet_in_use_is_not_removed(service: Service, bench: Bench) -> None:
    with pytest.raises(NotNow, match="plan 'Two strips'"):
        service.remove_sheet("timetable", "Ida")
    service.start_plan("strips", "Wilma", yes())
    with pytest.raises(NotNow, match="is run by session 2031-03-03-1"):
        service.remove_plan("strips", "Ida")
    service.save_plan(PLAN.model_copy(update={"sheet": None}), "Ida", 1)
    with pytest.raises(NotNow, match="used by session 2031-03-03-1"):
        service.remove_sheet("timetable", "Ida")
    service.end("bench", "Wilma")
    bench.run(3)
    service.remove_sheet("timetable", "Ida")
    assert service.sheets() == []


def test_plans_belong_to_a_chamber(service: Service) -> None:
    with pytest.raises(UnknownName, match="'cellar'"):
        service.save_plan(Plan(id="far", title="Far", chamber="cellar", program=PLAN.program), "Wilma", None)
    with pytest.raises(UnknownName, match="'cellar'"):
        service.plans("cellar")
    assert [saved.plan.id for saved in service.plans()] == ["strips"]
