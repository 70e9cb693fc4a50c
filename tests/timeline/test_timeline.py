"""A program in clock time, by the rules of real zones."""

from datetime import datetime, time, timedelta
from random import Random
from zoneinfo import ZoneInfo

import pytest

from lampwarden.domain.program import Checkpoint, Exposure, Program, ZonePlan
from lampwarden.rehearsal import demo_chamber, demo_programs
from lampwarden.timeline import Habits, lay_out, propose

BERLIN = ZoneInfo("Europe/Berlin")
QUICK = Habits(photo_s=0, handling_s=0)


def program(*hours: float, attended: bool = True, light_h: float = 8.0) -> Program:
    return Program(
        title="t",
        zones=(ZonePlan(zone="A1", exposures=(Exposure(end_s=light_h * 3600),)),),
        checkpoints=tuple(Checkpoint(name=f"{h} h", at_s=h * 3600, attended=attended, pause_s=60) for h in hours),
    )


def test_moments_come_in_order_and_pauses_delay_what_follows() -> None:
    start = datetime(2031, 3, 3, 8, 0, tzinfo=BERLIN)
    line = lay_out(program(0, 1, 2, light_h=2), demo_chamber(), start, Habits(photo_s=600, handling_s=300))
    assert [(m.kind, m.name) for m in line.moments] == [
        ("checkpoint", "0 h"),
        ("light on", "A1"),
        ("checkpoint", "1 h"),
        ("light off", "A1"),
        ("checkpoint", "2 h"),
        ("end", ""),
    ]
    # 0 h: 10 min; 1 h: 5 + 10 min; so the light ends 25 min after the two hours.
    assert line.moments[2].at == start + timedelta(minutes=70)
    assert line.moments[3].at == start + timedelta(minutes=145)
    assert line.end == start + timedelta(minutes=160)
    assert line.pauses_s == 2400


def test_cooling_is_allowed_for_by_the_lit_time_only() -> None:
    start = datetime(2031, 3, 3, 8, 0, tzinfo=BERLIN)
    line = lay_out(program(24, light_h=2), demo_chamber(), start, Habits(photo_s=0, handling_s=0, cooling_share=0.5))
    assert line.cooling_s == pytest.approx(3600)
    assert line.end == start + timedelta(hours=25)


def test_the_end_of_summer_time_makes_the_night_an_hour_longer() -> None:
    """In 2031 summer time ends in Germany on 26 October, the last Sunday (EU directive 2000/84/EC)."""
    start = datetime(2031, 10, 25, 20, 0, tzinfo=BERLIN)
    line = lay_out(program(12, light_h=1), demo_chamber(), start, QUICK)
    checkpoint = next(m for m in line.moments if m.kind == "checkpoint")
    assert checkpoint.at.strftime("%d %H:%M") == "26 07:00"


@pytest.mark.parametrize(
    ("local", "asleep"), [("22:29", False), ("22:30", True), ("00:00", True), ("06:59", True), ("07:00", False)]
)
def test_sleep_runs_over_midnight(local: str, asleep: bool) -> None:
    moment = datetime.combine(datetime(2031, 3, 3), time.fromisoformat(local), BERLIN)
    assert Habits().asleep(moment) is asleep
    assert Habits(sleep_from=time(0), sleep_to=time(0)).asleep(moment) is False


def test_the_demo_started_in_the_afternoon_is_found_a_better_start() -> None:
    start = datetime(2031, 3, 3, 15, 10, tzinfo=BERLIN)
    plan = demo_programs()["ferry_timetable"]
    disturbed = lay_out(plan, demo_chamber(), start, Habits()).disturbed
    assert [m.name for m in disturbed] == ["8 h"]
    better = propose(plan, demo_chamber(), start, Habits())
    assert better.start is not None
    assert not lay_out(plan, demo_chamber(), better.start, Habits()).disturbed
    assert better.start.minute % 15 == 0
    assert not Habits().asleep(better.start)
    assert "'8 h' at" in better.sentences[0]


def test_a_night_checkpoint_is_moved_to_the_nearest_waking_moment() -> None:
    start = datetime(2031, 3, 3, 15, 0, tzinfo=BERLIN)
    better = propose(program(4, 8), demo_chamber(), start, QUICK)
    assert better.program is not None
    assert [c.at_s / 3600 for c in better.program.checkpoints] == [4, 7.25]
    assert any("'8 h' from 8.00 h to 7.25 h" in sentence for sentence in better.sentences)


def test_nothing_is_proposed_when_nothing_is_disturbed() -> None:
    start = datetime(2031, 3, 3, 8, 0, tzinfo=BERLIN)
    assert propose(program(1, 2), demo_chamber(), start, Habits()).sentences == ()
    assert not lay_out(program(18, attended=False), demo_chamber(), start, Habits()).disturbed


def test_an_hourly_watch_through_the_night_cannot_be_mended() -> None:
    start = datetime(2031, 3, 3, 8, 0, tzinfo=BERLIN)
    better = propose(program(*range(1, 25)), demo_chamber(), start, QUICK)
    assert better.start is None
    assert better.program is None
    assert "No start within a day suits better" in better.sentences[-1]


def test_a_start_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="time zone"):
        lay_out(program(1), demo_chamber(), datetime(2031, 3, 3, 8, 0), Habits())


@pytest.mark.parametrize("seed", range(8))
def test_moments_and_the_better_start_by_walking_minute_by_minute(seed: int) -> None:
    """The same reckoned the long way: what is lit is counted minute by minute, and every start of the day is tried."""
    lot, start = Random(seed), datetime(2031, 3, 3, 14, 0, tzinfo=BERLIN)
    lit = [sorted(lot.sample(range(600), 2)) for _ in range(4)]
    looks = sorted(lot.sample(range(700), 4))
    plan = Program(
        title="t",
        zones=tuple(
            ZonePlan(zone=zone, exposures=(Exposure(start_s=60 * a, end_s=60 * b),))
            for zone, (a, b) in zip(("A1", "A2", "A3", "B1"), lit, strict=True)
        ),
        checkpoints=tuple(Checkpoint(name=f"{m} min", at_s=60 * m, attended=m % 3 > 0, pause_s=120) for m in looks),
    )
    habits = Habits(photo_s=600, handling_s=300, cooling_share=0.25)
    line = lay_out(plan, demo_chamber(), start, habits)
    at = {m.name: m.at for m in line.moments if m.kind == "checkpoint"}
    waited = 0.0
    for minute in looks:
        light = sum(any(a <= m < b for a, b in lit) for m in range(minute))
        assert at[f"{minute} min"] == start + timedelta(minutes=minute + 0.25 * light, seconds=waited)
        waited += 300 * (light > 0) + (600 if minute % 3 else 120)
    assert line.pauses_s == waited
    better = propose(plan, demo_chamber(), start, habits)
    starts = [start + timedelta(minutes=15 * n) for n in range(1, 97)]
    nights = [len(lay_out(plan, demo_chamber(), one, habits).disturbed) for one in starts if not habits.asleep(one)]
    assert min([len(line.disturbed), *nights]) == (better.disturbed_then if line.disturbed else 0)
