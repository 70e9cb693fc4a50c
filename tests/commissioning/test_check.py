"""Commissioning against the real firmware in the simulated chamber, with a person who has hands and eyes there."""

from collections.abc import Callable

import pytest

from lampboard.node import FIRMWARE_VERSION
from lampwarden.bench.check import Draft, commission
from lampwarden.bench.driver import Driver
from lampwarden.bench.steps import Bench
from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.link.board import version_text
from lampwarden.rehearsal import Rig

from .hands import Hands

CHAMBER = Chamber(
    id="bench",
    title="Chamber on the bench",
    zones=tuple(Zone(name=f"Z{n}", bank=1 + n % 2, irradiance_w_m2=80.0) for n in range(3)),
)
ALL = {
    "identity", "air", "banks", "door", "stop", "zones", "white", "door_lit", "stop_lit", "bank_limit", "air_limit",
    "heartbeat", "watchdog",
}  # fmt: skip


class SimulatedPrompt:
    """Lights a zone and stops the firmware: what the prompt of a real board is used for."""

    def __init__(self, rig: Rig) -> None:
        self.rig = rig

    def stall(self, zone: int, level: float) -> str | None:
        self.rig.world.board.set_zone(zone, round(1000 * level))
        self.rig.world.hang()
        return None


class Scene:
    def __init__(self) -> None:
        self.rig = Rig.build(CHAMBER)
        self.rig.world.advance(10.0)
        self.hands = Hands(self.rig.world)
        self.bench = Bench(version_text(FIRMWARE_VERSION), CHAMBER, zone_order=(2, 0, 1))

    def check(self) -> Draft:
        driver = Driver(self.rig.board, self.hands, self.rig.clock, SimulatedPrompt(self.rig))
        draft = driver.run(commission(self.bench))
        assert self.rig.world.truth.dark, "whatever happened, it ends dark"
        assert draft is not None
        return draft


@pytest.fixture
def scene() -> Scene:
    return Scene()


def failed(draft: Draft) -> dict[str, str]:
    return {step.key: step.text for step in draft.steps if step.outcome == "failed"}


def test_a_good_board_passes_every_step(scene: Scene) -> None:
    draft = scene.check()
    assert failed(draft) == {}
    assert {step.key for step in draft.steps if step.outcome == "passed"} == ALL
    assert draft.by == "A. Tester"
    figures = {name: value for step in draft.steps for name, value in step.figures.items()}
    assert figures["lit_after_ms"] == 0
    assert 2.5 <= figures["lit_after_last_heartbeat_s"] <= 3.5
    assert figures["reset_cause"] == "watchdog"
    assert any("EYES" in text for text in scene.hands.asked)


def door_switch_sticks(scene: Scene) -> None:
    scene.hands.spoilt["pen the door"] = lambda: "x"


def stop_wire_off(scene: Scene) -> None:
    scene.hands.spoilt["Press the stop"] = lambda: "x"


def air_sensor_dead(scene: Scene) -> None:
    scene.rig.world.air_sensor("silent")
    scene.rig.world.advance(scene.rig.world.now_s + 10)


def thermistor_open(scene: Scene) -> None:
    scene.rig.world.ntc(1, "open")
    scene.rig.world.advance(scene.rig.world.now_s + 10)


def plugs_crossed(scene: Scene) -> None:
    def warm_the_other() -> None:
        scene.rig.world.plant.extra_plate_w[1] = 4.0

    scene.hands.spoilt["Hold the sensor of bank 1"] = warm_the_other


def wrong_zone_glows(scene: Scene) -> None:
    scene.hands.spoilt["One zone glows"] = lambda: "1"


def no_white_light(scene: Scene) -> None:
    scene.hands.spoilt["white bank glow"] = lambda: "n"


def a_lamp_stays_lit(scene: Scene) -> None:
    scene.hands.spoilt["is the chamber dark"] = lambda: "n"


def not_what_was_built(scene: Scene) -> None:
    scene.hands.spoilt["Is this what you built"] = lambda: "n"


@pytest.mark.parametrize(
    ("spoil", "step", "sentence"),
    [
        (not_what_was_built, "identity", "not what was built"),
        (air_sensor_dead, "air", "The air sensor says 'silent'"),
        (thermistor_open, "banks", "The sensor of bank 2 says 'out of range'"),
        (plugs_crossed, "banks", "You warmed bank 1, but bank 2 rose"),
        (door_switch_sticks, "door", "the board sees it closed"),
        (stop_wire_off, "stop", "the board does not see it"),
        (wrong_zone_glows, "zones", "Z2 was lit, you saw: Z0"),
        (no_white_light, "white", "you did not see it alone"),
        (a_lamp_stays_lit, "door_lit", "you see light"),
    ],
)
def test_each_fault_fails_its_step_and_no_lamp_is_lit_before_it_may(
    scene: Scene, spoil: Callable[[Scene], None], step: str, sentence: str
) -> None:
    spoil(scene)
    draft = scene.check()
    assert sentence in failed(draft)[step]
    order = [result.key for result in draft.steps]
    if order.index(step) < order.index("zones"):
        assert all(scene.rig.world.truth.lit_s(zone) == 0 for zone in range(3)), "no light after a failed dark step"
        assert next(result for result in draft.steps if result.key == "zones").outcome == "not done"


