"""The API over a real service: what it reads, what it orders, what it refuses."""

import threading
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import httpx
import pytest

from lampwarden.errors import LampwardenError
from lampwarden.store.records import Batch, Ended
from lampwarden.web.api import examples

from .conftest import PROGRAM, Asker, Bench

HERE = "/api/chambers/bench"
WILMA = {"by": "Wilma"}


def problem(answer: httpx.Response, status: int, kind: str) -> dict[str, Any]:
    """The problem body of a refusal, checked for its form (RFC 9457, section 3)."""
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    body = answer.json()
    assert body["type"] == f"/api/problems#{kind}"
    assert body["status"] == status
    assert body["title"]
    assert body["detail"]
    return body


def test_a_body_that_cannot_be_read_is_a_wrong_request(api: Asker) -> None:
    for body in (b"\xff\xfe", b"{", b""):
        answer = api.ask("POST", f"{HERE}/hold", content=body, headers={"content-type": "application/json"})
        problem(answer, 422, "request-wrong")


def test_another_chambers_session_is_not_shown_as_ones_own(bench: Bench, api: Asker) -> None:
    bench.store.begin_session("cellar-1", "cellar", "Elsewhere", {}, {}, "2031-03-03T08:00:00.000Z")
    described = api.get("/api/openapi.json").json()["paths"]
    filled = {"chamber_id": "bench", "session_id": "cellar-1", "table": "zones", "number": "1", "photo": "0" * 64}
    asked = 0
    for path, item in described.items():
        if "{chamber_id}" in path and "{session_id}" in path:
            for method in item:
                answer = api.ask(method.upper(), f"/api{path.format_map(filled)}")
                assert problem(answer, 404, "unknown-name")["detail"].startswith("Session 'cellar-1' belongs"), path
                asked += 1
    assert asked > 10


# --- reading --------------------------------------------------------------------------------------------------------


def test_chambers(api: Asker) -> None:
    (chamber,) = api.get("/api/chambers").json()
    assert chamber == {
        "chamber_id": "bench",
        "title": "Test bench",
        "href": HERE,
        "state": "At rest",
        "session_id": None,
    }


def test_chamber_at_rest(api: Asker, bench: Bench) -> None:
    body = api.get(HERE).json()
    live = bench.service.snapshot("bench").board.live
    assert body["board"]["answers"] is True
    assert body["board"]["readings"]["air_temp_c"] == live.air_temp_c
    assert body["board"]["readings"]["zone_levels"] == [0.0, 0.0, 0.0]
    assert body["session"] is None
    assert [zone["name"] for zone in body["zones"]] == ["A1", "A2", "B1"]
    problem(api.get(f"{HERE}/session"), 404, "unknown-name")


def test_chamber_whose_board_never_answered(unopened: Bench, api: Asker) -> None:
    unopened.rig.wire.plugged = False
    unopened.run(3)
    body = api.get(HERE).json()
    assert body["board"]["answers"] is False
    assert body["board"]["trouble"]


def test_session_in_full(api: Asker, bench: Bench) -> None:
    bench.lit()
    bench.run(100)
    body = api.get(f"{HERE}/session").json()
    assert (body["chamber_id"], body["phase"], body["title"]) == ("bench", "running", PROGRAM.title)
    a1, _, b1 = body["zones"]
    assert a1["asked_level"] == 1.0
    assert a1["dose_j_cm2"] == pytest.approx(a1["lit_s"] * 0.01)  # 100 W/m2
    assert a1["planned_j_cm2"] == pytest.approx(6.0)
    assert (b1["planned_s"], b1["done"]) == (0.0, True)
    assert body["next_checkpoint"] == "5 min"
    assert body["program"]["zones"][0]["exposures"][0]["end"] == 600.0
    bench.service.hold("bench", "Wilma")
    bench.run(1)
    (hold,) = api.get(f"{HERE}/session").json()["holds"]
    assert (hold["reason"], hold["needs_person"]) == ("operator", True)


