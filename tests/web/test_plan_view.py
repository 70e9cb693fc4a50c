"""What the page Plan says, and how a plan's steps are kept."""

from datetime import datetime, time
from zoneinfo import ZoneInfo

import pytest

from lampwarden.domain.chamber import Chamber
from lampwarden.domain.plan import Plan
from lampwarden.domain.program_file import parse_as, render
from lampwarden.domain.sheet import Sheet
from lampwarden.errors import ProgramError
from lampwarden.keeper import Preflight, PreflightLine
from lampwarden.planning import PATTERNS, air_model, edit, review
from lampwarden.rehearsal import SCENARIOS, demo_chamber
from lampwarden.rehearsing import Rehearsal, Rehearsed, RehearsedZone
from lampwarden.timeline import Habits, lay_out
from lampwarden.web.pages.plan.draft import DRAFTS_MAX, Desk, Draft
from lampwarden.web.pages.plan.listing import read_file
from lampwarden.web.plan_view import entry
from lampwarden.web.plan_view.arms import cell_arms, named
from lampwarden.web.plan_view.checks import checks, confirmed
from lampwarden.web.plan_view.listing import free_id, free_title, plan_line, start_line
from lampwarden.web.plan_view.outcome import Outcome, outcome
from lampwarden.web.plan_view.picture import picture
from lampwarden.web.plan_view.rehearsed import rehearsal_shown
from lampwarden.web.plan_view.timetable import Timetable, timetable
from lampwarden.web.wording import Taste

OSLO = ZoneInfo("Europe/Oslo")
TASTE = Taste(zone=OSLO)
EVENING = datetime(2031, 3, 3, 20, 0, tzinfo=OSLO)
CHAMBER = demo_chamber()
AIR = air_model(CHAMBER)
SHEET = parse_as(Sheet, (SCENARIOS / "sheet.toml").read_text(encoding="utf-8"), "sheet.toml")
TRIAL = Plan(
    id="trial",
    title="Trial",
    chamber="demo",
    sheet=SHEET.id,
    program=next(p for p in PATTERNS if p.key == "light-by-chemical").make(CHAMBER, SHEET).program,
)


def laid(plan: Plan, start: datetime = EVENING, chamber: Chamber = CHAMBER) -> Timetable:
    habits = Habits(plan.sleep_from, plan.sleep_to, plan.photo_s)
    return timetable(plan, chamber, lay_out(plan.program, chamber, start, habits), TASTE, start)


def said(plan: Plan, taste: Taste = TASTE) -> Outcome:
    return outcome(review(plan, CHAMBER, SHEET, EVENING, AIR, scale=taste.scale), plan, CHAMBER, taste, EVENING)


def with_fields(plan: Plan, **fields: object) -> Plan:
    return plan.model_copy(update=fields)


# --- what is typed


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("2", 7200), ("2.5", 9000), ("2,5", 9000), ("2:30", 9000), ("1:59:30", 7170), ("0:10 h", 600), ("90 min", 5400)],
)
def test_times_are_understood(text: str, seconds: float) -> None:
    assert entry.time_s(text) == seconds
    assert entry.time_s(entry.clock_field(seconds)) == seconds
    assert entry.time_s(entry.time_text(seconds)) == seconds


@pytest.mark.parametrize("text", ["", "soon", "2 h 3", "-1"])
def test_other_times_are_refused_with_a_remedy(text: str) -> None:
    with pytest.raises(ProgramError, match=r"like 2 h 30 min, 2:30 or 2\.5"):
        entry.time_s(text)


def test_numbers_take_their_unit_and_no_other() -> None:
    assert entry.number("60,5 J/cm2", "J/cm²") == 60.5
    assert entry.level("33.3 %") == 0.333
    with pytest.raises(ProgramError, match="number of J/cm²"):
        entry.number("60 J/m2", "J/cm²")
    with pytest.raises(ProgramError, match=r"0\.1 and 100 %"):
        entry.level("120")


def test_temperatures_are_typed_in_the_readers_scale() -> None:
    fahrenheit = Taste(scale="F")
    assert entry.temp_c("95", fahrenheit) == 35
    assert entry.temp_field(35, fahrenheit) == "95"
    assert entry.step_c("5.4", fahrenheit) == 3
    assert entry.step_field(3, fahrenheit) == "5.4"
    with pytest.raises(ProgramError):
        entry.temp_c("35 °C", fahrenheit)


