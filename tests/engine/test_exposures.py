"""Zone timers by time and by dose: each zone gets its planned light, whatever the period and whatever interrupts."""

import pytest

from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.domain.program import Exposure
from lampwarden.engine import events as e
from lampwarden.engine import facts as f


def done(run):
    return [(fact.name, fact.exposure, fact.lit_s) for fact in run.of(f.ExposureDone)]


def assert_given(run, *lit_s, within_s=0.06):
    assert run.session.outcome == "completed"
    assert run.board.true_lit_s == pytest.approx(list(lit_s), abs=within_s)
    assert list(run.session.lit_s) == pytest.approx(run.board.true_lit_s, abs=0.002)


def test_by_time(run_of):
    run = run_of(Exposure(start=0, end=90.3)).go(200)
    assert_given(run, 90.3)
    assert run.session.session_s == pytest.approx(90.3, abs=0.06)


def test_by_dose(run_of):
    run = run_of(Exposure(dose_j_cm2=0.9)).go(200)  # 100 W/m2 for 90 s = 0.9 J/cm2
    assert_given(run, 90.0)


@pytest.mark.parametrize("level", [1.0, 0.5, 0.037])
def test_levels_weight_the_light(run_of, level):
    run = run_of(Exposure(start=0, end=100, level=level)).go(50)
    assert run.outcome.demand.zone_levels == (level,)
    assert run.session.session_s == pytest.approx(50, abs=0.1)
    run.go(100)
    assert_given(run, 100 * level)


@pytest.mark.parametrize("level", [1.0, 0.5, 0.1])
def test_a_dose_takes_longer_at_a_lower_level(run_of, level):
    run = run_of(Exposure(dose_j_cm2=0.3, level=level)).go(1000)
    assert_given(run, 30.0)
    assert run.session.session_s == pytest.approx(30.0 / level, abs=0.1)


def test_each_zone_by_its_own_irradiance(make_run, program_of):
    chamber = Chamber(zones=(Zone(name="A", irradiance_w_m2=50), Zone(name="B", irradiance_w_m2=200)))
    run = make_run(program_of(Exposure(dose_j_cm2=0.5), Exposure(dose_j_cm2=0.5)), chamber).begin().go(200)
    assert_given(run, 100.0, 25.0)


def test_staggered_zones(run_of):
    run = run_of(Exposure(start=0, end=40), Exposure(start=10.5, end=70.25), Exposure(start=60, dose_j_cm2=0.2))
    run.go(10)
    assert run.outcome.demand.zone_levels == (1.0, 0.0, 0.0)
    run.go(2)
    assert run.outcome.demand.zone_levels == (1.0, 1.0, 0.0)
    run.go(30)
    assert run.outcome.demand.zone_levels == (0.0, 1.0, 0.0)
    run.go(20)
    assert run.outcome.demand.zone_levels == (0.0, 1.0, 1.0)
    run.go(100)
    assert_given(run, 40, 59.75, 20)
    assert [name for name, _, _ in done(run)] == ["A", "B", "C"]


def test_consecutive_exposures_change_the_level_at_their_boundary(run_of):
    run = run_of([Exposure(start=0, end=20), Exposure(start=20, end=40, level=0.25), Exposure(start=50, end=60)])
    run.go(100)
    assert_given(run, 20 + 5 + 10, within_s=0.1)
    assert [round(lit_s, 1) for _, _, lit_s in done(run)] == [20.0, 5.0, 10.0]
    levels = [fact.levels for fact in run.of(f.LevelsSet)]
    assert levels == [(1.0,), (0.25,), (0.0,), (1.0,)]  # the end itself darkens


def test_a_dose_that_is_followed_by_an_exposure_by_time(run_of):
    run = run_of([Exposure(dose_j_cm2=0.2), Exposure(start=30, end=40)]).go(100)
    assert_given(run, 30.0)


def test_zones_without_a_plan_stay_dark(make_run, chamber_of, program_of):
    run = make_run(program_of(Exposure(start=0, end=30)), chamber_of(8)).begin().go(100)
    assert_given(run, 30, *[0] * 7)


def test_an_empty_list_of_exposures_stays_dark(run_of):
    run = run_of([], Exposure(start=0, end=30)).go(100)
    assert_given(run, 0, 30)


def test_a_keeper_that_never_comes_early_gives_at_most_a_period_more(run_of):
    run = run_of([Exposure(start=10 * n, end=10 * n + 9.5) for n in range(20)]).go(400, wake=False)
    assert run.session.outcome == "completed"
    assert run.board.true_lit_s[0] == pytest.approx(190, abs=1.0)  # not 20 periods more


def test_boundaries_are_met_through_wake(run_of):
    run = run_of([Exposure(start=10 * n + 0.37, end=10 * n + 9.81) for n in range(20)]).go(400, period_s=2.9)
    assert run.board.true_lit_s[0] == pytest.approx(20 * 9.44, abs=0.1)
    assert run.session.outcome == "completed"


def test_wake_is_never_sooner_than_a_pass_of_the_board(run_of):
    run = run_of(Exposure(start=0, end=30.03))
    run.go(30)
    assert run.outcome.wake_s == 0.05
    run.order(e.AskHold)
    assert run.outcome.wake_s is None


def test_a_silence_that_spans_exposures_gives_each_zone_its_total(run_of):
    run = run_of([Exposure(start=0, end=10), Exposure(start=10, end=11, level=0.5), Exposure(start=11, end=60)]).go(9.5)
    run.board.wire = False
    run.go(20)
    run.board.wire = True
    run.go(200)
    assert run.session.outcome == "completed"
    assert run.board.true_lit_s[0] == pytest.approx(10 + 0.5 + 49, abs=0.1)
    assert run.session.lit_s[0] == pytest.approx(run.board.true_lit_s[0], abs=0.002)


def test_pauses_and_doors_shorten_nothing(run_of):
    run = run_of(Exposure(start=0, end=300), Exposure(start=100, dose_j_cm2=2.0))
    for pause_s in (0.3, 7.7, 60.0):
        run.go(13.3)
        run.order(e.AskHold)
        run.go(pause_s)
        run.order(e.AskContinue)
        run.go(17.1)
        run.board.set_door(True)
        run.go(pause_s)
        run.board.set_door(False)
        run.go(1)
        run.order(e.AskContinue)
    run.go(1000)
    assert_given(run, 300, 200, within_s=0.1)


def test_the_exposure_sentences(run_of):
    run = run_of(Exposure(start=0, end=90)).go(100)
    assert run.of(f.ExposureDone)[0].text == "Zone A: exposure 1 done after 1 min 30 s of full light."
    assert [fact.text for fact in run.of(f.LevelsSet)] == ["Light on: A 100 %."]
