"""What the pages Results say, over a sheet whose true course is known (tests/findings)."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from math import inf, sqrt
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from tests.findings.conftest import HOURS, Bench, make_cell

from lampwarden.domain.finding import HandFinding
from lampwarden.domain.reading import Way
from lampwarden.findings.conclude import Conclusions, conclude
from lampwarden.service.by_hand import KeptFinding
from lampwarden.service.seen import Look, Picture
from lampwarden.store.gallery import Withdrawn
from lampwarden.store.records import Ended, Session
from lampwarden.web.results_charts import Choice, curves
from lampwarden.web.results_view import arms, cells, entry, later, listing, moments, said
from lampwarden.web.wording import Taste

OSLO = Taste(zone=ZoneInfo("Europe/Oslo"))
WEEK_LATER = (*HOURS, 24 + 7 * 24)
BEGAN = datetime(2026, 5, 1, 6, tzinfo=UTC)
ENDED = "2026-05-02T06:00:00.000Z"
LIMIT = 0.9


@pytest.fixture
def bench() -> Bench:
    """Light for 2, 4 and 8 h, 3 % peroxide with and without light, a covered control, a watched ink."""
    bath = {"chemical": "hydrogen peroxide", "strength_pct": 3, "wet_min": 30}
    laid = [
        *(make_cell(name, light=True) for name in ("A1", "A2", "A3")),
        make_cell("B1", light=True, **bath),
        make_cell("B2", **bath),
        make_cell("B3", role="control", covered=True),
        make_cell("B4", zone="A3", role="ink watch", ink="vermilion", light=True),
    ]
    hours = {"A1": 2, "A2": 4, "A3": 8, "B1": 8, "B4": 8}
    rate = dict.fromkeys(("A1", "A2", "A3", "B1"), 0.015)
    return Bench(laid, rate=rate, light_h=hours, at_once={"B1": 0.2, "B2": 0.2})


def concluded(bench: Bench, hours: tuple[float, ...] = HOURS) -> Conclusions:
    readings, doses = bench.read(1, hours)
    return conclude(bench.sheet, None, readings, doses)


def looks_of(bench: Bench, hours: tuple[float, ...] = HOURS) -> list[Look]:
    readings, doses = bench.read(1, hours)
    found = []
    for number, reading in enumerate(readings):
        of = reading.model_copy(update={"session": "s" if reading.session_s is not None else ""})
        if reading.session_s is None:
            of = of.model_copy(update={"checkpoint": ""})
        picture = Picture(f"{number:064}", "d" * 64, "f" * 64)
        found.append(Look(of, reading.taken_utc, "Wilma", doses[reading.id], (picture,)))
    return found


def refused(look: Look) -> Look:
    reading = look.reading.model_copy(update={"refused": "Too dark.", "cells": (), "swatches": (), "id": "dark"})
    return replace(look, reading=reading, pictures=(Picture("0" * 64, "", ""),))


# --- words ------------------------------------------------------------------------------------------------------------


def test_headline_and_advice(bench: Bench) -> None:
    found = concluded(bench)
    assert said.headline(found).startswith("Whiter by up to ")
    assert "ΔE00 in B1, light and hydrogen peroxide 3 %" in said.headline(found)
    assert said.advice(found).startswith("Advice: ")
    assert "A3" in said.advice(found)
    bench.ink_fades = 5.0
    assert said.headline(concluded(bench)) == "An ink is fading: vermilion in B4"
    assert "Stop" in said.advice(concluded(bench))
    bench.ink_fades, bench.rate, bench.at_once = 0.0, {}, {}
    assert said.headline(concluded(bench)) == "No change found"
    bench.floor, bench.rate = 1.5, dict.fromkeys(("A1", "A2", "A3", "B1"), 0.015)
    assert said.headline(concluded(bench)).startswith("Darker by up to ")
    assert said.headline(concluded(bench, (0,))) == "Nothing to compare yet"


def test_every_sentence_is_told_once(bench: Bench) -> None:
    finding = HandFinding(cell="A1", aspect="stiffness", value=1, found_utc=ENDED)
    readings, doses = bench.read(1, WEEK_LATER)
    found = conclude(bench.sheet, None, readings, doses, [finding])
    told = [sentence for group in said.said(found).groups for sentence in group.sentences]
    assert found.drift is not None
    elsewhere = {found.sentences[0], found.drift.sentence, *(ink.sentence for ink in found.inks)}
    assert set(told) == set(found.sentences) - elsewhere
    assert len(told) == len(set(told))
    assert all(source for _, source in said.said(found).limits)


def session(title: str = "Trial", *, ended: bool = True, sheet: Any = None) -> Session:
    end = Ended("completed", "All exposures are given.", ENDED) if ended else None
    return Session("s", "demo", title, {}, {}, "2026-05-01T06:00:00.000Z", end, sheet=sheet)


def test_a_line_of_the_list(bench: Bench) -> None:
    sheet = {"title": "Playbill"}
    line = listing.session_line(session(sheet=sheet), listing.Result(7, 1, concluded(bench)), OSLO)
    assert line.about == "1 May 2026, 08:00 · completed · Playbill"
    assert line.readings == "7 readings, 1 refused"
    assert line.result.startswith("Whiter by")
    none = listing.session_line(session(ended=False, sheet=sheet), listing.Result(0, 0, None), OSLO)
    assert "under way" in none.about
    assert none.result == "No photo yet. Take one at a checkpoint, on the page Now."
    assert "without a sheet" in listing.session_line(session(), None, OSLO).readings


def test_readings_that_count_and_all_that_came(bench: Bench) -> None:
    looks = looks_of(bench, WEEK_LATER)
    replaced = replace(looks[1], reading=looks[1].reading.model_copy(update={"superseded": True}))
    all_of_them = [looks[0], replaced, refused(looks[1]), *looks[2:]]
    there = moments.moments(all_of_them, Way.FIXED, ENDED)
    assert [each.label for each in there] == ["baseline", "2 h", "4 h", "8 h", "16 h", "24 h", "7 days after the end"]
    assert [each.inside for each in there] == [True] * 6 + [False]
    assert moments.moments(all_of_them, Way.PHONE, ENDED) == ()
    assert moments.ways(all_of_them) == (Way.FIXED,)
    shown = moments.gallery(all_of_them, ENDED, OSLO)
    assert [each.state for each in shown][-3:] == ["refused", "replaced", ""]
    assert shown[-3].why == "Too dark."
    assert shown[-1].about == "1 May 2026, 08:00, one photo by the fixed camera, sent by Wilma"
    assert shown[-1].photos == (("0" * 64, "d" * 64),)


# --- tables -----------------------------------------------------------------------------------------------------------


def test_cells_are_sorted_by_number_and_blanks_come_last(bench: Bench) -> None:
    reading = bench.read(1)[0][-1]
    found = concluded(bench)
    by_change = cells.rows(reading, bench.sheet, found, "change", down=True)
    assert {row.cell for row in by_change[:2]} == {"A3", "B1"}
    amounts = [float(row.change.split()[0]) for row in by_change]
    assert amounts == sorted(amounts, reverse=True)
    for down in (False, True):
        assert {row.cell for row in cells.rows(reading, bench.sheet, found, "control", down=down)[-2:]} == {"B3", "B4"}
    whitest = cells.rows(reading, bench.sheet, found, "lab", down=True)[0]
    assert whitest.cell == max(reading.cells, key=lambda colour: colour.lab_d50[0]).cell
    ink = cells.rows(reading, bench.sheet, found)[-1]
    assert (ink.cell, ink.about, ink.control) == ("B4", "watches vermilion", "")


def test_treatments_beside_the_control(bench: Bench) -> None:
    shows = arms.arms(concluded(bench))
    assert shows.rows[0].cells == "B1"
    assert (shows.rows[-1].cells, shows.rows[-1].span) == ("B3", None)
    assert all(row.verdict == "whiter" for row in shows.rows[:-1])
    for row in shows.rows[:-1]:
        assert row.span is not None
        low, middle, high = row.span
        assert 0 <= low < middle < high <= 1
    assert "hold together at 99 %" in shows.lead
    assert [row.verdict for row in arms.drift_rows(concluded(bench))] == ["stayed"] * 3
    bench.ink_fades = 5.0
    assert [(row.verdict, row.calm) for row in arms.ink_rows(concluded(bench))] == [("fading, over its limit", False)]


def test_arms_of_two_sessions_share_rows_by_dose(bench: Bench) -> None:
    first = concluded(bench)
    bench.light_h = bench.light_h | {"A1": 2.04, "A2": 12}
    table = {row.name: row.gains for row in arms.across([first, concluded(bench)])}
    assert all(table["light, about 60 J/cm²"])
    assert [bool(gain) for gain in table["light, about 120 J/cm²"]] == [True, False]
    assert [bool(gain) for gain in table["light, about 360 J/cm²"]] == [False, True]
    assert list(table)[-1] == "neither light nor bath (control)"


def test_looks_after_the_end(bench: Bench) -> None:
    looks = looks_of(bench, WEEK_LATER)
    found = concluded(bench, WEEK_LATER)
    end = BEGAN + timedelta(days=1)
    shows = later.later(ENDED, looks[-1:], found, end + timedelta(days=29), OSLO)
    assert [day.state for day in shows.days] == ["missed", "missed", "taken", "due now", "later", "later"]
    assert shows.says.startswith("Due now: the look after 30 days.")
    assert {row.cell for row in shows.back} == {"A1", "A2", "A3", "B1", "B2", "B3"}
    assert later.later(ENDED, (), found, end + timedelta(days=4000), OSLO).says.startswith("All planned looks are over")
    assert "2 Aug" not in later.later(ENDED, (), None, end, OSLO).says
    assert later.later(None, (), found, end, OSLO).days == ()
    assert "Next: the look after 1 day, 3 May 2026" in later.later(ENDED, (), found, end, OSLO).says


# --- entry ------------------------------------------------------------------------------------------------------------


def test_hand_findings_are_checked_field_by_field(bench: Bench) -> None:
    stiffness, ph, note = (entry.aspect_of(key) for key in ("stiffness", "ph", "note"))
    for aspect, value, text, wrong in (
        (stiffness, "", "", {"cell", "value"}),
        (ph, "acid", "", {"cell", "value"}),
        (ph, "15", "", {"cell", "value"}),
        (note, "", " ", {"cell", "note"}),
    ):
        with pytest.raises(entry.Wrong) as told:
            entry.hand_finding("", aspect, value, text, "", ENDED)
        assert set(told.value.fields) == wrong
    found = entry.hand_finding("A1", ph, "6,5", "strip", "8 h", ENDED)
    assert (found.value, found.note, found.checkpoint) == (6.5, "strip", "8 h")
    limp = entry.hand_finding("A3", stiffness, "0", "", "", ENDED)
    gone = Withdrawn(ENDED, "Ida", "Another cell.")
    rows = entry.hand_rows(
        [KeptFinding(1, limp, "Wilma", None), KeptFinding(2, found, "Wilma", gone)], bench.sheet, OSLO
    )
    assert [row.gone for row in rows] == ["Withdrawn 2 May 2026, 08:00 by Ida: Another cell.", ""]
    assert [(row.cell, row.what, row.value, row.when) for row in rows] == [
        ("A1", "pH", "6.5", "8 h, 2 May 2026, 08:00"),
        ("A3", "Stiffness", "limp", "2 May 2026, 08:00"),
    ]


def test_an_instrument_reading_as_typed(bench: Bench) -> None:
    typed = {"A1": {"L": "84,5", "a": "3", "b": "21"}, "A2": {"L": "", "a": " ", "b": ""}}
    reading = entry.instrument_reading(typed, "0.3", bench.sheet, ENDED)
    assert reading.way is Way.INSTRUMENT
    assert [(cell.cell, cell.lab_d50) for cell in reading.cells] == [("A1", (84.5, 3.0, 21.0))]
    assert reading.cells[0].u_lab == pytest.approx((0.3 / sqrt(3),) * 3)
    assert reading.detection_limit_de00 == pytest.approx(0.68, abs=0.01)
    for cells_typed, repeat, wrong in (
        ({"A1": {"L": "84"}}, "0.3", {"A1 a", "A1 b"}),
        ({"A1": {"L": "101", "a": "1", "b": "2"}}, "0.3", {"A1 L"}),
        ({}, "0.3", {"cells"}),
        (typed, "none", {"repeat"}),
    ):
        with pytest.raises(entry.Wrong) as told:
            entry.instrument_reading(cells_typed, repeat, bench.sheet, ENDED)
        assert set(told.value.fields) == wrong


# --- curves -----------------------------------------------------------------------------------------------------------


def points(shows: Any, name: str) -> list[list[float]]:
    return next(one["data"] for one in shows.options["series"] if one["name"] == name)


def test_curves_over_dose_leave_the_dark_out_and_say_so(bench: Bench) -> None:
    found, readings = concluded(bench), {each.id: each for each in bench.read(1)[0]}
    over_dose, over_time = (curves(found, readings, Choice(across=across)) for across in ("dose", "time"))
    assert len(over_dose.keys) == 4
    assert "covered control" in over_dose.note
    assert len(over_time.keys) == 6
    assert len({(key.mark, key.colour) for key in over_time.keys}) == 6
    arm = next(arm.name for arm in found.arms if arm.cells == ("A3",))
    x, y = points(over_dose, arm)[-1]
    end = next(cell.end for cell in found.cells if cell.cell == "A3")
    assert (x, y) == (pytest.approx(240, rel=0.02), pytest.approx(end.gain.value, abs=0.01))
    assert sum(row[0] == arm for row in over_time.rows) == len(HOURS)
    assert arm in over_time.said


def test_one_treatment_shows_its_cells_and_the_fitted_course(bench: Bench) -> None:
    found, readings = concluded(bench), {each.id: each for each in bench.read(1)[0]}
    arm = next(arm.name for arm in found.arms if arm.cells == ("A3",))
    shows = curves(found, readings, Choice(arm=arm))
    assert [key.name for key in shows.keys] == ["A3"]
    assert [one["name"] for one in shows.options["series"]].count("A3, fitted") == 3
    yellow = curves(found, readings, Choice("b", "time", arm))
    first = float(yellow.rows[0][3])
    colour = readings["r0"].cell("A3")
    assert colour is not None
    assert first == pytest.approx(colour.lab_d50[2], abs=0.05)
    low, high = (float(edge) for edge in yellow.rows[0][4].split(" to "))
    assert high - low == pytest.approx(2 * 1.96 * colour.u_lab[2], abs=0.11)


def test_cells_of_one_arm_are_averaged(bench: Bench) -> None:
    bench.cells = [make_cell("A1", light=True), make_cell("A2", light=True), make_cell("B1", role="control")]
    bench.light_h, bench.rate = {"A1": 8, "A2": 8}, {"A1": 0.02, "A2": 0.002}
    found, readings = concluded(bench), {each.id: each for each in bench.read(1)[0]}
    (name,) = [arm.name for arm in found.arms if arm.light]
    shows = curves(found, readings, Choice())
    ends = [cell.end.gain for cell in found.cells if cell.cell in ("A1", "A2")]
    assert points(shows, name)[-1][1] == pytest.approx(sum(end.value for end in ends) / 2, abs=0.01)
    low, high = (float(edge) for edge in shows.rows[-1][4].split(" to "))
    assert high - low < min((end.high - end.low for end in ends), default=inf)