# --- bars and flags


def test_bars_and_numbers_are_one_thing() -> None:
    table = laid(TRIAL)
    bar = table.rows[0].bars[0]
    assert (bar.start_text, bar.end_text, bar.level_text, bar.comes_to) == ("0:00", "2:00", "100", "60.5 J/cm²")
    assert bar.end * table.span_s == pytest.approx(7200)
    assert bar.narrow
    assert table.rows[4].bars == ()
    by_dose = edit.change(TRIAL.program, CHAMBER, "A1", 0, dose_j_cm2=30.24, level=0.5)
    bar = laid(with_fields(TRIAL, program=by_dose)).rows[0].bars[0]
    assert (bar.by_dose, bar.end_text, bar.comes_to) == (True, "30.2", "ends at 2 h")  # 30.24 / 84e-4 / 0.5 s
    assert bar.label == "30.2 J/cm² at 50 %"


def test_axis_carries_both_clocks() -> None:
    table = laid(TRIAL)
    marks = {mark.session: mark.clock for mark in table.marks}
    assert marks["0 h"] == "20:00"
    # Three looks of 10 min, two of them with 5 min to cool before, lie before 3 h: 20:00 + 3 h + 40 min.
    assert marks["3 h"] == "23:40"
    assert marks["6 h"].startswith("Tue 02:")
    assert marks["9 h"].startswith("06:")  # the weekday stands only where it changes


def test_nights_are_where_nobody_is_awake() -> None:
    table = laid(TRIAL)
    first = table.nights[0]
    asleep = [flag.name for flag in table.flags if flag.asleep]
    assert asleep == ["4 h", "8 h"]
    assert all(first.start <= flag.share <= first.end for flag in table.flags if flag.asleep)
    assert not any(n.start <= flag.share < n.end for n in table.nights for flag in table.flags if flag.name == "1 h")
    awake = with_fields(TRIAL, sleep_from=time(7), sleep_to=time(7))
    assert laid(awake).nights == ()


def test_flags_do_not_cover_each_other() -> None:
    table = laid(TRIAL)
    assert [flag.row for flag in table.flags][:3] == [0, 1, 2]
    assert table.flag_rows == 3
    assert table.flags[5].says == "Checkpoint 16 h at 16 h, about Tue 13:10, by itself"


def test_span_leaves_room_to_pull() -> None:
    table = laid(TRIAL)
    assert table.span_s >= 1.05 * 86400
    assert table.marks[-1].share == 1.0


# --- the chamber from above


def test_cells_lie_under_their_zones() -> None:
    seen = picture(TRIAL, CHAMBER, SHEET)
    areas = {zone.name: zone.area for zone in seen.zones}
    zones = {cell.name: areas[cell.zone] for cell in SHEET.cells}
    for cell in seen.cells:
        zone = zones[cell.name]
        assert zone.left < cell.area.left
        assert cell.area.left + cell.area.width < zone.left + zone.width
        assert zone.top < cell.area.top
        assert cell.area.top + cell.area.height < zone.top + zone.height
    assert seen.zones[0].says == "Zone A1: 60.5 J/cm² in 2:00 h"
    assert [cell.name for cell in seen.cells if cell.covered] == ["B3"]


def test_zones_without_a_place_stand_in_rows() -> None:
    bare = CHAMBER.model_copy(update={"zones": tuple(z.model_copy(update={"place": None}) for z in CHAMBER.zones)})
    seen = picture(TRIAL, bare, None)
    assert len({(zone.area.left, zone.area.top) for zone in seen.zones}) == 6
    assert all(zone.area.left >= 0 and zone.area.left + zone.area.width <= 1 for zone in seen.zones)
    assert seen.sheet is None
    assert "not described" in seen.says


# --- what it comes to