@pytest.mark.parametrize(("rule", "step"), [("air_over", "air_limit"), ("bank_over", "bank_limit"), ("stop", "stop")])
def test_a_firmware_without_a_rule_is_caught(
    scene: Scene, monkeypatch: pytest.MonkeyPatch, rule: str, step: str
) -> None:
    from lampboard import guard

    monkeypatch.setattr(guard, "TRIP_RULES", tuple(row for row in guard.TRIP_RULES if row[0] != rule))
    assert step in failed(scene.check())


@pytest.mark.parametrize(
    ("rule", "step", "sentence"),
    [("heartbeat", "heartbeat", "stayed lit"), ("door", "door_lit", "gives light although the door is open")],
)
def test_a_firmware_that_forgets_heartbeat_or_door_is_caught(
    scene: Scene, monkeypatch: pytest.MonkeyPatch, rule: str, step: str, sentence: str
) -> None:
    from lampboard import guard

    kept = tuple(row for row in guard.LIT_RULES if row[0] != rule)
    assert len(kept) == len(guard.LIT_RULES) - 1
    monkeypatch.setattr(guard, "LIT_RULES", kept)
    assert sentence in failed(scene.check())[step]


def test_a_step_can_be_repeated_after_mending(scene: Scene) -> None:
    scene.rig.world.ntc(0, "short")
    scene.rig.world.advance(scene.rig.world.now_s + 10)

    def mend() -> str:
        scene.rig.world.ntc(0, "ok")
        scene.rig.world.advance(scene.rig.world.now_s + 5)
        return "a"

    scene.hands.spoilt["What now?"] = mend
    draft = scene.check()
    banks = next(step for step in draft.steps if step.key == "banks")
    assert banks.outcome == "passed"
    assert len(banks.attempts) == 1


def test_a_lamp_does_not_burn_while_nobody_answers(scene: Scene) -> None:
    scene.hands.spoilt["One zone glows"] = lambda: None
    scene.check()
    assert sum(scene.rig.world.truth.lit_s(zone) for zone in range(3)) <= 0.05 * 62


def test_nobody_signs_nothing_is_drafted(scene: Scene) -> None:
    scene.hands.spoilt["Sign this record"] = lambda: "n"
    driver = Driver(scene.rig.board, scene.hands, scene.rig.clock, SimulatedPrompt(scene.rig))
    assert driver.run(commission(scene.bench)) is None


def test_a_cable_pulled_half_way_costs_its_step_and_not_the_record(scene: Scene) -> None:
    def pull() -> str:
        scene.rig.wire.plugged = False
        return "y"

    def plug_in() -> str:
        scene.rig.wire.plugged = True
        return "g"

    scene.hands.spoilt |= {"white bank glow": pull, "What now?": plug_in}
    draft = scene.check()
    assert list(failed(draft)) == ["white"]
    assert "unplugged" in failed(draft)["white"]
    assert {step.key for step in draft.steps if step.outcome == "passed"} == ALL - {"white"}


def test_a_board_that_restarts_by_itself_fails_that_step_alone(scene: Scene) -> None:
    scene.hands.spoilt["white bank glow"] = lambda: scene.rig.world.reboot() or "y"  # type: ignore[func-returns-value]
    scene.hands.spoilt["What now?"] = lambda: scene.rig.world.advance(scene.rig.world.now_s + 10) or "g"  # type: ignore[func-returns-value]
    draft = scene.check()
    assert list(failed(draft)) == ["white"]


def test_a_dead_watchdog_is_caught(scene: Scene) -> None:
    class NoWatchdog(SimulatedPrompt):
        def stall(self, zone: int, level: float) -> str | None:
            self.rig.world.reboot()  # somebody pulled the plug instead
            return None

    driver = Driver(scene.rig.board, scene.hands, scene.rig.clock, NoWatchdog(scene.rig))
    draft = driver.run(commission(scene.bench))
    assert draft is not None
    assert "The watchdog did not do it" in failed(draft)["watchdog"]


def test_a_sensor_that_does_not_feel_breath(scene: Scene) -> None:
    scene.hands.spoilt["Breathe"] = lambda: "x"
    assert "did not rise" in failed(scene.check())["air"]


def test_a_lamp_that_stays_lit_fails_every_step_that_asks_for_eyes(scene: Scene) -> None:
    """A lamp switch that failed closed: no register shows it."""
    scene.hands.spoilt["is the chamber dark"] = lambda: "n"
    seen = {key for key, text in failed(scene.check()).items() if "you see light" in text}
    assert seen == {"door_lit", "stop_lit", "bank_limit", "air_limit", "heartbeat"}
