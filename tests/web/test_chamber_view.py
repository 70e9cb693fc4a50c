"""What the page Chamber says: zones, calibration, hours, board, registers, heating."""

import math
import random
from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import pytest

from lampboard import registers as reg
from lampwarden.domain.chamber import Chamber, Leak
from lampwarden.domain.commissioning import Commissioning, Papers, StepResult
from lampwarden.domain.units import dose_j_cm2
from lampwarden.light.forecast import AirModel, Series, Stretch, air_course_c, design_model
from lampwarden.link.board import Board, decode_identity, decode_live
from lampwarden.link.codec import Block
from lampwarden.link.transport import WireTransport
from lampwarden.planning.power import air_model, powers_w
from lampwarden.rehearsal import demo_chamber
from lampwarden.rig.design import RigDesign
from lampwarden.rig.wire import Wire
from lampwarden.rig.world import World
from lampwarden.service import BankAge
from lampwarden.store.records import SavedCalibration
from lampwarden.web.chamber_view import board, heat, registers, zones
from lampwarden.web.chamber_view.zones import FormWrong
from lampwarden.web.wording import Taste

from .conftest import Bench

CHAMBER = demo_chamber()
AGES = (BankAge(1, 12.34, 12.34, False), BankAge(2, 700.0, 650.0, True), BankAge(3, 0.0, 0.0, False))
TODAY = date(2031, 3, 3)
FAHRENHEIT = Taste("F")


# --- zones and calibration --------------------------------------------------------------------------------------------


def test_zones_with_both_units_and_how_they_are_known() -> None:
    rows = zones.zone_rows(CHAMBER, AGES)
    first = rows[0]
    assert (first.name, first.bank, first.mw_cm2, first.w_m2) == ("A1", "bank 1", "8.4 mW/cm²", "84 W/m²")
    assert (first.light, first.lamp, first.measured) == ("435 nm, 20 nm wide", "4.2 W", False)
    assert "off by half" in first.caution
    assert max(row.share for row in rows) == 1.0
    width, height = zones.picture_size(CHAMBER)
    assert all(row.place.x_mm + row.place.width_mm < width for row in rows)
    assert all(row.place.y_mm + row.place.height_mm < height for row in rows)


def test_a_measured_zone_is_trusted_until_its_bank_is_due() -> None:
    found = zones.measured({"A1": "8,0", "A2": "8"}, "mW/cm²", "100", "meter X, 2030", "", "2031-03-01", TODAY)
    measured = tuple(
        zone.model_copy(
            update={
                "irradiance_w_m2": found[zone.name].irradiance_w_m2,
                "calibration": found[zone.name].calibration,
            }
        )
        if zone.name in found
        else zone
        for zone in CHAMBER.zones
    )
    rows = {row.name: row for row in zones.zone_rows(CHAMBER.model_copy(update={"zones": measured}), AGES)}
    assert rows["A1"].known == "measured on 1 March 2031 with meter X, 2030"
    assert (rows["A1"].mw_cm2, rows["A1"].caution) == ("8.0 mW/cm²", "")
    assert "Measure again" in rows["A2"].caution


def test_a_measurement_at_half_level_counts_in_full() -> None:
    found = zones.measured({"A1": "42", "A2": ""}, "W/m²", "50", " meter X ", "8,5", "2031-03-03", TODAY)
    assert list(found) == ["A1"]
    assert found["A1"].irradiance_w_m2 == 84.0
    assert (found["A1"].calibration.instrument, found["A1"].calibration.on) == ("meter X", TODAY)
    assert found["A1"].calibration.expanded_u_pct == 8.5
    assert zones.known_words(found["A1"].calibration) == "measured on 3 March 2031 with meter X, ± 8.5 %"
    # 84 W/m2 over an hour: 84 x 3600 = 302,400 J/m2 = 30.24 J/cm2
    assert dose_j_cm2(found["A1"].irradiance_w_m2, 3600) == pytest.approx(30.24)


def test_each_wrong_field_has_its_sentence() -> None:
    with pytest.raises(FormWrong) as caught:
        zones.measured({"A1": "lots", "A2": "3"}, "mW/cm²", "0", " ", "much", "2031-03-04", TODAY)
    assert set(caught.value.fields) == {"zone A1", "level", "instrument", "unsure", "on"}
    with pytest.raises(FormWrong) as caught:
        zones.measured({"A1": "", "A2": " "}, "mW/cm²", "100", "meter", "", "", TODAY)
    assert set(caught.value.fields) == {"zones", "on"}
    with pytest.raises(FormWrong) as caught:
        zones.measured({"A1": "400"}, "mW/cm²", "10", "meter", "", "2031-03-03", TODAY)
    assert "40000 W/m²" in caught.value.fields["level"]