def test_figures_of_each_zone() -> None:
    shows = said(TRIAL)
    line = shows.zones[0]
    assert (line.dose, line.dose_also) == ("60.5 J/cm²", "0.605 MJ/m²")
    assert (line.strength, line.strength_also, line.time) == ("8.4 mW/cm²", "84 W/m²", "2 h")
    assert shows.zones[4].dose == "dark"
    assert shows.ends == "Ends Tue 21:31"
    assert shows.refused == ""
    assert "19 times in 20" in shows.warmth.between


def test_what_should_differ_and_does_not_is_refused_first() -> None:
    plan = with_fields(TRIAL, arms=named(TRIAL, SHEET, CHAMBER))
    assert said(plan).refused == ""
    same = with_fields(plan, program=edit.copy_to(plan.program, CHAMBER, "A1", ["A2"]))
    shows = said(same)
    assert shows.refused == "One thing stops this plan:"
    assert shows.remarks[0].tone == "stop"
    assert "'A1' (light 1) and 'A2' (light 2) should differ but get the same" in shows.remarks[0].says
    assert shows.brief.startswith("1 thing stops it · Ends ")


def test_a_better_start_is_offered() -> None:
    offered = said(TRIAL).suggestions[0]
    assert (offered.key, offered.button) == ("start", "Start at Tue 07:00")


def test_temperatures_are_said_in_the_readers_scale() -> None:
    shows = said(TRIAL, Taste(scale="F", zone=OSLO))
    assert "°C" not in "".join((shows.warmth.value, shows.warmth.between, shows.warmth.verdict, shows.warmth.limits))
    assert "95.0 °F" in shows.warmth.limits


def test_cautions_come_by_weight() -> None:
    lines = next(group for group in said(TRIAL).groups if group.title == "Cautions").lines
    weights = [line.strong for line in lines]
    assert weights == sorted(weights, reverse=True)
    assert all(line.source for line in lines)


def test_arms_are_named_without_their_numbers() -> None:
    names = named(TRIAL, SHEET, CHAMBER)
    assert [names[cell] for cell in ("A1", "A2", "A3", "B3")] == ["light 1", "light 2", "light 3", "covered control"]
    alike = with_fields(TRIAL, program=edit.copy_to(TRIAL.program, CHAMBER, "A1", ["A2"]))
    assert named(alike, SHEET, CHAMBER)["A2"] == named(alike, SHEET, CHAMBER)["A1"]  # replicates
    by_itself = cell_arms(TRIAL, SHEET, CHAMBER)[0]
    assert (by_itself.given, by_itself.itself) == ("", "light, 60 J/cm²")
    lost = cell_arms(with_fields(TRIAL, arms={"Z9": "light 1"}), SHEET, CHAMBER)[-1]
    assert (lost.cell, lost.given, lost.about) == ("Z9", "light 1", "no longer on the sheet: clear its name")


# --- checks, rehearsal, list


def test_checks_say_what_to_do_and_what_to_tick() -> None:
    found = Preflight(
        (
            PreflightLine("door", "Door", "fail", "The door is open.", "Close it."),
            PreflightLine("disk", "Disk", "pass", "40 GB free."),
            PreflightLine("caution:eye", "To confirm", "fail", "Never look.", "Read this.", confirm="Never look."),
        )
    )
    shows = checks(found, (), TASTE)
    assert shows.headline == "One thing to put right before it can start."
    assert [(c.word, c.says, c.remedy) for c in shows.wrong] == [("Not yet", "The door is open.", "Close it.")]
    assert [ask.key for ask in shows.asks] == ["eye"]
    closed = Preflight(found.lines[1:])
    assert checks(closed, (), TASTE).headline == "Read and tick one caution, then it can start."
    assert not checks(closed, (), TASTE).may_start
    assert checks(closed, {"eye"}, TASTE).may_start
    assert [(yes.key, yes.by, yes.text) for yes in confirmed(closed, {"eye"}, "Wilma")] == [
        ("eye", "Wilma", "Never look.")
    ]
    assert confirmed(closed, (), "Wilma") == ()


