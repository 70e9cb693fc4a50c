"""Defects that the campaign found, each replayed as the shortest story that shows it."""

import pytest

from lampboard import registers as reg
from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.domain.program import Exposure, Program, Rules, ZonePlan
from lampwarden.rig.design import RigDesign

from .checkers import check
from .draw import Case
from .faults import Strike
from .play import stage_run
from .stage import Run

CHAMBER = Chamber(id="attic", zones=(Zone(name="left", irradiance_w_m2=80.0), Zone(name="right", irradiance_w_m2=80.0)))
CALM_S = 150.0


def program(after_restart: str, gap_s_max: float = 60.0) -> Program:
    return Program(
        title="Two strips",
        zones=(
            ZonePlan(zone="left", exposures=(Exposure(start=0, end=100),)),
            ZonePlan(zone="right", exposures=(Exposure(start=20, dose_j_cm2=0.4, level=0.5),)),
        ),
        rules=Rules(after_restart=after_restart, gap_max=gap_s_max),  # type: ignore[arg-type]
    )


def played(plan: Program, *strikes: Strike, outcome: str = "completed") -> Run:
    """The story to its end; nothing in it may break a promise."""
    run = stage_run(Case(1, CHAMBER, plan, RigDesign(), strikes, CALM_S, patience_s=20.0))
    assert check(run)[0] == []
    assert run.outcome == outcome
    return run


def off_s(run: Run, zone: int = 0) -> float:
    """Recorded less true light, s."""
    return run.recorded_lit_s[zone] - (run.witness.world.truth.lit_s(zone) - run.began_lit_s[zone])


@pytest.mark.parametrize("away_s", [1.2, 2.0, 2.9, 20.0])
def test_a_plug_pulled_for_a_moment_was_booked_as_light(away_s: float) -> None:
    run = played(program("continue"), Strike(0, "usb_pulled", 50.05, away_s, 0.5))
    assert abs(off_s(run)) <= 1.0


def test_a_clock_set_back_made_a_long_gap_short() -> None:
    down = (23 * 60 / 2000) ** (1 / 6)  # see faults.py: a host down for 23 min
    run = played(program("continue"), Strike(0, "host_dies", 50.0, 0.0, down), Strike(1, "clock_back", 51.0, 0.0, 0.6))
    restart = next(entry for entry in run.lines if entry.kind == "hold_began" and entry.data["reason"] == "restart")
    assert restart.data["needs_person"]
    assert any(entry.kind == "hold_ended" and "Continued by" in entry.text for entry in run.lines)


@pytest.mark.parametrize("door", ["before commit", "after commit"])
def test_a_power_cut_of_host_and_board_costs_at_most_a_second(door: str) -> None:
    name = f"power_cut_{door.replace(' ', '_')}"
    run = played(program("continue"), Strike(0, name, 50.5, 0.0, 0.3))
    assert len(run.lives) == 2
    assert abs(off_s(run)) <= 1.0


@pytest.mark.parametrize("trouble", ["wire_garbles", "unplugged", "host_stall"])
def test_light_before_an_end_went_unbooked(trouble: str) -> None:
    """The last second of an ended session, and up to three more if the line was in trouble just then."""
    strikes = Strike(0, trouble, 49.7, 4.0, 0.7), Strike(1, "order_end", 50.0, 0.0, 0.9)
    run = played(program("continue"), *strikes, outcome="ended by person")
    assert abs(off_s(run)) <= 0.05
    assert "could not be read" not in run.lines[-1].text


def test_an_end_of_a_board_that_is_gone_says_what_is_not_known() -> None:
    strikes = Strike(0, "unplugged", 49.7, 60.0, 0.5), Strike(1, "order_end", 50.0, 0.0, 0.9)
    run = played(program("ask"), *strikes, outcome="ended by person")
    assert "could not be read" in run.lines[-1].text


def test_a_zone_whose_light_waited_for_a_slow_disk_was_cut_short() -> None:
    plan = Program(
        title="Late",
        zones=(
            ZonePlan(zone="left", exposures=(Exposure(start=0, end=100),)),
            ZonePlan(zone="right", exposures=(Exposure(start=20, end=30),)),
        ),
    )
    run = played(plan, Strike(0, "disk_slow", 25.0, 20.0, 0.24))
    assert 2.5 < run.case.strikes[0].value * 11.95 + 0.05 < 3.0, "the lag; see faults.py"
    assert run.witness.world.truth.lit_s(1) == pytest.approx(10, abs=0.1)
    assert run.witness.world.truth.lit_s(0) == pytest.approx(100, abs=0.1)


def test_another_trip_may_come_before_the_one_that_is_expected() -> None:
    """A short circuit trips after a second; the stop button, pressed 50 ms after it, at once."""
    run = played(program("ask"), Strike(0, "ntc_short", 50.0, 20.0, 0.0), Strike(1, "stop_button", 50.05, 5.0, 0.5))
    assert next(trip.cause for trip in run.witness.trips) == reg.TRIP_STOP


def test_a_host_that_dies_with_the_end_on_disk_has_ended() -> None:
    run = played(program("ask"), Strike(0, "host_dies_after_commit", 130.1, 0.0, 0.5))
    assert run.session is None, "the next life found nothing to take up"
    assert run.lines[-1].kind == "ended"


def test_a_host_that_dies_between_going_dark_and_the_end_ends_in_its_next_life() -> None:
    run = played(program("ask"), Strike(0, "host_dies_after_commit", 129.5, 0.0, 0.5))
    assert len(run.lives) == 2
    assert [entry.kind for entry in run.lines if entry.kind in ("ending", "ended")] == ["ending", "ended"]
    assert abs(off_s(run)) <= 0.01
