"""Each step of editing gives the program that was meant, or says why not and leaves the old one alone."""

import pytest

from lampwarden.domain.program import Checkpoint, Exposure, Program, ZonePlan
from lampwarden.errors import ProgramError
from lampwarden.planning import edit
from lampwarden.trial.ladder import Scheme, Target


@pytest.fixture
def program():
    return Program(
        title="t",
        zones=(
            ZonePlan(zone="A1", exposures=(Exposure(start=0, end=3600), Exposure(start=7200, end=10800, level=0.5))),
            ZonePlan(zone="B1", exposures=(Exposure(start=600, dose_j_cm2=29.52),)),
        ),
        checkpoints=(Checkpoint(name="baseline", at=0), Checkpoint(name="end", at=10800)),
    )


def bars(program, zone):
    return [(e.start_s, e.end_s, e.dose_j_cm2, e.level) for e in program.exposures_of(zone)]


def test_a_bar_is_moved_with_its_length_or_dose(program, chamber):
    assert bars(edit.move(program, chamber, "A1", 0, 1800), "A1")[0] == (1800, 5400, None, 1.0)
    assert bars(edit.move(program, chamber, "B1", 0, 0), "B1") == [(0, None, 29.52, 1.0)]
    beyond = edit.move(program, chamber, "A1", 0, 20_000)
    assert bars(beyond, "A1") == [(7200, 10800, None, 0.5), (20_000, 23_600, None, 1.0)]


@pytest.mark.parametrize(("index", "start_s"), [(0, 4000), (1, 3000), (0, 7200)])
def test_a_bar_cannot_be_moved_onto_another(program, chamber, index, start_s):
    with pytest.raises(ProgramError, match=r"overlap|start"):
        edit.move(program, chamber, "A1", index, start_s)


def test_numbers_are_changed_one_at_a_time(program, chamber):
    def one(**new):
        return bars(edit.change(program, chamber, "A1", 1, **new), "A1")[1]

    assert one(end_s=9000) == (7200, 9000, None, 0.5)
    assert one(dose_j_cm2=10) == (7200, None, 10, 0.5)
    assert one(level=0.25) == (7200, 10800, None, 0.25)
    assert one(start_s=8000) == (8000, 10800, None, 0.5)
    assert bars(edit.change(program, chamber, "B1", 0, level=0.5), "B1") == [(600, None, 29.52, 0.5)]
    with pytest.raises(ProgramError, match="not both"):
        one(end_s=9000, dose_j_cm2=10)
    with pytest.raises(ProgramError, match="Level: this should be less than or equal to 1"):
        one(level=1.5)
    with pytest.raises(ProgramError, match="not after its start"):
        one(end_s=7000)


def test_a_dragged_end_keeps_the_kind_of_its_bar(program, chamber):
    # 82 W/m2: 29.52 J/cm2 take 3600 s, so it ends at 4200 s; half as long is half the dose.
    assert bars(edit.drag(program, chamber, "B1", 0, end_s=2400), "B1") == [(600, None, pytest.approx(14.76), 1.0)]
    assert bars(edit.drag(program, chamber, "B1", 0, start_s=0), "B1") == [(0, None, pytest.approx(34.44), 1.0)]
    assert bars(edit.drag(program, chamber, "A1", 0, end_s=1800), "A1")[0] == (0, 1800, None, 1.0)
    with pytest.raises(ProgramError, match="must end after its start"):
        edit.drag(program, chamber, "B1", 0, end_s=600)


def test_a_split_bar_gives_the_same_dose(program, chamber):
    cut = edit.split(program, chamber, "B1", 0, 2400, pause_s=900)
    assert bars(cut, "B1") == [(600, None, pytest.approx(14.76), 1.0), (3300, None, pytest.approx(14.76), 1.0)]
    assert cut.planned_dose_j_cm2(chamber) == pytest.approx(program.planned_dose_j_cm2(chamber))
    assert bars(edit.split(program, chamber, "A1", 0, 1800), "A1")[:2] == [
        (0, 1800, None, 1.0),
        (1800, 3600, None, 1.0),
    ]
    with pytest.raises(ProgramError, match="between"):
        edit.split(program, chamber, "B1", 0, 600)