def test_record(api: Asker, bench: Bench) -> None:
    bench.lit()
    bench.run(60)
    bench.service.end("bench", "Wilma", "The sheet curls.")
    bench.run(2)
    (saved,) = api.get(f"{HERE}/sessions").json()
    assert (saved["outcome"], saved["chamber_id"]) == ("ended by person", "bench")
    full = api.get(f"{HERE}/sessions/{saved['session_id']}").json()
    assert full["program"]["title"] == PROGRAM.title
    readings = api.get(f"{HERE}/sessions/{saved['session_id']}/readings", params={"points": 10}).json()
    assert 5 <= len(readings["stretches"]) <= 10
    assert readings["stretches"][0]["air_temp_c_mean"] == pytest.approx(22, abs=1)
    assert len(readings["stretches"][0]["bank_temps_c_mean"]) == 2
    assert api.get(f"{HERE}/sessions", params={"before": saved["session_id"]}).json() == []


def test_journal_is_read_on(api: Asker, bench: Bench) -> None:
    bench.start()
    first = api.get(f"{HERE}/journal", params={"limit": 2}).json()
    assert [line["seq"] for line in first["lines"]] == [1, 2]
    rest = api.get(f"{HERE}/journal", params={"after_seq": first["next_after_seq"]}).json()
    assert rest["lines"][0]["seq"] == 3
    last = api.get(f"{HERE}/journal", params={"after_seq": rest["next_after_seq"]}).json()
    assert last == {"chamber_id": "bench", "lines": [], "next_after_seq": rest["next_after_seq"]}
    assert {line["chamber_id"] for line in rest["lines"]} == {"bench"}


def test_session_of_another_chamber_is_not_found_here(api: Asker, bench: Bench) -> None:
    bench.store.begin_session("far-1", "far", "Other", {}, {}, "2031-03-03T08:00:00.000Z")
    bench.store.commit(Batch("far-1", ended=Ended("completed", "done", "2031-03-03T09:00:00.000Z")))
    for path in ("sessions/far-1", "sessions/far-1/readings", "journal?session_id=far-1", "sessions?before=far-1"):
        problem(api.get(f"{HERE}/{path}"), 404, "unknown-name")


@pytest.mark.parametrize("path", ["", "/session", "/sessions", "/sessions/x", "/sessions/x/readings", "/journal"])
def test_unknown_chamber(api: Asker, path: str) -> None:
    assert "bench" in problem(api.get(f"/api/chambers/nowhere{path}"), 404, "unknown-name")["detail"]


@pytest.mark.parametrize("query", ["limit=0", "limit=1001", "after_seq=-1", "limit=many"])
def test_wrong_questions(api: Asker, query: str) -> None:
    body = problem(api.get(f"{HERE}/journal?{query}"), 422, "request-wrong")
    assert body["faults"][0]["where"].startswith("query.")


def test_the_white_light_is_lit_again_for_a_photo(api: Asker, bench: Bench) -> None:
    """By order, and before the chamber's camera takes a photo, which waits for it."""
    session_id = bench.start().session_id
    bench.run(1802)
    assert bench.world.truth.inspection_permille == 0
    assert api.post(f"{HERE}/inspection", WILMA).json()["order"] == "inspection"
    bench.run(2)
    assert bench.world.truth.inspection_permille > 0
    bench.run(1800)
    assert bench.world.truth.inspection_permille == 0

    seen: list[int] = []

    def camera() -> list[bytes]:
        seen.append(bench.world.truth.inspection_permille)
        raise LampwardenError("no film")

    bench.service.set_camera("bench", camera)
    with ThreadPoolExecutor(1) as threads:
        taken = threads.submit(bench.service.take_photo, "bench", "Wilma", session_id, None, "baseline")
        while not taken.done():
            bench.run(1)
        assert str(taken.exception()) == "no film"
    assert seen == [300]
    bench.service.answer("bench", "baseline", "Wilma")
    bench.run(2)
    problem(api.post(f"{HERE}/inspection", WILMA), 409, "not-now")


