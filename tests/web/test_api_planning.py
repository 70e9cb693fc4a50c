"""Sheets, plans, checks, starts, rehearsals and calibrations by script."""

import time
from datetime import timedelta
from typing import Any

import pytest

from lampwarden.domain.plan import Plan
from lampwarden.domain.program_file import parse, parse_as

from .conftest import Asker, Bench

HERE = "/api/chambers/bench"
WILMA = {"by": "Wilma"}
SHEET = """\
id = "timetable"
title = "Summer timetable"
paper = "rag"
original = false
consent = true

[[cells]]
name = "A1"
zone = "A1"
x_mm = 10
y_mm = 10
width_mm = 30
height_mm = 30
treatment = { light = true }
"""
PLAN: dict[str, Any] = {
    "id": "strip",
    "title": "One strip",
    "chamber": "bench",
    "sheet": "timetable",
    "program": {
        "title": "One strip",
        "zones": [{"zone": "A1", "exposures": [{"start": "0 s", "end": "10 min"}]}],
        "checkpoints": [{"name": "baseline", "at": 0}],
    },
}
STRIP = f"{HERE}/plans/strip"


@pytest.fixture
def planned(api: Asker) -> Asker:
    assert put(api, "/api/sheets/timetable", WILMA | {"toml": SHEET}).json() == {"id": "timetable", "revision": 1}
    assert put(api, STRIP, WILMA | {"plan": PLAN}).json() == {"id": "strip", "revision": 1}
    return api


def put(api: Asker, path: str, body: Any) -> Any:
    return api.ask("PUT", path, json=body)


def kind(answer: Any) -> tuple[int, str]:
    return answer.status_code, answer.json()["type"].removeprefix("/api/problems#")


def confirmed(api: Asker) -> list[dict[str, str]]:
    """A yes to each line that asks for one."""
    lines = api.post(f"{STRIP}/preflight", WILMA).json()["lines"]
    return [{"key": line["key"].removeprefix("caution:"), "text": line["confirm"]} for line in lines if line["confirm"]]


def test_files_go_in_and_out(planned: Asker) -> None:
    (sheet,) = planned.get("/api/sheets").json()
    assert (sheet["sheet"]["title"], sheet["revision"], sheet["saved_by"]) == ("Summer timetable", 1, "Wilma")
    text = planned.get("/api/sheets/timetable/toml")
    assert text.headers["content-type"].startswith("text/plain")
    assert put(planned, "/api/sheets/timetable", WILMA | {"toml": text.text, "revision": 1}).json()["revision"] == 2
    plan = parse_as(Plan, planned.get(f"{STRIP}/toml").text, "plan.toml")
    assert plan == Plan.model_validate(PLAN)
    assert parse(planned.get(f"{STRIP}/program").text) == plan.program
    assert planned.get(f"{STRIP}?revision=1").json()["plan"]["program"]["zones"][0]["exposures"][0]["end"] == 600.0
    assert [each["plan"]["id"] for each in planned.get(f"{HERE}/plans").json()] == ["strip"]


def test_what_cannot_be_saved_says_why(planned: Asker) -> None:
    assert kind(put(planned, STRIP, WILMA | {"plan": PLAN, "revision": 2})) == (409, "changed-meanwhile")
    assert kind(put(planned, STRIP, WILMA | {"plan": PLAN})) == (409, "not-now")
    assert kind(put(planned, f"{HERE}/plans/other", WILMA | {"plan": PLAN})) == (422, "program-wrong")
    assert kind(put(planned, STRIP, WILMA)) == (422, "program-wrong")
    assert kind(put(planned, STRIP, WILMA | {"plan": PLAN | {"chamber": "cellar"}})) == (422, "program-wrong")
    wrong = put(planned, "/api/sheets/timetable", WILMA | {"toml": SHEET.replace("rag", "silk")})
    assert kind(wrong) == (422, "program-wrong")
    assert "line 3, paper" in wrong.json()["detail"]
    assert kind(planned.ask("DELETE", "/api/sheets/timetable?by=Ida")) == (409, "not-now")
    assert planned.ask("DELETE", f"{STRIP}?by=Ida").status_code == 204
    assert kind(planned.get(STRIP)) == (404, "unknown-name")
    assert planned.ask("DELETE", "/api/sheets/timetable?by=Ida").status_code == 204