def test_an_estimate_from_flux_distance_and_area() -> None:
    typed = {"flux": "3", "distance": "100", "width": "150", "height": "200", "angle": "120", "window": "100"}
    estimate, found = zones.estimated(["A1", "B2"], typed, TODAY)
    assert estimate.mean_w_m2 == pytest.approx(48.8, abs=0.05)  # the example of light/estimate.py
    assert {zone: one.irradiance_w_m2 for zone, one in found.items()} == {"A1": 48.8, "B2": 48.8}
    assert found["A1"].calibration.how == "estimated"
    assert "3 W of light at 100 mm on 150 × 200 mm" in found["A1"].calibration.instrument
    words = zones.estimate_words(estimate)
    assert words[0].startswith("Mean over the zone: 4.9 mW/cm² (48.8 W/m²)")
    assert any("off by half" in sentence for sentence in words)
    with pytest.raises(FormWrong) as caught:
        zones.estimated(["A1"], typed | {"flux": "", "angle": "300"}, TODAY)
    assert set(caught.value.fields) == {"flux", "angle"}
    with pytest.raises(FormWrong, match="Check flux"):
        zones.estimated(["A1"], typed | {"flux": "1000"}, TODAY)


def test_hours_of_light_and_the_reminder() -> None:
    rows = zones.bank_rows(CHAMBER, AGES)
    assert [(row.lit, row.due) for row in rows] == [("12.3 h", False), ("700 h", True), ("0.0 h", False)]
    assert rows[0].says == "Measure again after another 488 h."
    assert rows[1].says.startswith("Measure zone A2 and B2 again")


def test_leaks_as_a_table() -> None:
    shown = zones.leaks(CHAMBER)
    assert shown.head == ("A1", "A2", "A3", "B1", "B2", "B3")
    assert shown.rows[0] == ("A1", "—", "0.4 %", "0.1 %", "0.4 %", "0.1 %", "0 %")
    assert "All 30 pairs" in shown.says
    some = CHAMBER.model_copy(update={"leaks": (Leak(from_zone="A1", to_zone="A2", share=0.01),)})
    assert zones.leaks(some).rows[1][1] == "not measured"
    assert "29 of 30" in zones.leaks(some).says
    assert "No leak was measured" in zones.leaks(CHAMBER.model_copy(update={"leaks": ()})).says


def test_earlier_calibrations() -> None:
    saved = SavedCalibration("A1", 84.0, {"how": "estimated", "instrument": "3 W"}, "2031-03-03T08:00:00Z", "Wilma")
    (old,) = zones.history([saved], datetime(2031, 3, 3, 12, tzinfo=UTC), Taste())
    assert (old.at, old.value, old.known, old.by) == ("08:00", "8.4 mW/cm² (84 W/m²)", "estimated: 3 W", "Wilma")


def test_a_chamber_without_places_is_drawn_in_rows() -> None:
    plain = Chamber(zones=tuple(z.model_copy(update={"place": None, "lamp_w": None}) for z in CHAMBER.zones))
    rows = zones.zone_rows(plain, ())
    assert rows[0].lamp == "not given"
    places = {(row.place.x_mm, row.place.y_mm) for row in rows}
    assert len(places) == 6


# --- registers --------------------------------------------------------------------------------------------------------


def drawn(seed: int, space: str, block: tuple[int, int]) -> tuple[list[int], dict[str, tuple[int, ...]]]:
    """A block of legal values drawn by lot, as registers and by name."""
    lot, words, by_name = random.Random(seed), list[int](), dict[str, tuple[int, ...]]()
    for kind, address, name, code, count, low, high, _, _ in reg.ROWS:
        if kind == space and block[0] <= address < sum(block):
            numbers = tuple(lot.choice((low, high, lot.randint(low, high))) for _ in range(count))
            if name == "map_version":
                numbers = (reg.MAP_VERSION,)
            by_name[name] = numbers
            words += Block(kind, address, count * reg.width(code)).encode(numbers)
    return words, by_name


@pytest.mark.parametrize("seed", range(20))
def test_what_is_shown_is_what_was_on_the_wire(seed: int) -> None:
    words, identity = drawn(seed, "input", reg.IDENTITY)
    one = decode_identity(words)
    words, live = drawn(seed + 1000, "input", reg.LIVE)
    two = decode_live(words, one.zone_count, one.bank_count)
    cut = {"zone_applied_permille": one.zone_count, "zone_lit_ms": one.zone_count}
    cut |= {"bank_status": one.bank_count, "bank_temp_centi_c": one.bank_count}
    on_the_wire = {name: numbers[: cut.get(name, len(numbers))] for name, numbers in (identity | live).items()}
    assert registers.values(one, two) == on_the_wire


