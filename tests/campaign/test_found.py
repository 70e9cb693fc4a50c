"""Defects that the campaign found, each replayed as the shortest story that shows it."""

import pytest

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


def played(plan: Program, *strikes: Strike) -> Run:
    """The story to its end; nothing in it may break a promise."""
    run = stage_run(Case(1, CHAMBER, plan, RigDesign(), strikes, CALM_S, patience_s=20.0))
    assert check(run)[0] == []
    assert run.outcome == "completed"
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


def test_a_host_that_dies_with_the_end_on_disk_has_ended() -> None:
    run = played(program("ask"), Strike(0, "host_dies_after_commit", 129.5, 0.0, 0.5))
    assert run.session is None, "the next life found nothing to take up"
    assert run.lines[-1].kind == "ended"
