"""Each check before a start, on what a real board said and one thing changed."""

from dataclasses import replace
from typing import Any

import pytest

from lampwarden.domain.program import Checkpoint, Exposure, Limits, Program, ZonePlan
from lampwarden.keeper import BoardView, Kept, PreflightLine
from lampwarden.keeper.preflight import Preflight, board_lines, preflight

from .conftest import CHAMBER, Bench

PROGRAM = Program(
    title="Two strips",
    zones=(ZonePlan(zone="left", exposures=(Exposure(start_s=0, end_s=120),)),),
    checkpoints=(Checkpoint(name="baseline", at_s=0), Checkpoint(name="end", at_s=120, attended=False)),
)


@pytest.fixture(scope="module")
def seen(tmp_path_factory: pytest.TempPathFactory) -> BoardView:
    """A board at rest that keeps the limits."""
    bench = Bench(tmp_path_factory.mktemp("board") / "lampwarden.db")
    bench.turn()
    tried = bench.keeper.try_limits(PROGRAM.limits)
    view = bench.turn().board
    tried.result(0)
    bench.store.close()
    return view


def lines(view: BoardView, program: Program = PROGRAM, chamber: Any = CHAMBER) -> dict[str, PreflightLine]:
    return {line.key: line for line in board_lines(program, chamber, view, None)}


def test_all_is_well(seen: BoardView) -> None:
    found = board_lines(PROGRAM, CHAMBER, seen, None)
    assert {line.verdict for line in found} == {"pass"}
    assert all(line.says and line.title and not line.remedy for line in found)
    assert len({line.key for line in found}) == len(found) == 14
    assert Preflight(found).may_start


@pytest.mark.parametrize(
    ("change", "key", "verdict", "says"),
    [
        ({"air_age_s": 3.5}, "air", "fail", "3.5 s old"),
        ({"air_status": "frozen"}, "air", "fail", "frozen"),
        ({"air_temp_c": None}, "air", "fail", "no usable value"),
        ({"air_temp_c": 35.0}, "air", "fail", "not below the soft limit of 35.0"),
        ({"air_temp_c": 34.9}, "air", "pass", "34.9"),
        ({"humidity_pct": None}, "air", "caution", "humidity"),
        ({"humidity_pct": 100.0}, "air", "caution", "100 %"),
        ({"bank_temps_c": (22.0, None)}, "banks", "fail", "bank 2"),
        ({"bank_temps_c": (22.0, float("nan"))}, "banks", "fail", "bank 2"),
        ({"bank_temps_c": (8.0, 22.0)}, "banks", "caution", "Bank 1 reads 8.0"),
        ({"door_open": True}, "door", "fail", "open"),
        ({"stop_pressed": True}, "stop", "fail", "down"),
        ({"trip_cause": 6, "trip_text": "air sensor silent"}, "trip", "fail", "air sensor silent"),
    ],
)
def test_what_the_board_sees(seen: BoardView, change: dict[str, Any], key: str, verdict: str, says: str) -> None:
    assert seen.live is not None
    line = lines(replace(seen, live=replace(seen.live, **change)))[key]
    assert (line.verdict, says in line.says) == (verdict, True), line


@pytest.mark.parametrize(
    ("change", "key", "verdict", "says"),
    [
        ({"zone_count": 1}, "fitted", "fail", "1 zones"),
        ({"bank_count": 1}, "fitted", "fail", "2 banks"),
        ({"lit_ceiling_s": 119}, "lit", "fail", "'left' is lit for 2 min"),
        ({"lit_ceiling_s": 120}, "lit", "pass", "2 min"),
        ({"has_inspection": False}, "inspection", "caution", "the board has none."),
        ({"air_ceiling_c": 39.0}, "limits", "fail", "ceiling of 39 °C"),
    ],
)
def test_what_the_board_is(seen: BoardView, change: dict[str, Any], key: str, verdict: str, says: str) -> None:
    assert seen.identity is not None
    line = lines(replace(seen, identity=replace(seen.identity, **change)))[key]
    assert (line.verdict, says in line.says) == (verdict, True), line


def test_a_camera_needs_the_inspection_light(seen: BoardView) -> None:
    assert seen.identity is not None
    view = replace(seen, identity=replace(seen.identity, has_inspection=False))
    with_camera = CHAMBER.model_copy(update={"camera": "shoot {file}"})
    assert lines(view, chamber=with_camera)["inspection"].verdict == "fail"
    without = CHAMBER.model_copy(update={"inspection": False, "camera": "shoot {file}"})
    assert lines(view, chamber=without)["inspection"].verdict == "pass"


@pytest.mark.parametrize(
    ("kept", "verdict"),
    [
        (None, "caution"),
        (Kept(40.0, 62.0), "caution"),
        (Kept(40.0, 63.0), "pass"),
        (Kept(40.0, 63.0, "it refused"), "fail"),
    ],
)
def test_limits_kept_by_the_board(seen: BoardView, kept: Kept | None, verdict: str) -> None:
    assert lines(replace(seen, kept=kept))["limits"].verdict == verdict


def test_light_at_a_low_level_counts_in_full(seen: BoardView) -> None:
    """The board counts how long a zone is lit, not how bright."""
    assert seen.identity is not None
    dim = PROGRAM.model_copy(
        update={"zones": (ZonePlan(zone="left", exposures=(Exposure(start_s=0, end_s=120, level=0.1),)),)}
    )
    view = replace(seen, identity=replace(seen.identity, lit_ceiling_s=100))
    assert lines(view, dim)["lit"].verdict == "fail"
    assert preflight(dim, CHAMBER, view, None) == [], "the board minds that by itself"


def test_what_is_not_of_the_board(seen: BoardView) -> None:
    found = {line.key: line for line in board_lines(PROGRAM, CHAMBER, seen, "The disk is full.")}
    assert "The disk is full." in found["record"].says
    foreign = PROGRAM.model_copy(update={"zones": (ZonePlan(zone="up", exposures=PROGRAM.zones[0].exposures),)})
    assert lines(seen, foreign)["program"].verdict == "fail"
    assert lines(replace(seen, unproved="It has no record."))["commissioned"].says == "It has no record."
    assert list(lines(replace(seen, trouble="gone"))) == ["program", "record", "board"]


def test_limits_are_tried_again_for_another_program(bench: Bench) -> None:
    bench.turn()
    guard = bench.world.node.guard
    for air_c in (38.0, 36.5):
        tried = bench.keeper.try_limits(Limits(air_hard_c=air_c, air_soft_c=30.0))
        bench.turn()
        tried.result(0)
        assert guard.air_limit_centi_c == round(100 * air_c)
        assert bench.keeper.board.kept == Kept(air_c, 63.0)
    bench.rig.wire.plugged = False
    bench.turn(3)
    assert bench.keeper.board.kept is None