def test_rehearsal_in_words() -> None:
    about = Rehearsal("r1", "demo", "Trial", "Wilma", "running", 0.42)
    assert rehearsal_shown(about, EVENING, TASTE, EVENING).says == "42 % rehearsed"
    result = Rehearsed(
        outcome="completed",
        cause="",
        session_s=7200,
        run_s=9000,
        air_temp_c_max=31.24,
        bank_temp_c_max=None,
        holds_s=(("checkpoint", 1800.0),),
        cooling_share=0.0,
        zones=(RehearsedZone("A1", 7200, 7200.4, 7200, 60.48), RehearsedZone("A2", 0, 0, 0, 0)),
        journal=((0.0, "began", "Began at 22.0 °C."),),
    )
    done = Rehearsal("r1", "demo", "Trial", "Wilma", "done", 1.0, result)
    shows = rehearsal_shown(done, EVENING, Taste(scale="F", zone=OSLO), EVENING)
    assert shows.says == "It ran to its end after 2 h 30 min, at 22:30."
    assert [(fact.label, fact.text) for fact in shows.facts] == [
        ("Warmest air", "88.2 °F"),
        ("Warmest LED plate", "no reading"),
        ("Dark: looks and photos", "30 min"),
    ]
    assert [(z.planned, z.true, z.dose) for z in shows.zones] == [("2 h", "2 h", "60.5 J/cm²"), ("dark", "dark", "")]
    assert shows.journal == (("0 s", "Began at 71.6 °F."),)


def test_list_and_names() -> None:
    line = plan_line(TRIAL, "2031-03-03T18:30:00.000Z", CHAMBER, {SHEET.id: SHEET.title}, {"trial"}, TASTE, EVENING)
    assert (line.sheet, line.length, line.saved, line.used) == (SHEET.title, "24 h", "saved 19:30", "was run")
    starts = start_line(7, "Trial", "2031-03-04T06:00:00.000Z", "Wilma", TASTE, EVENING)
    assert starts.says == "“Trial” starts on Tue 07:00, set by Wilma."
    assert free_id("Light × chemical trial", {"light-chemical-trial"}) == "light-chemical-trial-2"
    assert free_id("×", set()) == "plan"
    assert free_title("Trial", {"Trial", "Trial 2"}) == "Trial 3"


def test_plan_and_program_files_are_both_taken() -> None:
    assert read_file(render(TRIAL), "plan.toml", "demo") == TRIAL
    program = read_file(render(TRIAL.program), "program.toml", "demo")
    assert (program.program, program.chamber) == (TRIAL.program, "demo")
    with pytest.raises(ProgramError, match=r"program\.toml"):
        read_file("title = ", "program.toml", "demo")


# --- steps


def titled(title: str) -> Plan:
    return TRIAL.model_copy(update={"title": title})


def test_steps_are_undone_and_done_again() -> None:
    draft = Draft(TRIAL, 3)
    assert not draft.change(TRIAL, "nothing")
    assert not draft.unsaved
    draft.change(titled("One"), "one")
    draft.change(titled("Two"), "two")
    assert (draft.undo_says, draft.unsaved) == ("two", True)
    assert draft.undo() == "two"
    assert (draft.plan.title, draft.redo_says) == ("One", "two")
    assert draft.redo() == "two"
    draft.undo()
    draft.change(titled("Three"), "three")
    assert draft.redo() == ""
    assert draft.plan.title == "Three"
    draft.saved(draft.plan, 4)
    assert (draft.unsaved, draft.revision) == (False, 4)


def test_letters_of_one_field_are_one_step() -> None:
    draft = Draft(TRIAL, 1)
    for title in ("F", "Fe", "Fer"):
        draft.change(titled(title), "the title", "title")
    draft.seal()
    draft.change(titled("Ferry"), "the title", "title")
    draft.undo()
    assert draft.plan.title == "Fer"
    draft.undo()
    assert draft.plan == TRIAL
    draft.change(titled("X"), "a move", "bar")
    draft.change(TRIAL, "a move", "bar")  # let go where it was taken
    assert draft.undo_says == ""


def test_desk_keeps_drafts_by_their_mark() -> None:
    desk = Desk()
    draft = Draft(TRIAL, 1)
    mark = desk.keep(draft)
    assert desk.find(mark, "trial") is draft
    assert desk.find(mark, "other") is None
    for _ in range(DRAFTS_MAX):
        desk.keep(Draft(TRIAL, 1))
    assert desk.find(mark, "trial") is None
