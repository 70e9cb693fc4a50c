"""All chambers as metrics for Prometheus.

Names follow Prometheus' own conventions: base units in the name (celsius, seconds, ratio, joules per square metre),
`_total` on what only counts up, labels with few values. What is not known now has no line, instead of an old value:
readings of a board that does not answer, for example. https://prometheus.io/docs/practices/naming/ (from memory).
"""

import shutil
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from prometheus_client import CollectorRegistry, ProcessCollector
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, Metric
from prometheus_client.exposition import choose_encoder
from prometheus_client.registry import Collector

from lampboard import registers as reg

from .. import __version__
from ..domain.units import dose_j_cm2
from ..engine import Phase, Reason
from ..errors import StoreError
from ..keeper import Snapshot
from ..service import Service

J_M2_PER_J_CM2 = 1e4
NO_SESSION = "none"
"""The phase of a chamber without a session."""
CHAMBER = "chamber"


@dataclass(frozen=True, slots=True)
class Broker:
    """How publishing to the MQTT broker does."""

    connected: bool
    lines_waiting: int
    """Journal lines that the broker has not taken yet."""


class Metrics:
    """The page. `render` may be called from any thread; it reads the outbox and asks the disk for its free space."""

    def __init__(
        self,
        service: Service,
        folder: Path,
        *,
        messages_waiting: Callable[[], Mapping[str, int]] = dict,
        broker: Callable[[], Broker | None] = lambda: None,
    ) -> None:
        """`folder`: the data folder; `messages_waiting`: messages to people that are not out yet, by chamber;
        `broker`: None if none is set up."""
        self._registry = CollectorRegistry()
        self._registry.register(_Chambers(service, folder, messages_waiting, broker))
        ProcessCollector(registry=self._registry)

    def render(self, accept: str = "") -> tuple[bytes, str]:
        """The page and its media type, in the form that the Accept header asks for."""
        encode, media_type = choose_encoder(accept)
        return encode(self._registry), media_type


class _Chambers(Collector):
    def __init__(
        self,
        service: Service,
        folder: Path,
        messages_waiting: Callable[[], Mapping[str, int]],
        broker: Callable[[], Broker | None],
    ) -> None:
        self._service, self._folder = service, folder
        self._messages_waiting, self._broker = messages_waiting, broker

    def describe(self) -> Iterable[Metric]:
        """Nothing: the registry would otherwise collect once to learn the names, before any keeper turns."""
        return ()

    def collect(self) -> Iterable[Metric]:
        build = GaugeMetricFamily("lampwarden_build_info", "The program's version; always 1.", labels=["version"])
        build.add_metric([__version__], 1)
        yield build
        work = GaugeMetricFamily("lampwarden_at_work", "1 while every keeper turns and the journal reaches the disk.")
        work.add_metric([], self._service.at_work())
        yield work
        yield from _of_chambers(self._service.chambers())
        yield from self._of_keepers()
        yield from self._of_host()

    def _of_keepers(self) -> Iterable[Metric]:
        gap = _gauge("keeper_gap_seconds", "Time since the keeper's last turn; it turns once a second.")
        longest = _gauge("keeper_longest_gap_seconds", "Longest time between two turns since the daemon began.")
        turned = _counter("keeper_turns_total", "Turns of the keeper since the daemon began.")
        silent = _counter("board_unanswered_turns_total", "Turns in which the board did not answer.")
        for snapshot in self._service.chambers():
            key = [snapshot.chamber.id]
            turns, gap_s = self._service.turns(snapshot.chamber.id)
            gap.add_metric(key, gap_s)
            longest.add_metric(key, max(turns.longest_gap_s, gap_s))
            turned.add_metric(key, turns.count)
            silent.add_metric(key, turns.unanswered)
        return (gap, longest, turned, silent)

    def _of_host(self) -> Iterable[Metric]:
        waiting = _gauge("messages_waiting", "Messages to people that are not out yet.")
        try:
            counts = self._messages_waiting()
            for snapshot in self._service.chambers():
                waiting.add_metric([snapshot.chamber.id], counts.get(snapshot.chamber.id, 0))
            yield waiting
        except StoreError:
            pass  # the record cannot be read: then nobody knows
        try:
            free_bytes = shutil.disk_usage(self._folder).free
            yield GaugeMetricFamily("lampwarden_disk_free_bytes", "Free space where the records are.", free_bytes)
        except OSError:
            pass
        broker = self._broker()
        if broker is not None:
            yield GaugeMetricFamily("lampwarden_mqtt_connected", "1 while the broker is reached.", broker.connected)
            yield GaugeMetricFamily(
                "lampwarden_mqtt_lines_waiting", "Journal lines the broker has not taken yet.", broker.lines_waiting
            )