def test_a_running_boards_registers() -> None:
    world = World(RigDesign(), 1, CHAMBER)
    transport = WireTransport(Wire(world))
    one = Board(transport)
    world.advance(20)
    identity = one.identify()
    raw = {name: transport.ask(4, reg.row(name)[1], reg.row(name)[4]) for name in ("unique_id", "bank_temp_centi_c")}
    shown = registers.values(identity, one.look())
    assert list(shown["unique_id"]) == raw["unique_id"]
    assert list(shown["bank_temp_centi_c"]) == raw["bank_temp_centi_c"][:3]


def test_every_register_has_its_row(bench: Bench) -> None:
    snapshot = bench.run(3)
    rows = {row.name: row for row in registers.rows(snapshot, Taste())}
    assert list(rows) == [row[2] for row in reg.ROWS]
    assert all(row.meaning for row in rows.values())
    assert rows["zone_count"].value == "3"
    assert (rows["board_state"].reads, rows["door_open"].reads) == ("dark", "closed")
    assert rows["air_temp_centi_c"].reads.endswith("°C")
    assert rows["air_temp_centi_c"].unit == "0.01 °C"
    assert rows["zone_lit_ms"].address == "62 to 77"
    assert rows["air_limit_centi_c"].value == registers.UNREAD
    assert {row.name for row in rows.values() if row.value == registers.UNREAD} == {
        "heartbeat_timeout_ms",
        "air_limit_centi_c",
        "bank_limit_centi_c",
    }
    assert next(r for r in registers.rows(snapshot, FAHRENHEIT) if r.name == "air_temp_centi_c").reads.endswith("°F")


def test_limits_are_shown_once_they_were_written(bench: Bench) -> None:
    rows = {row.name: row for row in registers.rows(bench.lit(), Taste())}
    assert (rows["air_limit_centi_c"].value, rows["air_limit_centi_c"].reads) == ("4000", "40.0 °C")
    assert rows["arm"].reads == "armed"
    assert rows["zone_level_permille"].value == "1000, 0, 0"
    assert rows["zone_applied_permille"].value == "1000, 0, 0"


def test_no_value_is_invented_for_a_silent_board(bench: Bench) -> None:
    bench.run(3)
    bench.rig.wire.plugged = False
    snapshot = bench.until(lambda s: s.board.trouble is not None, 10)
    assert {row.value for row in registers.rows(snapshot, Taste())} == {""}
    says, well = board.verdict(snapshot)
    assert not well
    assert "does not answer" in says
    assert [group.title for group in board.health(snapshot, Taste())] == ["What it is"]


# --- the board --------------------------------------------------------------------------------------------------------


def test_a_healthy_board(bench: Bench) -> None:
    snapshot = bench.run(3)
    assert board.verdict(snapshot) == ("The board answers, and all its sensors read.", True)
    groups = {group.title: group.facts for group in board.health(snapshot, Taste())}
    assert list(groups) == ["Now", "Sensors", "Line to the board", "What it is"]
    assert not any(fact.wrong for facts in groups.values() for fact in facts)
    what = {fact.label: fact.value for facts in groups.values() for fact in facts}
    assert what["Fitted with"] == "3 zones, 2 bank sensors, with a white inspection bank"
    assert what["Last start"] == "power on"
    assert what["Door"].startswith("closed")


def test_what_is_wrong_is_marked(bench: Bench) -> None:
    snapshot = bench.run(3)
    live, identity = snapshot.board.live, snapshot.board.identity
    assert live is not None
    assert identity is not None
    bad = replace(
        live,
        trip_cause=reg.TRIP_AIR_SILENT,
        trip_text="air sensor silent",
        air_status="silent",
        air_temp_c=None,
        frames_ok=100,
        frames_bad=9,
        loop_gap_ms_max=400,
    )
    view = replace(snapshot.board, live=bad, identity=replace(identity, reset_cause="watchdog"))
    snapshot = replace(snapshot, board=view)
    wrong = {fact.label for group in board.health(snapshot, Taste()) for fact in group.facts if fact.wrong}
    assert wrong == {"Trip", "Air", "Damaged messages", "Longest pass", "Last start"}
    assert board.verdict(snapshot)[0].startswith("The board has tripped: air sensor silent")


