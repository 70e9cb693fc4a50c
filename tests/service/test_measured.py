"""Calibrations, the banks' lit hours, and the air of earlier sessions."""

from datetime import date

import numpy as np
import pytest
from tests.web.conftest import CHAMBER, Bench

from lampwarden.domain.chamber import Calibration
from lampwarden.domain.program import Exposure, ZonePlan
from lampwarden.errors import NotNow, ProgramError
from lampwarden.light.forecast import fit
from lampwarden.service import Calibrated, Service

from .conftest import PLAN, PROGRAM, until, yes

RADIOMETER = Calibration(how="measured", instrument="a radiometer", on=date(2031, 3, 1))
NEW = {"A1": Calibrated(irradiance_w_m2=93.5, calibration=RADIOMETER)}


def run_a_session(bench: Bench) -> str:
    session_id = bench.service.start_plan("strips", "Wilma", yes())
    bench.until(lambda s: s.session is not None and s.session.waiting is not None, 20)
    bench.service.answer("bench", "baseline", "Wilma")
    bench.until(lambda s: s.session is not None and not s.session.active, 800)
    return session_id


def test_the_newest_calibration_counts_and_outlives_a_restart(service: Service, bench: Bench) -> None:
    service.calibrate("bench", NEW, "Wilma")
    assert [zone.irradiance_w_m2 for zone in service.chamber("bench").zones] == [93.5, 50.0, 50.0]
    assert bench.run(1).chamber == service.chamber("bench")
    service.calibrate("bench", {"A1": NEW["A1"].model_copy(update={"irradiance_w_m2": 92.0})}, "Ida")
    service.close()
    bench.daemon()
    bench.open()
    zone = bench.service.chamber("bench").zones[0]
    assert (zone.irradiance_w_m2, zone.calibration.how) == (92.0, "measured")
    assert [(each.irradiance_w_m2, each.by) for each in bench.service.calibrations("bench")] == [
        (92.0, "Ida"),
        (93.5, "Wilma"),
    ]
    (first, second) = (line for line in bench.service.last_lines("bench") if line.kind == "calibrated")
    assert first.text == "Calibration by Wilma: A1 93.5 W/m², measured (was 100)."
    assert second.data["zones"] == {"A1": 92.0}


def test_a_later_one_in_the_chambers_file_wins(service: Service, bench: Bench) -> None:
    service.calibrate("bench", NEW, "Wilma")
    first = CHAMBER.zones[0]
    for day, counts in ((1, 93.5), (2, 88.0)):
        on = RADIOMETER.model_copy(update={"on": date(2031, 3, day)})
        zone = first.model_copy(update={"irradiance_w_m2": 88.0, "calibration": on})
        bench.keeper.chamber = CHAMBER.model_copy(update={"zones": (zone, *CHAMBER.zones[1:])})
        service._take_calibrations(bench.keeper)
        assert service.chamber("bench").zones[0].irradiance_w_m2 == counts


def test_a_session_reckons_with_it(service: Service, bench: Bench) -> None:
    service.calibrate("bench", NEW, "Wilma")
    session_id = service.start_plan("strips", "Wilma", yes())
    assert service.session(session_id).chamber["zones"][0]["irradiance_w_m2"] == 93.5
    assert bench.run(1).session.chamber.zones[0].irradiance_w_m2 == 93.5
    with pytest.raises(NotNow, match="under way"):
        service.calibrate("bench", NEW, "Wilma")
    assert len(service.calibrations("bench")) == 1


@pytest.mark.parametrize("found", [{}, {"C9": NEW["A1"]}])
def test_zones_that_are_not_there_are_refused(service: Service, found: dict[str, Calibrated]) -> None:
    with pytest.raises(ProgramError, match="its zones are A1, A2, B1"):
        service.calibrate("bench", found, "Wilma")
    assert service.calibrations("bench") == []


def test_lit_hours_add_up_and_a_calibration_notes_them(service: Service, bench: Bench) -> None:
    run_a_session(bench)
    first, second = service.lit_hours("bench")
    assert (first.bank, first.lit_h) == (1, pytest.approx(600 / 3600, rel=0.01))
    assert second.lit_h == pytest.approx(300 / 3600, rel=0.01)
    run_a_session(bench)
    assert service.lit_hours("bench")[0].lit_h == pytest.approx(1200 / 3600, rel=0.01)
    service.calibrate("bench", NEW, "Wilma")
    assert service.chamber("bench").zones[0].calibration.at_lit_h == pytest.approx(1200 / 3600, rel=0.01)
    assert service.lit_hours("bench")[0].since_h == pytest.approx(0.0, abs=0.001)


def test_a_bank_due_for_measuring_is_said_once_until_it_is_measured(service: Service, bench: Bench) -> None:
    bench.keeper.chamber = CHAMBER.model_copy(update={"remeasure_after_h": 0.1})

    def reminders() -> list[str]:
        return [line.text for line in service.last_lines("bench", 200) if line.kind == "remeasure_due"]

    run_a_session(bench)
    until(lambda: len(reminders()) == 1)
    assert "bank 1 for 0 h" in reminders()[0]
    assert "bank 2" not in reminders()[0]
    service.remind("bench")
    assert len(reminders()) == 1
    service.calibrate("bench", NEW, "Wilma")
    assert not service.lit_hours("bench")[0].due
    run_a_session(bench)
    until(lambda: len(reminders()) == 2)
    assert "bank 1" in reminders()[1]
    assert "bank 2" in reminders()[1]


def test_air_of_earlier_sessions_fits_the_forecast(service: Service, bench: Bench) -> None:
    assert service.air_history("bench") == ()
    longer = Exposure(start_s=0, end_s=700)
    program = PROGRAM.model_copy(update={"zones": (ZonePlan(zone="A1", exposures=(longer,)), PROGRAM.zones[1])})
    service.save_plan(PLAN.model_copy(update={"program": program}), "Wilma", 1)
    run_a_session(bench)
    run_a_session(bench)
    series = service.air_history("bench")
    assert len(series) == 2
    first = series[0]
    assert first.levels.shape == (len(first.run_s), 3)
    assert len(first.run_s) <= 300
    assert np.all(np.diff(first.run_s) > 0)
    lit_s = float(np.sum(np.diff(first.run_s) * first.levels[:-1, 0]))
    assert lit_s == pytest.approx(700, rel=0.03), "each reading has the levels that follow it"
    assert set(first.levels[:, 2]) == {0.0}
    assert fit(series, [5.0, 3.0, 3.0]).sessions == 2
    assert len(service.air_history("bench", 1)) == 1


def test_sessions_under_other_zones_are_left_out(service: Service, bench: Bench) -> None:
    run_a_session(bench)
    renamed = tuple(zone.model_copy(update={"name": f"new {zone.name}"}) for zone in CHAMBER.zones)
    bench.keeper.chamber = CHAMBER.model_copy(update={"zones": renamed})
    assert service.air_history("bench") == ()
