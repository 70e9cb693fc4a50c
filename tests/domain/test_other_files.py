"""Chamber, sheet and plan files say line, key and remedy, as programs do."""

from pathlib import Path

import pytest

import lampwarden.rig
from lampwarden.domain.chamber import Chamber
from lampwarden.domain.plan import Plan
from lampwarden.domain.program_file import parse, parse_as, render
from lampwarden.domain.sheet import Sheet
from lampwarden.errors import ProgramError

SCENARIO = Path(lampwarden.rig.__file__).parent / "scenario"
CHAMBER, SHEET, PROGRAM = (
    (SCENARIO / f"{name}.toml").read_text(encoding="utf-8") for name in ("chamber", "sheet", "ferry_timetable")
)
PLAN = render(Plan(id="ferries", title="Ferries", chamber="demo", program=parse(PROGRAM), arms={"A1": "light"}))
FIRST_END = "start = 0.0\nend = 7200.0"


@pytest.mark.parametrize(("model", "text"), [(Chamber, CHAMBER), (Sheet, SHEET), (Plan, PLAN)])
def test_they_come_back_as_they_were(model, text):
    read = parse_as(model, text, "file")
    assert parse_as(model, render(read), "file") == read


@pytest.mark.parametrize(
    ("model", "text", "written", "instead", "line", "says"),
    [
        (Chamber, CHAMBER, 'how = "estimated"', 'how = "guess"', 'how = "guess"', "'measured' or 'estimated'"),
        (Chamber, CHAMBER, 'how = "estimated"', 'how = "measured"', 'how = "measured"', "needs its 'instrument'"),
        (Chamber, CHAMBER, "share = 0.001", "share = 2", "share = 2", "less than or equal to 1, not 2"),
        (Chamber, CHAMBER, 'to = "A3"', 'to = "A9"', 'to = "A9"', "two different zones of the chamber"),
        (Chamber, CHAMBER, "peak_nm = 435", "peak_nm = 365", "peak_nm = 365", "greater than or equal to 400, not 365"),
        (Sheet, SHEET, 'kind = "carbon black"', 'kind = "soot"', 'kind = "soot"', "'mineral colour' or 'unknown'"),
        (Sheet, SHEET, "strength_pct = 3, ", "", "wet_min = 30", "a chemical needs its strength_pct"),
        (Sheet, SHEET, 'name = "B2"', 'name = "2B"', 'name = "2B"', "begin it with a letter"),
        (Sheet, SHEET, "covered = true", "covered = true, light = true", "covered = true,", "not both"),
        (Sheet, SHEET, 'id = "ferry-timetable"', 'id = "Ferry"', 'id = "Ferry"', "write it in small letters"),
        (Plan, PLAN, 'sleep_from = "22:30:00"', 'sleep_from = "25:00"', 'sleep_from = "25:00"', "valid time"),
        (Plan, PLAN, FIRST_END, FIRST_END.replace("7200.0", '"2 hours"'), 'end = "2 hours"', "is no duration"),
        (Plan, PLAN, FIRST_END, FIRST_END.replace("end", "ende"), "ende = 7200", "check its spelling"),
        (Plan, PLAN, 'A1 = "light"', 'A1 = ""', 'A1 = ""', "this should have at least 1 character"),
    ],
)
def test_a_mistake_names_its_line_and_what_to_do(model, text, written, instead, line, says):
    assert written in text
    wrong = text.replace(written, instead, 1)
    with pytest.raises(ProgramError) as told:
        parse_as(model, wrong, "file.toml")
    number = next(n for n, one in enumerate(wrong.splitlines(), start=1) if line in one)
    assert says in str(told.value)
    assert f"file.toml, line {number}" in str(told.value)
