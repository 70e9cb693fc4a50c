"""What Now shows in each state. The snapshots come from a real keeper over the simulated chamber."""

from dataclasses import replace

import pytest

from lampwarden.engine import Reason, step
from lampwarden.engine import events as e
from lampwarden.keeper import Snapshot
from lampwarden.web import views
from lampwarden.web.states import DARK, DARKENING, DARKENS, HOLDS
from lampwarden.web.views import Now, Prompt
from lampwarden.web.wording import Taste

from .conftest import CHAMBER, PROGRAM, Bench

PLAIN = Taste()


def now(snapshot: Snapshot, taste: Taste = PLAIN, stale_s: float = 0.0) -> Now:
    return views.now(snapshot, taste, stale_s)


# --- without a session ----------------------------------------------------------------------------------------------


def test_board_never_seen(unopened: Bench) -> None:
    shown = now(unopened.service.snapshot(CHAMBER.id))
    assert shown.state.headline == "Waiting for the board"
    assert DARK not in shown.state.sentence  # nobody knows
    assert [zone.light for zone in shown.zones] == ["no answer"] * 3
    assert [gauge.value for gauge in shown.gauges] == ["no reading"] * 3
    assert shown.facts[1] == ("Door", "unknown")


def test_no_session(bench: Bench) -> None:
    shown = now(bench.run(1))
    assert (shown.state.tone, shown.state.headline) == ("idle", "At rest")
    assert shown.state.sentence.endswith(DARK)
    assert (shown.share, shown.moments, shown.holds, shown.prompt, shown.warnings) == (None, (), (), None, ())
    assert shown.actions == views.Actions(start=True)
    assert [zone.light for zone in shown.zones] == ["dark"] * 3
    assert shown.gauges[0].soft is None  # limits belong to a program


def test_board_lost_without_a_session(bench: Bench) -> None:
    bench.rig.wire.plugged = False
    shown = now(bench.run(3))
    assert (shown.state.tone, shown.state.headline) == ("alarm", "The board does not answer")
    assert shown.state.sentence.endswith(DARKENS)
    assert not shown.actions.clear_trip


def test_trip_without_a_session(bench: Bench) -> None:
    bench.world.press_stop()
    shown = now(bench.run(2))
    assert shown.actions.clear_trip
    assert any("tripped" in warning for warning in shown.warnings)


def test_old_snapshot(bench: Bench) -> None:
    snapshot = bench.run(1)
    assert now(snapshot, stale_s=4.9).warnings == ()
    assert "12 s" in now(snapshot, stale_s=12.0).warnings[0]


# --- running --------------------------------------------------------------------------------------------------------


def test_lit(bench: Bench) -> None:
    bench.lit()
    shown = now(bench.run(60))
    assert (shown.state.tone, shown.state.headline) == ("lit", "Lamps are lit")
    assert shown.state.sentence.startswith("Zone A1 has light now.")
    a1, a2, b1 = shown.zones
    assert (a1.light, a1.level) == ("lit, 100 %", 1.0)
    assert a1.exposure.endswith(" of 10 min")
    assert a1.dose.endswith(" of 6.0 J/cm²")
    assert a1.dose_also.endswith(" of 0.060 MJ/m²")
    assert a1.left.endswith(" left")
    assert 0.09 < a1.share < 0.12
    assert a2.light in ("due in 1 min", "due in 59 s")
    assert (b1.light, b1.exposure, b1.left) == ("stays dark", "", "")
    pause, end = shown.moments
    assert pause.label == "Next photo, “5 min”"
    assert pause.left.startswith("3 min ") or pause.left == "4 min"
    assert pause.at.startswith("about ")
    assert end.at.endswith(", plus 2 pauses")
    assert shown.actions == views.Actions(pause=True, end=True)


def test_levels_below_full_are_said(bench: Bench) -> None:
    bench.lit()
    shown = now(bench.run(130))
    assert shown.state.sentence.startswith("Zones A1 and A2 have light now.")
    assert shown.zones[1].light == "lit, 50 %"


