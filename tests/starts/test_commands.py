"""`lampwarden plan`: what speaks against a plan in files."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from lampwarden.cli import app
from lampwarden.errors import ProgramError
from lampwarden.rehearsal import SCENARIOS

PLAN = """\
id = "ferry"
title = "Ferry timetable"
chamber = "demo"
sheet = "ferry-timetable"

[program]
title = "Ferry timetable"
checkpoints = [{ name = "baseline", at = 0 }]

[[program.zones]]
zone = "A1"
exposures = [{ end = "2 h" }]
"""


def check(folder: Path, text: str) -> tuple[int, str]:
    file = folder / "plan.toml"
    file.write_text(text)
    more = ["--chamber", str(SCENARIOS / "chamber.toml"), "--sheet", str(SCENARIOS / "sheet.toml")]
    done = CliRunner().invoke(app, ["plan", "check", str(file), *more])
    if isinstance(done.exception, ProgramError):
        raise done.exception
    return done.exit_code, done.output


def test_what_stops_a_plan_is_printed_first(tmp_path: Path) -> None:
    code, said = check(tmp_path, PLAN)
    assert code == 2
    assert said.splitlines()[0].startswith("stop  cell A2: Cell 'A2' is meant to get light but zone 'A2' stays dark.")


def test_a_plan_without_fault_leaves_its_cautions_to_confirm(tmp_path: Path) -> None:
    lit = "".join(f'\n[[program.zones]]\nzone = "{z}"\nexposures = [{{ end = "{h} h" }}]\n' for z, h in
                  (("A2", 4), ("A3", 8), ("B1", 8)))  # fmt: skip
    code, said = check(tmp_path, PLAN + lit)
    assert code == 0, said
    assert "confirm eyes-light: " in said
    assert "stop " not in said


def test_a_wrong_file_names_its_line(tmp_path: Path) -> None:
    with pytest.raises(ProgramError, match=r"plan\.toml, line 12, program\.zones\[1\]"):
        check(tmp_path, PLAN.replace("2 h", "2 moons"))


def test_the_schema_of_each_file_is_printed() -> None:
    for kind, key in (("program", "zones"), ("plan", "sleep_from"), ("sheet", "cells"), ("chamber", "leaks")):
        done = CliRunner().invoke(app, ["plan", "schema", kind])
        assert key in json.loads(done.output)["properties"]