def test_schemas(api: Asker) -> None:
    program = api.get("/api/program-schema").json()
    assert program["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert api.get("/api/file-schemas/program").json() == program
    assert "cells" in api.get("/api/file-schemas/sheet").json()["properties"]
    assert kind(api.get("/api/file-schemas/poem")) == (404, "unknown-name")


def test_checked_confirmed_and_started(planned: Asker, bench: Bench) -> None:
    refused = planned.post(f"{STRIP}/start", WILMA)
    assert kind(refused) == (409, "not-now")
    assert "confirm it by name" in refused.json()["detail"]
    body = WILMA | {"confirmed": confirmed(planned)}
    assert planned.post(f"{STRIP}/preflight", body).json()["may_start"] is True
    begun = planned.post(f"{STRIP}/start", body)
    assert begun.status_code == 201
    saved = planned.get(f"{HERE}/sessions/{begun.json()['session_id']}").json()
    assert (saved["plan_id"], saved["plan"]["title"], saved["sheet"]["id"]) == ("strip", "One strip", "timetable")
    assert bench.run(1).session.active


def test_a_start_later_is_set_and_cancelled(planned: Asker, bench: Bench) -> None:
    at = (bench.clock.utc() + timedelta(hours=2)).isoformat()
    body = WILMA | {"confirmed": confirmed(planned), "at": at}
    made = planned.post(f"{STRIP}/start-later", body)
    assert made.status_code == 201
    assert made.json()["at_utc"].startswith("2031-03-03T10:00:")
    assert planned.get(f"{HERE}/starts").json() == [made.json()]
    assert kind(put(planned, STRIP, WILMA | {"plan": PLAN, "revision": 1})) == (409, "not-now")
    cancelled = planned.post(f"{HERE}/starts/{made.json()['id']}/cancel", WILMA)
    assert cancelled.json()["state"] == "cancelled"
    assert kind(planned.post(f"{HERE}/starts/{made.json()['id']}/cancel", WILMA)) == (409, "not-now")
    assert kind(planned.post(f"{HERE}/starts/99/cancel", WILMA)) == (404, "unknown-name")
    naive = planned.post(f"{STRIP}/start-later", body | {"at": "2031-03-03T22:00:00"})
    assert kind(naive) == (422, "program-wrong")


def test_a_rehearsal_is_followed_to_its_end(planned: Asker) -> None:
    begun = planned.post(f"{STRIP}/rehearse", WILMA)
    assert begun.status_code == 202
    path = f"{HERE}/rehearsals/{begun.json()['id']}"
    end = time.monotonic() + 20
    while (found := planned.get(path).json())["state"] == "running":
        assert time.monotonic() < end
        time.sleep(0.05)
    assert (found["state"], found["share"], found["error"]) == ("done", 1.0, "")
    assert found["result"]["outcome"] == "completed"
    assert found["result"]["zones"][0]["true_lit_s"] == pytest.approx(600, abs=3)
    assert planned.post(f"{path}/cancel", WILMA).json()["state"] == "done"
    assert kind(planned.get(f"{HERE}/rehearsals/r77")) == (404, "unknown-name")


def test_zones_are_calibrated(planned: Asker) -> None:
    new = {
        "irradiance_w_m2": 91.0,
        "calibration": {"how": "measured", "instrument": "a radiometer", "on": "2031-03-01"},
    }
    made = planned.post(f"{HERE}/calibrations", WILMA | {"zones": {"A1": new}})
    assert made.status_code == 201
    assert made.json()["chamber"]["zones"][0]["irradiance_w_m2"] == 91.0
    assert made.json() == planned.get(f"{HERE}/described").json()
    assert [bank["bank"] for bank in made.json()["banks"]] == [1, 2]
    (saved,) = planned.get(f"{HERE}/calibrations").json()
    assert (saved["zone"], saved["on"], saved["saved_by"]) == ("A1", "2031-03-01", "Wilma")
    assert kind(planned.post(f"{HERE}/calibrations", WILMA | {"zones": {"Z9": new}})) == (422, "program-wrong")


def test_another_chamber_has_none_of_it(planned: Asker) -> None:
    for path in ("plans", "plans/strip", "starts", "calibrations", "described", "rehearsals/r1"):
        assert kind(planned.get(f"/api/chambers/nowhere/{path}")) == (404, "unknown-name"), path
    for path in ("plans/strip/start", "plans/strip/rehearse", "starts/1/cancel"):
        assert kind(planned.post(f"/api/chambers/nowhere/{path}", WILMA)) == (404, "unknown-name"), path