def test_resting_in_the_dark(bench: Bench) -> None:
    late = PROGRAM.model_copy(
        update={
            "zones": (PROGRAM.zones[1],),
            "checkpoints": PROGRAM.checkpoints[:1],
        }
    )
    bench.start(late)
    bench.service.answer(CHAMBER.id, "baseline", "Wilma")
    shown = now(bench.run(10))
    assert (shown.state.tone, shown.state.headline) == ("wait", "Resting in the dark")
    assert "in 1 min 5" in shown.state.sentence
    assert shown.moments[0].left == "none left"


def test_temperatures_beside_their_limits(bench: Bench) -> None:
    air, bank, _ = now(bench.lit()).gauges
    assert air.verdict == "below 35.0 °C, where lamps pause"
    assert not air.over
    assert air.soft == pytest.approx((35 - 10) / (40 - 10))
    assert bank.soft == pytest.approx((55 - 10) / (63 - 10))


def test_a_temperature_between_the_limits(bench: Bench) -> None:
    snapshot = bench.lit()
    live = replace(snapshot.board.live, air_temp_c=36.0, bank_temps_c=(70.0, None))
    shown = now(replace(snapshot, board=replace(snapshot.board, live=live)))
    air, first, second = shown.gauges
    assert (air.over, air.verdict) == (True, "over 35.0 °C: lamps pause; cut off at 40.0 °C")
    assert (first.over, first.verdict, first.share) == (True, "over 63.0 °C: cut off", 1.0)
    assert (second.over, second.value, second.share) == (True, "no reading", None)


def test_fahrenheit_and_twelve_hours(bench: Bench) -> None:
    shown = now(bench.lit(), Taste("F", 12))
    assert shown.gauges[0].value.endswith(" °F")
    assert shown.gauges[0].verdict == "below 95.0 °F, where lamps pause"
    assert shown.updated.endswith(" am")
    assert shown.moments[0].at.endswith(" am")


# --- held -----------------------------------------------------------------------------------------------------------


def test_checkpoint_that_calls(bench: Bench) -> None:
    bench.start()
    shown = now(bench.run(2))
    assert (shown.state.tone, shown.state.headline) == ("ask", "Your turn: photo “baseline”")
    assert shown.prompt is not None
    assert shown.prompt.look_at == "The whole sheet, before any light."
    assert "white light is on" in shown.prompt.steps[0]
    assert "Never look at lit lamps" in shown.prompt.steps[-1]
    assert shown.prompt.waiting.startswith("Waiting for ")
    assert (shown.actions.answer, shown.actions.go_on) == (True, "")
    assert shown.zones[0].light == "held"
    assert shown.moments[0].at.startswith("at the earliest ")


def test_checkpoint_whose_white_light_went_off(bench: Bench) -> None:
    bench.start()
    assert not shown_prompt(bench, 2).unlit
    prompt = shown_prompt(bench, 1800)
    assert prompt.unlit
    assert "went off after half an hour" in prompt.steps[0]
    bench.service.light_inspection("bench", "Wilma")
    prompt = shown_prompt(bench, 2)
    assert not prompt.unlit
    assert "white light is on" in prompt.steps[0]
    assert bench.world.truth.inspection_permille > 0


def shown_prompt(bench: Bench, seconds: float) -> Prompt:
    prompt = now(bench.run(seconds)).prompt
    assert prompt is not None
    return prompt


def test_checkpoint_with_the_door_open(bench: Bench) -> None:
    bench.start()
    bench.world.door(True)
    shown = now(bench.run(2))
    assert shown.prompt is not None
    assert any("Close it before you go on" in step for step in shown.prompt.steps)
    assert shown.facts[1] == ("Door", "open")
    assert [hold.title for hold in shown.holds] == ["Checkpoint", "Door"]