# --- orders ---------------------------------------------------------------------------------------------------------


def test_a_session_by_script(api: Asker, bench: Bench) -> None:
    """Begun from TOML, answered, paused, continued, noted, changed, ended."""
    begun = api.post(f"{HERE}/start", WILMA | {"toml": examples.PROGRAM_TOML})
    assert begun.status_code == 201
    session_id = begun.json()["session_id"]
    bench.run(3)
    answered = api.post(f"{HERE}/answer", WILMA | {"checkpoint": "baseline", "note": "all well"})
    assert answered.json() == {"chamber_id": "bench", "session_id": session_id, "order": "answer"}
    bench.run(20)
    assert not bench.world.truth.dark
    assert api.post(f"{HERE}/hold", WILMA).status_code == 200
    bench.run(1)
    assert bench.world.truth.dark
    assert api.post(f"{HERE}/continue", WILMA).status_code == 200
    bench.run(10)
    assert not bench.world.truth.dark
    assert api.post(f"{HERE}/note", WILMA | {"text": "Fan sounds dry."}).status_code == 200
    longer = examples.PROGRAM_TOML.replace('end = "2 h"', 'end = "3 h"')
    assert api.post(f"{HERE}/plan", WILMA | {"toml": longer}).status_code == 200
    bench.run(1)
    assert api.get(f"{HERE}/session").json()["zones"][0]["planned_s"] == 3 * 3600
    assert api.post(f"{HERE}/end", WILMA | {"why": "Enough."}).status_code == 200
    bench.run(2)
    assert bench.world.truth.dark
    texts = [line["text"] for line in api.get(f"{HERE}/journal").json()["lines"]]
    assert "Checkpoint 'baseline' answered by Wilma: all well." in texts
    assert "Wilma: Fan sounds dry." in texts
    assert "Session ended by person: Ended by Wilma: Enough.." in texts or texts[-1].startswith(
        "Session ended by person"
    )


def test_start_from_an_object(api: Asker, bench: Bench) -> None:
    assert api.post(f"{HERE}/start", WILMA | {"program": examples.PROGRAM}).status_code == 201


def test_stop_darkens_the_true_lamps(api: Asker, bench: Bench) -> None:
    bench.lit()
    assert not bench.world.truth.dark
    assert api.post(f"{HERE}/stop", WILMA).status_code == 200
    assert bench.world.truth.dark  # at once: no virtual time was let pass
    bench.run(5)
    assert bench.world.truth.dark
    assert [hold.why for hold in bench.service.snapshot("bench").session.holds] == [
        "Stopped by Wilma; the lamps went dark at once."
    ]


def test_stop_without_a_session(api: Asker) -> None:
    body = api.post(f"{HERE}/stop", WILMA).json()
    assert (body["order"], body["session_id"]) == ("stop", None)


def test_stop_without_a_body(api: Asker, bench: Bench) -> None:
    bench.lit()
    assert api.ask("POST", f"{HERE}/stop").status_code == 200
    assert bench.world.truth.dark


def test_clear_trip(api: Asker, bench: Bench) -> None:
    problem(api.post(f"{HERE}/clear-trip"), 409, "not-now")
    bench.world.press_stop()
    bench.run(2)
    problem(api.post(f"{HERE}/clear-trip"), 502, "board-refused")  # the button is still down
    bench.world.press_stop(False)
    bench.run(2)
    assert api.post(f"{HERE}/clear-trip").status_code == 200
    bench.run(2)
    assert api.get(HERE).json()["board"]["readings"]["trip"] is None


# --- refusals -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("order", ["hold", "continue", "end"])
def test_orders_without_a_session(api: Asker, order: str) -> None:
    problem(api.post(f"{HERE}/{order}", WILMA), 409, "not-now")