def _of_chambers(snapshots: Iterable[Snapshot]) -> Iterable[Metric]:
    answers = _gauge("board_answers", "1 while the board answers.")
    state = _gauge("board_state", "1 for the state the board is in.", "state")
    phase = _gauge("session_phase", "1 for the phase of the session; none: no session.", "phase")
    session_s = _gauge("session_time_seconds", "Session time, which stands still in every hold.")
    hold = _gauge("session_hold", "1 for each hold that stands.", "reason")
    person = _gauge("session_waits_for_person", "1 while a hold stands that a person has to end.")
    lit = _gauge("zones_lit", "Treatment zones that are lit, as the board reports them.")
    level = _gauge("zone_level_ratio", "Level of the zone, as the board reports it; 1: full light.", "zone")
    lit_s = _gauge("zone_lit_seconds", "Level-weighted light of the zone in this session.", "zone")
    dose = _gauge(
        "zone_dose_joules_per_square_meter", "Dose of the zone in this session (10000 J/m2 = 1 J/cm2).", "zone"
    )
    air = _gauge("air_temperature_celsius", "Temperature of the chamber's air.")
    humidity = _gauge("air_humidity_ratio", "Relative humidity of the chamber's air; 1: saturated.")
    bank = _gauge("bank_temperature_celsius", "Temperature of the bank's plate.", "bank")
    fan = _gauge("fan_ratio", "Drive of the fan; 1: full.")
    door = _gauge("door_open", "1 while the door is open.")
    stop = _gauge("stop_pressed", "1 while the chamber's stop button is down.")
    good = _counter("board_good_frames_total", "Good frames the board has received; wraps at 65536.")
    bad = _counter("board_bad_frames_total", "Frames with a wrong checksum or length; wraps at 65536.")
    refused = _counter("board_exceptions_total", "Requests the board has refused; wraps at 65536.")
    unsaved = _gauge("storage_trouble", "1 while the journal does not reach the disk.")

    for snapshot in snapshots:
        key, session = [snapshot.chamber.id], snapshot.session
        answers.add_metric(key, snapshot.board.trouble is None)
        unsaved.add_metric(key, snapshot.storage_trouble is not None)
        now = session.phase.value if session is not None else NO_SESSION
        for each in (NO_SESSION, *(one.value for one in Phase)):
            phase.add_metric([*key, each], each == now)
        standing = {one.reason for one in session.holds} if session is not None else set()
        for reason in Reason:
            hold.add_metric([*key, reason.value], reason in standing)
        person.add_metric(key, session is not None and any(one.needs_person for one in session.holds))
        if session is not None:
            session_s.add_metric(key, session.session_s)
            for zone, seconds in zip(session.chamber.zones, session.lit_s, strict=True):
                lit_s.add_metric([*key, zone.name], seconds)
                dose.add_metric([*key, zone.name], J_M2_PER_J_CM2 * dose_j_cm2(zone.irradiance_w_m2, seconds))
        live = snapshot.board.live
        if live is None or snapshot.board.trouble is not None:
            continue
        for each in reg.STATES:
            state.add_metric([*key, each], each == live.board_state)
        applied = live.zone_applied[: len(snapshot.chamber.zones)]
        lit.add_metric(key, sum(share > 0 for share in applied))
        for zone, share in zip(snapshot.chamber.zones, applied, strict=False):  # a board may have fewer zones
            level.add_metric([*key, zone.name], share)
        if live.air_temp_c is not None:
            air.add_metric(key, live.air_temp_c)
        if live.humidity_pct is not None:
            humidity.add_metric(key, live.humidity_pct / 100)
        for number, temp_c in enumerate(live.bank_temps_c[: snapshot.chamber.bank_count], 1):
            if temp_c is not None:
                bank.add_metric([*key, str(number)], temp_c)
        fan.add_metric(key, live.fan)
        door.add_metric(key, live.door_open)
        stop.add_metric(key, live.stop_pressed)
        good.add_metric(key, live.frames_ok)
        bad.add_metric(key, live.frames_bad)
        refused.add_metric(key, live.exceptions)
    return (
        *(
            answers,
            state,
            phase,
            session_s,
            hold,
            person,
            lit,
            level,
            lit_s,
            dose,
            air,
            humidity,
            bank,
            fan,
            door,
            stop,
        ),
        *(good, bad, refused, unsaved),
    )


def _gauge(name: str, about: str, *labels: str) -> GaugeMetricFamily:
    return GaugeMetricFamily(f"lampwarden_{name}", about, labels=[CHAMBER, *labels])


def _counter(name: str, about: str) -> CounterMetricFamily:
    return CounterMetricFamily(f"lampwarden_{name}", about, labels=[CHAMBER])
