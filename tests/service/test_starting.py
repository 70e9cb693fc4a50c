"""The checks before a start, and the start of a plan with what was confirmed for it."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from tests.web.conftest import Bench

from lampwarden.domain.sheet import Treatment
from lampwarden.engine import Phase
from lampwarden.errors import NotNow, UnknownName
from lampwarden.keeper import PreflightLine
from lampwarden.service import Confirmed, Service

from .conftest import PLAN, PROGRAM, SHEET, yes


def verdicts(service: Service, plan=PLAN, confirmed=()) -> dict[str, PreflightLine]:
    return {line.key: line for line in service.preflight("bench", plan, confirmed).lines}


def test_all_is_well_once_the_cautions_are_confirmed(service: Service) -> None:
    lines = verdicts(service)
    open_lines = {key for key, line in lines.items() if line.verdict == "fail"}
    assert open_lines
    assert {key.split(":")[0] for key in open_lines} == {"caution"}
    assert all(lines[key].confirm for key in open_lines)
    ready = service.preflight("bench", PLAN, yes())
    assert ready.may_start
    assert {line.key for line in ready.lines if line.verdict == "caution"} == {"notify"}
    assert {"board", "firmware", "limits", "lit", "air", "banks", "disk", "clock", "consent", "baseline"} <= set(lines)


def test_limits_are_written_to_the_board_and_read_back(service: Service, bench: Bench) -> None:
    assert "read back" in verdicts(service)["limits"].says
    guard = bench.world.node.guard
    assert (guard.air_limit_centi_c, guard.bank_limit_centi_c) == (4000, 6300)
    bench.world.reboot()
    bench.run(10)
    assert bench.keeper.board.kept is None, "a board that restarted keeps none"


@pytest.mark.parametrize(
    ("spoil", "key", "says"),
    [
        (lambda bench: bench.world.door(True), "door", "open"),
        (lambda bench: bench.world.press_stop(True), "stop", "down"),
        (lambda bench: bench.world.air_sensor("silent"), "air", "no usable value"),
        (lambda bench: setattr(bench.rig.wire, "plugged", False), "board", "does not answer"),
        (lambda bench: setattr(bench.clock, "utc_shift", timedelta(days=-1)), "clock", "journal has a line of"),
        (lambda bench: setattr(bench.clock, "utc_shift", timedelta(days=-40 * 365)), "clock", "clock shows"),
    ],
)
def test_what_forbids_a_start(
    service: Service, bench: Bench, spoil: Callable[[Bench], object], key: str, says: str
) -> None:
    service.report("note", "A line at this time.")
    spoil(bench)
    bench.run(8)
    line = verdicts(service, confirmed=yes())[key]
    assert (line.verdict, says in line.says) == ("fail", True), line
    with pytest.raises(NotNow, match=says):
        service.start_plan("strips", "Wilma", yes())
    assert service.sessions("bench") == []


def test_a_plan_that_compares_like_with_like_is_refused(service: Service) -> None:
    alike = PLAN.model_copy(update={"arms": {"A1": "short", "A2": "long"}})
    both = PROGRAM.model_copy(update={"zones": tuple(PROGRAM.zones[0].model_copy(update={"zone": z}) for z in ("A1",))})
    cells = tuple(cell.model_copy(update={"zone": "A1"}) for cell in SHEET.cells[:2])
    service.save_sheet(SHEET.model_copy(update={"cells": cells}), "Wilma", 1)
    line = verdicts(service, alike.model_copy(update={"program": both}))["plan:alike"]
    assert line.verdict == "fail"
    assert "should differ" in line.says


@pytest.mark.parametrize(
    ("change", "key", "verdict"),
    [
        ({"consent": False, "original": True}, "consent", "fail"),
        ({"consent": False, "original": False}, "caution:consent", "fail"),
        ({"original": True}, "test-piece", "caution"),
        ({"original": True}, "caution:original", "fail"),
    ],
)
def test_what_the_sheet_asks_for(service: Service, change: dict[str, object], key: str, verdict: str) -> None:
    service.save_sheet(SHEET.model_copy(update=change), "Wilma", 1)
    assert verdicts(service)[key].verdict == verdict


def test_a_plan_without_a_sheet_or_a_baseline_only_cautions(service: Service) -> None:
    bare = PLAN.model_copy(update={"sheet": None, "program": PROGRAM.model_copy(update={"checkpoints": ()})})
    lines = verdicts(service, bare, yes(bare, None))
    assert (lines["sheet"].verdict, lines["baseline"].verdict) == ("caution", "caution")
    assert all(line.verdict != "fail" for line in lines.values())


def test_light_beyond_the_boards_ceiling_is_refused(service: Service) -> None:
    long = PROGRAM.model_copy(
        update={"zones": (PROGRAM.zones[0].model_copy(update={"exposures": (_exposure(31 * 3600.0),)}),)}
    )
    line = verdicts(service, PLAN.model_copy(update={"program": long}))["lit"]
    assert (line.verdict, "31 h" in line.says, "30 h" in line.says) == ("fail", True, True)


def _exposure(end_s: float):
    return PROGRAM.zones[0].exposures[0].model_copy(update={"end_s": end_s})


def test_a_start_keeps_plan_sheet_and_what_was_confirmed(service: Service, bench: Bench) -> None:
    session_id = service.start_plan("strips", "Wilma", yes())
    saved = service.session(session_id)
    assert (saved.plan_id, saved.title) == ("strips", "Two strips")
    assert saved.plan == PLAN.model_dump(mode="json", by_alias=True, exclude_none=True)
    assert saved.sheet["cells"][0]["treatment"]["light"] is True
    lines = service.journal("bench", session_id)
    said = [line for line in lines if line.kind == "caution_confirmed"]
    assert {line.data["key"] for line in said} == {each.key for each in yes()}
    assert said[0].text.startswith("Wilma confirmed: ")
    assert [line.kind for line in lines][: len(said) + 2] == ["made_with", *["caution_confirmed"] * len(said), "began"]
    assert f"board {bench.keeper.board.identity.unique_id} with firmware" in lines[0].text
    service.save_plan(PLAN.model_copy(update={"title": "Another"}), "Ida", 1)
    assert service.session(session_id).plan["title"] == "Two strips"


def test_nothing_starts_while_a_caution_is_not_confirmed(service: Service, bench: Bench) -> None:
    with pytest.raises(NotNow, match="confirm it by name"):
        service.start_plan("strips", "Wilma", yes()[1:])
    with pytest.raises(NotNow, match="confirm it by name"):
        service.start_plan("strips", "Wilma", yes(by=" "))
    assert service.sessions("bench") == []
    with pytest.raises(UnknownName):
        service.start_plan("strip", "Wilma", yes())


def test_strong_peroxide_needs_its_sentence_word_for_word(service: Service, bench: Bench) -> None:
    strong = Treatment(light=True, chemical="hydrogen peroxide", strength_pct=9, wet_min=10)
    cells = (SHEET.cells[0].model_copy(update={"treatment": strong}), *SHEET.cells[1:])
    sheet = SHEET.model_copy(update={"cells": cells})
    service.save_sheet(sheet, "Wilma", 1)
    every = yes(PLAN, sheet)
    (said,) = (each for each in every if each.key == "peroxide-strong")
    rest = tuple(each for each in every if each is not said)
    weaker = Confirmed(said.key, "Wilma", said.text.replace("9 %", "8 %"))
    for wrong in (Confirmed(said.key, "Wilma", "yes"), weaker, Confirmed(said.key, "", said.text)):
        with pytest.raises(NotNow, match="It can blind"):
            service.start_plan("strips", "Wilma", (*rest, wrong))
    session_id = service.start_plan("strips", "Wilma", every)
    (line,) = (line for line in service.journal("bench", session_id) if line.kind == "peroxide_confirmed")
    assert line.data == {"key": "peroxide-strong", "by": "Wilma", "text": said.text}


def test_a_session_with_confirmations_is_taken_up_after_a_restart(service: Service, bench: Bench) -> None:
    service.start_plan("strips", "Wilma", yes())
    bench.until(lambda s: s.session is not None and s.session.waiting is not None, 20)
    bench.service.close()
    bench.daemon()
    bench.open()
    session = bench.run(2).session
    assert session is not None
    assert session.phase is Phase.HELD
    assert bench.service.session(bench.keeper.snapshot.session_id).plan_id == "strips"


def test_while_a_session_runs_the_checks_say_so(service: Service, bench: Bench) -> None:
    service.start_plan("strips", "Wilma", yes())
    assert verdicts(service, confirmed=yes())["session"].verdict == "fail"
    with pytest.raises(NotNow, match="under way"):
        service.start_plan("strips", "Wilma", yes())
    assert len(service.sessions("bench")) == 1


def test_a_plan_for_zones_that_are_not_there_says_so_once(service: Service) -> None:
    zone = PROGRAM.zones[0].model_copy(update={"zone": "Z9"})
    foreign = PLAN.model_copy(update={"program": PROGRAM.model_copy(update={"zones": (zone,)})})
    found = service.preflight("bench", foreign, yes())
    assert [line.key for line in found.lines if "no zone 'Z9'" in line.says] == ["program"]
    assert not found.may_start


def test_messages_that_came_through_are_well(service: Service) -> None:
    service.notified = lambda: (True, "A message of today came through.")
    assert verdicts(service)["notify"].verdict == "pass"
