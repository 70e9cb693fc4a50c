"""The metrics page, as Prometheus' own parser reads it, at rest, lit, held, and with the board away."""

from collections.abc import Callable
from pathlib import Path

import pytest
from fastapi import FastAPI
from prometheus_client.parser import text_string_to_metric_families
from tests.web.conftest import Asker, Bench

from lampwarden.publishing.metrics import Broker, Metrics
from lampwarden.web import metrics

Value = Callable[..., float | None]


def read(text: str) -> Value:
    """What the page says of one metric with these labels; None if it says nothing."""
    samples = {
        (sample.name, frozenset(sample.labels.items())): sample.value
        for family in text_string_to_metric_families(text)
        for sample in family.samples
    }

    def value(name: str, chamber: str = "bench", **labels: str) -> float | None:
        about = {"chamber": chamber, **labels} if chamber else labels
        return samples.get((f"lampwarden_{name}", frozenset(about.items())))

    return value


def page(bench: Bench, folder: Path) -> Value:
    return read(Metrics(bench.service, folder).render()[0].decode())


def test_at_rest(bench: Bench, tmp_path: Path) -> None:
    value, live = page(bench, tmp_path), bench.service.snapshot("bench").board.live
    assert value("at_work", chamber="") == 1
    assert value("board_answers") == 1
    assert value("board_state", state="dark") == 1
    assert value("board_state", state="lit") == 0
    assert value("session_phase", phase="none") == 1
    assert value("session_phase", phase="running") == 0
    assert value("zones_lit") == 0
    assert value("air_temperature_celsius") == live.air_temp_c
    assert value("air_humidity_ratio") == pytest.approx(live.humidity_pct / 100)
    assert value("bank_temperature_celsius", bank="2") == live.bank_temps_c[1]
    assert value("bank_temperature_celsius", bank="3") is None  # the chamber has two
    assert value("board_good_frames_total") == live.frames_ok
    assert value("storage_trouble") == 0
    assert value("disk_free_bytes", chamber="") > 0
    assert value("session_time_seconds") is None
    assert value("mqtt_connected", chamber="") is None


def test_lit_and_held(bench: Bench, tmp_path: Path) -> None:
    bench.lit()
    bench.run(100)
    value, snapshot = page(bench, tmp_path), bench.service.snapshot("bench")
    assert value("session_phase", phase="running") == 1
    assert value("zones_lit") == 1
    assert value("zone_level_ratio", zone="A1") == 1
    assert value("zone_level_ratio", zone="A2") == 0
    assert value("zone_lit_seconds", zone="A1") == pytest.approx(snapshot.session.lit_s[0])
    assert value("zone_dose_joules_per_square_meter", zone="A1") == pytest.approx(100 * snapshot.session.lit_s[0])
    assert value("session_time_seconds") == pytest.approx(100, abs=3)
    bench.service.hold("bench", "Wilma")
    bench.run(2)
    value = page(bench, tmp_path)
    assert value("session_phase", phase="held") == 1
    assert value("session_hold", reason="operator") == 1
    assert value("session_hold", reason="door") == 0
    assert value("session_waits_for_person") == 1
    assert value("zones_lit") == 0


def test_a_board_that_is_away_leaves_no_old_readings(bench: Bench, tmp_path: Path) -> None:
    before = page(bench, tmp_path)
    bench.rig.wire.plugged = False
    bench.run(5)
    value = page(bench, tmp_path)
    assert value("board_answers") == 0
    assert value("air_temperature_celsius") is None
    assert value("board_state", state="dark") is None
    assert value("board_unanswered_turns_total") >= 3
    assert value("keeper_turns_total") > before("keeper_turns_total")
    assert before("board_unanswered_turns_total") == 0
    assert 0.9 < value("keeper_longest_gap_seconds") < 5


def test_messages_and_broker(bench: Bench, tmp_path: Path) -> None:
    made = Metrics(
        bench.service, tmp_path, messages_waiting=lambda: {"bench": 3}, broker=lambda: Broker(True, 12)
    ).render()
    value = read(made[0].decode())
    assert value("messages_waiting") == 3
    assert value("mqtt_connected", chamber="") == 1
    assert value("mqtt_lines_waiting", chamber="") == 12


def test_the_page_is_served_in_the_form_that_is_asked_for(bench: Bench, tmp_path: Path) -> None:
    app = FastAPI()
    app.include_router(metrics.routes(Metrics(bench.service, tmp_path)))
    plain = Asker(app).get("/metrics")
    assert plain.headers["content-type"].startswith("text/plain")
    assert read(plain.text)("board_answers") == 1
    assert "process_resident_memory_bytes" in plain.text
    open_metrics = Asker(app).get("/metrics", headers={"accept": "application/openmetrics-text; version=1.0.0"})
    assert open_metrics.headers["content-type"].startswith("application/openmetrics-text")
    assert open_metrics.text.endswith("# EOF\n")


def test_names_follow_the_conventions(bench: Bench, tmp_path: Path) -> None:
    bench.lit()
    families = list(text_string_to_metric_families(Metrics(bench.service, tmp_path).render()[0].decode()))
    ours = [family for family in families if family.name.startswith("lampwarden_")]
    assert len(ours) > 25
    for family in ours:
        assert family.documentation
        assert family.type in ("gauge", "counter"), family.name
        assert {label for sample in family.samples for label in sample.labels} <= {
            *("chamber", "zone", "bank", "state", "phase", "reason", "version"),
        }
        assert len(family.samples) <= 12, family.name  # for one chamber