def test_late_answer_harms_nothing(api: Asker, bench: Bench) -> None:
    bench.start()
    before = bench.service.snapshot("bench").session
    problem(api.post(f"{HERE}/answer", WILMA | {"checkpoint": "5 min"}), 409, "not-now")
    after = bench.service.snapshot("bench").session
    assert (after.waiting, after.checkpoints_passed) == (before.waiting, before.checkpoints_passed)


def test_start_says_everything_that_forbids_it(api: Asker, bench: Bench) -> None:
    bench.world.door(True)
    bench.world.press_stop()
    bench.run(2)
    body = problem(api.post(f"{HERE}/start", WILMA | {"toml": examples.PROGRAM_TOML}), 409, "not-now")
    assert "door" in body["detail"]
    assert "stop button" in body["detail"]
    assert bench.world.truth.dark


def test_wrong_program_names_each_fault(api: Asker) -> None:
    wrong = examples.PROGRAM_TOML.replace('end = "2 h"', 'end = "two hours"').replace('at = "2 h"', 'att = "2 h"')
    body = problem(api.post(f"{HERE}/start", WILMA | {"toml": wrong}), 422, "program-wrong")
    assert len(body["faults"]) >= 2
    assert "line" in body["faults"][0]["message"]


@pytest.mark.parametrize(
    ("order", "body"),
    [
        ("start", WILMA),
        ("start", WILMA | {"toml": "x = 1", "program": examples.PROGRAM}),
        ("start", WILMA | {"toml": "not toml at all ["}),
        ("start", WILMA | {"toml": examples.PROGRAM_TOML.replace("A1", "Z9")}),
    ],
)
def test_no_usable_program(api: Asker, order: str, body: dict[str, str]) -> None:
    answer = api.post(f"{HERE}/{order}", body)
    assert answer.status_code in (409, 422)
    assert answer.json()["type"] in ("/api/problems#program-wrong", "/api/problems#not-now")


@pytest.mark.parametrize("body", [{}, {"by": ""}, {"by": "x" * 61}, {"by": 3}, {"by": "Wilma", "level": 1}, [], "hold"])
def test_wrong_bodies(api: Asker, body: Any) -> None:
    problem(api.post(f"{HERE}/hold", body), 422, "request-wrong")


@pytest.mark.parametrize(("method", "path", "status"), [("GET", "/api/nothing", 404), ("PUT", HERE, 405)])
def test_wrong_addresses_answer_with_problems_too(api: Asker, method: str, path: str, status: int) -> None:
    answer = api.ask(method, path)
    assert (answer.status_code, answer.headers["content-type"]) == (status, "application/problem+json")
    assert "openapi" in answer.json()["detail"]


def test_foreign_page_cannot_order(api: Asker, bench: Bench) -> None:
    bench.lit()
    answer = api.post(f"{HERE}/end", WILMA, headers={"origin": "http://evil.example"})
    assert answer.status_code == 403
    assert bench.run(2).session.active


def test_full_disk_is_told_and_nothing_lights(api: Asker, bench: Bench) -> None:
    """An order whose record does not reach the disk is not reported as done; the session is held dark."""
    bench.lit()
    bench.writer.shut = True
    answers = []
    order = threading.Thread(target=lambda: answers.append(api.post(f"{HERE}/hold", WILMA)))
    order.start()
    bench.until(lambda s: bench.world.truth.dark)  # virtual time runs on before the order has come
    assert not answers
    bench.writer.shut = False
    bench.run(12)  # the next try comes within 10 s
    order.join(10)
    assert answers[0].status_code == 200


def test_reading_does_not_wait_for_orders(api: Asker, bench: Bench) -> None:
    """A page or script that looks is answered from memory, however long an order waits for the disk."""
    bench.lit()
    bench.writer.shut = True
    order = threading.Thread(target=lambda: api.post(f"{HERE}/hold", WILMA))
    order.start()
    assert api.get(HERE).status_code == 200
    assert order.is_alive()  # it waits as long as the disk is shut
    bench.writer.shut = False
    bench.run(12)
    order.join(10)