def test_checkpoint_while_the_board_is_lost(bench: Bench) -> None:
    bench.start()
    bench.rig.wire.plugged = False
    shown = now(bench.run(2))
    assert shown.prompt is not None
    assert "Keep the door closed" in shown.prompt.steps[0]
    assert shown.state.headline == "The board does not answer"


def test_checkpoint_that_waits_for_cool_air(bench: Bench) -> None:
    limits = PROGRAM.limits.model_copy(update={"handling_c": 15.0})
    bench.start(PROGRAM.model_copy(update={"limits": limits}))
    shown = now(bench.run(2))
    assert shown.state.headline == "Cooling before photo “baseline”"
    assert shown.prompt is not None
    assert not shown.prompt.called
    assert "called below 15.0 °C" in shown.prompt.steps[0]
    assert not shown.actions.answer


def test_checkpoint_for_the_camera(bench: Bench) -> None:
    alone = PROGRAM.checkpoints[0].model_copy(update={"attended": False, "pause_s": 60.0})
    bench.start(PROGRAM.model_copy(update={"checkpoints": (alone,)}))
    shown = now(bench.run(3))
    assert (shown.state.tone, shown.state.headline) == ("wait", "The camera’s turn: photo “baseline”")
    assert shown.prompt is not None
    assert shown.prompt.waiting.startswith("Goes on by itself in ")
    assert not shown.actions.answer


def test_paused(bench: Bench) -> None:
    bench.lit()
    bench.service.hold(CHAMBER.id, "Wilma")
    shown = now(bench.run(5))
    assert (shown.state.tone, shown.state.headline, shown.state.sentence) == ("ask", "Paused", DARK)
    (hold,) = shown.holds
    assert (hold.title, hold.why, hold.then) == ("Paused by a person", "Paused by Wilma.", "Waits for you.")
    assert hold.since.endswith(", for 5 s")
    assert (shown.actions.pause, shown.actions.go_on) == (False, "Go on")


def test_door(bench: Bench) -> None:
    bench.lit()
    bench.world.door(True)
    opened = now(bench.run(2))
    assert (opened.state.tone, opened.state.headline) == ("wait", "The door is open")
    assert (opened.holds[0].then, opened.actions.go_on) == ("Waits for the door to be closed.", "")
    bench.world.door(False)
    closed = now(bench.run(2))
    assert (closed.state.tone, closed.state.headline) == ("ask", "The door was opened")
    assert closed.actions.go_on == "Go on"


def test_cooling(bench: Bench) -> None:
    bench.lit(PROGRAM.model_copy(update={"checkpoints": PROGRAM.checkpoints[:1]}))
    bench.world.ambient_c = 60.0
    hot = bench.until(lambda s: s.session is not None and s.session.hold(Reason.COOLING) is not None, 1500)
    shown = now(hot, Taste("F"))
    assert (shown.state.tone, shown.state.headline) == ("wait", "Cooling down")
    assert " °F" in shown.holds[0].why
    assert " °C" not in shown.holds[0].why
    assert shown.holds[0].then == "Goes on by itself once it is cool."


def test_board_lost_in_a_session(bench: Bench) -> None:
    bench.lit()
    bench.rig.wire.plugged = False
    shown = now(bench.run(2))
    assert (shown.state.tone, shown.state.headline) == ("alarm", "The board does not answer")
    assert shown.state.sentence == DARKENS  # it would be a guess to say that it is dark
    assert shown.zones[0].light == "no answer"
    assert shown.holds[0].then == "Waits for the board."
    assert not shown.gauges[0].over


def test_trip(bench: Bench) -> None:
    bench.lit()
    bench.world.press_stop()
    shown = now(bench.run(2))
    assert (shown.state.tone, shown.state.headline) == ("alarm", "The board cut the light off")
    assert shown.actions.go_on == "Clear the trip, go on"


def test_sensor(bench: Bench) -> None:
    bench.lit()
    bench.world.ntc(0, "open")
    found = bench.until(lambda s: s.session is not None and s.session.hold(Reason.SENSOR) is not None, 10)
    assert "bank 1 is unknown" in " ".join(hold.why for hold in now(found).holds)