def test_bars_are_copied_for_the_same_time_or_the_same_dose(program, chamber):
    same_time = edit.copy_to(program, chamber, "B1", ["A2", "A3"])
    assert bars(same_time, "A2") == bars(same_time, "A3") == [(600, pytest.approx(4200), None, 1.0)]
    same_dose = edit.copy_to(program, chamber, "A1", ["A2"], equal_dose=True)
    assert bars(same_dose, "A2") == [(0, None, pytest.approx(30.24), 1.0), (7200, None, pytest.approx(15.12), 0.5)]
    assert [plan.zone for plan in same_dose.zones] == ["A1", "A2", "B1"]


def test_bars_come_and_go(program, chamber):
    more = edit.add(program, chamber, "A3", edit.exposure(0, end_s=60, level=0.1))
    assert bars(more, "A3") == [(0, 60, None, 0.1)]
    assert bars(edit.remove(more, chamber, "A1", 0), "A1") == [(7200, 10800, None, 0.5)]
    left = edit.with_exposures(program, chamber, {"A1": ()})
    with pytest.raises(ProgramError, match="give at least one zone light"):
        edit.remove(left, chamber, "B1", 0)
    with pytest.raises(ProgramError, match="no exposure number 3"):
        edit.remove(program, chamber, "A1", 2)
    with pytest.raises(ProgramError, match="no zone 'C1'"):
        edit.add(program, chamber, "C1", edit.exposure(0, end_s=60))


def test_checkpoints_come_go_and_change_in_order(program):
    more = edit.add_checkpoint(program, 5400)
    assert [c.name for c in more.checkpoints] == ["baseline", "1 h 30 min", "end"]
    again = edit.add_checkpoint(edit.change_checkpoint(more, "1 h 30 min", at_s=9000), 5400, attended=False)
    assert [(c.name, c.at_s, c.attended) for c in again.checkpoints][1:3] == [
        ("1 h 30 min (2)", 5400, False),
        ("1 h 30 min", 9000, True),
    ]
    assert [c.name for c in edit.remove_checkpoint(again, "end").checkpoints] == [
        "baseline",
        "1 h 30 min (2)",
        "1 h 30 min",
    ]
    with pytest.raises(ProgramError, match="order them by time"):
        edit.add_checkpoint(program, 0, "another")
    with pytest.raises(ProgramError, match="no checkpoint 'noon'"):
        edit.remove_checkpoint(program, "noon")
    with pytest.raises(ProgramError, match="Two checkpoints are called 'end'"):
        edit.add_checkpoint(program, 100, "end")


def test_a_ladder_takes_the_place_of_what_its_zones_had(program, chamber):
    made = edit.ladder_over(program, chamber, ["A1", "A2", "A3"], 10, 40, Scheme.START_TOGETHER)
    assert [bars(made, zone)[0][2] for zone in ("A1", "A2", "A3")] == [10, 20, 40]
    assert bars(made, "B1") == bars(program, "B1")
    dark = edit.with_targets(made, chamber, [Target("A3", 0), Target("A2", 5)], Scheme.START_TOGETHER)
    assert bars(dark, "A3") == []
    assert bars(dark, "A2")[0][2] == 5


def test_everything_is_stretched_together(program, chamber):
    twice = edit.rescale(program, chamber, 2)
    assert bars(twice, "A1") == [(0, 7200, None, 1.0), (14_400, 21_600, None, 0.5)]
    assert bars(twice, "B1") == [(1200, None, 59.04, 1.0)]
    assert [c.at_s for c in twice.checkpoints] == [0, 21_600]
    assert edit.rescale(twice, chamber, 0.5) == program
    for factor in (0, 1000, float("nan")):
        with pytest.raises(ProgramError, match="out of range"):
            edit.rescale(program, chamber, factor)
    with pytest.raises(ProgramError, match="604800"):
        edit.rescale(program, chamber, 80)


def test_a_dose_may_not_run_into_the_next_bar(program, chamber):
    packed = edit.with_exposures(
        program, chamber, {"B1": (Exposure(start=0, dose_j_cm2=10), Exposure(start=3600, end=7200))}
    )
    with pytest.raises(ProgramError, match="start the next exposure later"):
        edit.change(packed, chamber, "B1", 0, dose_j_cm2=60)


def test_what_was_wrong_before_does_not_block_another_step(program, chamber):
    foreign = edit.changed(program, zones=(*program.zones, ZonePlan(zone="Z9")))
    assert bars(edit.move(foreign, chamber, "A1", 0, 60), "A1")[0] == (60, 3660, None, 1.0)