def test_the_commissioning_record(bench: Bench) -> None:
    snapshot = bench.run(3)
    assert "No commissioning record" in board.record(Papers(), snapshot, Taste()).says
    step = StepResult(key="door", title="Door switch", outcome="passed", text="Dark 90 ms after the door opened.")
    left = StepResult(key="watchdog", title="Stalled firmware", outcome="not done", text="Left out.")
    done = Commissioning(
        utc="2031-03-01T09:30:00Z",
        board_id="0123456789abcdef",
        firmware="0.01",
        map_version=1,
        by="Wilma",
        chamber="Test bench",
        notes="",
        files=None,
        steps=(step, left),
    )
    shown = board.record(Papers(commissioning=done), snapshot, Taste())
    assert shown.says == "Wilma tried this board step by step and signed for it on 1 March 2031."
    assert [(row.outcome, row.passed) for row in shown.steps] == [("passed", True), ("not done", False)]
    unproved = replace(snapshot, board=replace(snapshot.board, unproved="Other files were put on it."))
    assert board.record(Papers(commissioning=done), unproved, Taste()).trouble == "Other files were put on it."


# --- heating ----------------------------------------------------------------------------------------------------------


def test_design_values_say_so() -> None:
    shown = heat.heat(CHAMBER, design_model(powers_w(CHAMBER)), (), Taste())
    assert "design values" in shown.says
    assert len(shown.rows) == heat.STEPS
    assert shown.rows[-1][0] == "25.3 W"
    assert len(shown.options["series"][-1]["data"]) == 0


def test_a_session_that_follows_the_model_lies_on_the_line() -> None:
    """Air reckoned with the model's own formula gives a point on its line: rise = g x felt power."""
    model = AirModel(0.4, 1500.0, ((0.01, 0.0), (0.0, 0.01)), 0.1, 1)
    lamps_w = powers_w(CHAMBER)
    run_s = np.arange(0.0, 7200.0, 30.0)
    levels = np.zeros((len(run_s), 6))
    levels[(run_s >= 600) & (run_s < 5400), :4] = 1.0
    power_w = levels @ np.array(lamps_w)
    air_c = [22.0]
    for now_w in power_w[:-1]:
        left = math.exp(-30.0 / model.time_constant_s)
        settled = 22.0 + model.rise_k_w * now_w
        air_c.append(settled + (air_c[-1] - settled) * left)
    shown = heat.heat(CHAMBER, model, (Series(run_s, np.array(air_c), levels),), Taste())
    ((felt_w, rise),) = shown.options["series"][-1]["data"]
    assert rise == pytest.approx(model.rise_k_w * felt_w, abs=0.02)
    assert felt_w == pytest.approx(sum(lamps_w[:4]) * (1 - math.exp(-4800 / 1500)), rel=0.01)
    assert "the last session" in shown.says
    assert shown.rows[-1][1] == f"{0.4 * sum(lamps_w):.1f} °C"
    settled = air_course_c(model, [Stretch(0.0, heat.HOUR_S, (1.0,) * 6)], lamps_w, 0.0)[-1]
    assert shown.rows[-1][3] == f"{settled:.1f} °C"
    warm = heat.heat(CHAMBER, model, (), FAHRENHEIT)
    assert warm.rows[-1][1] == f"{0.4 * 1.8 * sum(lamps_w):.1f} °F"


def test_a_simulated_session_lies_near_the_line_fitted_to_it(bench: Bench) -> None:
    bench.lit()
    bench.until(lambda s: s.session.waiting is not None and s.session.waiting.called_s is not None, 600)
    bench.service.answer("bench", "5 min", "Wilma")
    bench.until(lambda s: not s.session.active, 3000)
    chamber, history = bench.service.chamber("bench"), bench.service.air_history("bench")
    model = air_model(chamber, history)
    shown = heat.heat(chamber, model, history, Taste())
    assert "the last session" in shown.says
    ((felt_w, rise),) = shown.options["series"][-1]["data"]
    assert 0 < felt_w < sum(powers_w(chamber))
    assert rise == pytest.approx(model.rise_k_w * felt_w, abs=0.5)


def test_a_dark_session_is_no_point() -> None:
    run_s = np.arange(0.0, 1200.0, 60.0)
    dark = Series(run_s, np.full(len(run_s), 22.0), np.zeros((len(run_s), 6)))
    shown = heat.heat(CHAMBER, design_model(powers_w(CHAMBER)), (dark,), Taste())
    assert shown.options["series"][-1]["data"] == []