def test_storage(bench: Bench) -> None:
    bench.lit()
    snapshot = bench.run(5)
    session = step(snapshot.session, e.StorageState(snapshot.session.run_s, "The disk is full.")).session
    shown = now(replace(snapshot, session=session, storage_trouble="The disk is full."))
    assert (shown.state.tone, shown.state.headline) == ("alarm", "The record cannot be written")
    assert shown.warnings == ("The record does not reach the disk: The disk is full.",)


def test_restart(bench: Bench) -> None:
    bench.lit()
    bench.run(5)
    bench.service.close()
    bench.daemon()
    bench.open()
    shown = now(bench.run(2))
    assert (shown.state.tone, shown.state.headline) == ("ask", "Interrupted")
    assert (shown.actions.go_on, shown.holds[0].then) == ("Go on", "Waits for you.")


def test_board_that_does_not_follow(bench: Bench) -> None:
    """Lit though dark was asked: the page must not say that it is dark."""
    bench.lit()
    bench.service.hold(CHAMBER.id, "Wilma")
    snapshot = bench.run(5)
    live = replace(snapshot.board.live, zone_applied=(1.0, 0.0, 0.0))
    snapshot = replace(snapshot, board=replace(snapshot.board, live=live))
    at_once, later = now(snapshot), views.now(snapshot, PLAIN, stray_s=4.0)
    assert (at_once.state.sentence, at_once.warnings) == (DARKENING, ())  # the report is one period old
    assert "zone A1 reports light" in later.state.sentence
    assert "Switch the chamber off" in later.warnings[0]


def test_every_hold_has_its_words() -> None:
    assert set(HOLDS) == set(Reason)


# --- ended ----------------------------------------------------------------------------------------------------------


def test_completed(bench: Bench) -> None:
    bench.lit()
    bench.until(lambda s: s.session.waiting is not None, 400)
    bench.service.answer(CHAMBER.id, "5 min", "Wilma")
    shown = now(bench.until(lambda s: not s.session.active, 2000))
    assert (shown.state.tone, shown.state.headline) == ("done", "Finished")
    assert shown.warnings == ()
    shown = now(bench.run(1))
    assert [zone.light for zone in shown.zones] == ["done", "done", "stays dark"]
    assert [zone.left for zone in shown.zones] == ["complete", "complete", ""]
    assert shown.actions == views.Actions(start=True)


def test_ended_by_a_person(bench: Bench) -> None:
    bench.lit()
    bench.service.end(CHAMBER.id, "Wilma", "The sheet curls.")
    shown = now(bench.run(2))
    assert (shown.state.tone, shown.state.headline) == ("done", "Ended by hand")
    assert "The sheet curls." in shown.state.sentence
    assert shown.zones[0].left == "not completed"
    assert shown.moments == ()


def test_cut_off(bench: Bench) -> None:
    rules = PROGRAM.rules.model_copy(update={"coolings_per_hour_max": 0})
    bench.lit(PROGRAM.model_copy(update={"rules": rules}))
    bench.world.ambient_c = 60.0
    shown = now(bench.until(lambda s: not s.session.active, 1500))
    assert (shown.state.tone, shown.state.headline) == ("alarm", "Cut off")
    assert shown.state.sentence.endswith(DARK)


# --- journal --------------------------------------------------------------------------------------------------------


def test_lines_newest_first(bench: Bench) -> None:
    bench.start()
    bench.run(2)
    shown = views.lines(bench.service.last_lines(CHAMBER.id, 20), bench.run(1).utc, Taste("F"))
    assert shown[-1].text.startswith("Made with Lampwarden")
    assert shown[-2].text == "Session begun by Wilma."
    assert [line.seq for line in shown] == sorted((line.seq for line in shown), reverse=True)
    assert shown[0].strong  # the person is called
    assert "°F" in shown[0].text
    assert "°C" not in shown[0].text
