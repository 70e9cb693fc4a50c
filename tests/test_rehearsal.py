"""Whole sessions on the simulated chamber, in virtual time."""

import json
import os

import pytest

from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.domain.program_file import parse
from lampwarden.errors import ProgramError
from lampwarden.rehearsal import chamber_for, demo_programs, rehearse

LONG = bool(os.environ.get("LAMPWARDEN_LONG"))
SHORT = """
title = "Short"
[[zones]]
zone = "A1"
exposures = [{ start = "0 s", end = "10 min" }, { start = "12 min", dose_j_cm2 = 2.52, level = 0.5 }]
[[zones]]
zone = "B3"
[[checkpoints]]
name = "baseline"
at = "0 s"
[[checkpoints]]
name = "half-way"
at = "5 min"
attended = false
"""


@pytest.mark.skipif(not LONG, reason="a day in virtual time: for the long form")
def test_the_ferry_timetable_ends_completed() -> None:
    program = demo_programs()["ferry_timetable"]
    report = rehearse(program)
    assert report.session.outcome == "completed"
    assert [name for name, _ in report.checkpoints] == ["baseline", "1 h", "2 h", "4 h", "8 h", "16 h", "24 h"]
    assert report.session.session_s == pytest.approx(24 * 3600, abs=2)
    assert report.session.lit_s == pytest.approx(report.true_lit_s, abs=0.05)
    assert report.session.lit_s == pytest.approx(program.planned_lit_s(report.chamber), abs=0.5)
    assert report.air_temp_c_max is not None
    assert report.air_temp_c_max < program.limits.air_soft_c


def test_the_stifling_attic_is_cut_off_by_heat() -> None:
    report = rehearse(demo_programs()["stifling_attic"])
    assert report.session.outcome == "cut off"
    assert "pauses to cool within one hour" in report.session.cause
    assert report.hold_s["cooling"] > 600
    assert report.true_lit_s == pytest.approx(report.session.lit_s, abs=0.05)
    assert report.true_lit_s[0] < 7200, "the true lamps went dark long before the plan's end"


def test_time_and_dose_exposures_are_met_and_the_report_says_so() -> None:
    report = rehearse(parse(SHORT))
    data = report.to_json()
    json.dumps(data)
    assert data["outcome"] == "completed"
    zone = data["zones"][0]
    # A1 has 84 W/m2: H = E t, so 2.52 J/cm2 takes 300 s of full light, after the 600 s by time.
    assert zone["name"] == "A1"
    assert zone["planned_s"] == pytest.approx(900.0)
    assert zone["lit_s"] == pytest.approx(900.0, abs=0.3)
    assert zone["true_lit_s"] == pytest.approx(900.0, abs=0.3)
    assert zone["dose_j_cm2"] == pytest.approx(84 * 900e-4, abs=0.003)
    assert [c["name"] for c in data["checkpoints"]] == ["baseline", "half-way"]
    assert data["checkpoints"][1]["at_s"] == pytest.approx(300.0, abs=0.2)
    assert {h["reason"] for h in data["holds"]} == {"checkpoint"}
    assert set(data) >= {"outcome", "session_s", "air_temp_c_max", "zones", "checkpoints", "holds"}


def test_36_j_cm2_are_an_hour_at_100_w_m2() -> None:
    """Radiometry's definition of dose, H = E t (SI): 100 W/m2 for 3600 s is 360 kJ/m2 = 36 J/cm2."""
    chamber = Chamber(id="one", zones=(Zone(name="Z", irradiance_w_m2=100.0),))
    report = rehearse(parse('title = "t"\nzones = [{ zone = "Z", exposures = [{ dose_j_cm2 = 36.0 }] }]'), chamber)
    assert report.true_lit_s[0] == pytest.approx(3600.0, abs=0.3)


def test_the_same_seed_repeats_and_another_differs() -> None:
    first, again, other = (rehearse(parse(SHORT), seed=seed) for seed in (1, 1, 2))
    assert first.journal == again.journal
    assert first.to_json() == again.to_json()
    assert first.air_temp_c_max != other.air_temp_c_max


def test_a_program_that_cannot_start_says_why() -> None:
    hot = parse(SHORT + "\n[rehearsal]\nambient_c = 36\n")
    with pytest.raises(ProgramError, match=r"could not start: Air is 36\.\d °C, not below the soft limit of 35\.0 °C"):
        rehearse(hot)


def test_a_program_that_does_not_fit_the_chamber_says_why() -> None:
    chamber = Chamber(id="one", zones=(Zone(name="Z", irradiance_w_m2=100.0),))
    with pytest.raises(ProgramError, match="The chamber has no zone 'A1'; its zones are Z"):
        rehearse(parse(SHORT), chamber)


def test_zones_unknown_to_the_demo_chamber_get_an_invented_one() -> None:
    program = parse('title = "t"\nzones = [{ zone = "Left", exposures = [{ end = "1 min" }] }]')
    assert [zone.name for zone in chamber_for(program).zones] == ["Left"]
