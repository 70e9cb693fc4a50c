"""What is published to a real broker, and what becomes of it when broker or network are away."""

import logging
import shutil
import socket
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from tests.web.conftest import Bench

from lampwarden.publishing.broker_file import FILE
from lampwarden.publishing.connection import ANSWER_S
from lampwarden.publishing.mqtt import Publisher
from lampwarden.store.published import Published

from .broker import Broker, Ear, eventually


def name_broker(folder: Path, port: int, *more: str) -> None:
    """Writes the file that names the broker."""
    path = folder / FILE
    path.write_text("\n".join(['host = "127.0.0.1"', f"port = {port}", *more]) + "\n")
    path.chmod(0o600)


@pytest.fixture
def publish(bench: Bench, tmp_path: Path) -> Iterator[Callable[[], Publisher]]:
    """Starts a publisher over the bench, as a daemon does."""
    started: list[Publisher] = []

    def start() -> Publisher:
        started.append(Publisher(bench.store, tmp_path, bench.service.chambers))
        started[-1].start()
        return started[-1]

    yield start
    for each in started:
        each.close()


def connected(publisher: Publisher) -> bool:
    state = publisher.state
    return state is not None and state.connected


def caught_up(publisher: Publisher) -> bool:
    state = publisher.state
    return state is not None and state.lines_waiting == 0


def remark(bench: Bench, number: int) -> None:
    bench.service.remark("bench", f"Remark {number}.", "Wilma")


def texts(ear: Ear) -> list[str]:
    return [line["text"].removeprefix("Wilma: ") for line in ear.of("bench/journal")]


def test_a_session_is_told(bench: Bench, broker: Broker, ear: Ear, publish: Callable[[], Publisher],
                           tmp_path: Path) -> None:  # fmt: skip
    remark(bench, 0)  # from before a broker was named: no news
    name_broker(tmp_path, broker.port, "snapshot_every_s = 1")
    publisher = publish()
    eventually(lambda: connected(publisher))
    bench.lit()
    bench.run(60)
    lit = eventually(lambda: [s for s in ear.of("bench/snapshot") if s["session"] and s["session"]["session_s"] > 50])
    snapshot = lit[-1]
    assert snapshot["readings"]["zone_levels"]["A1"] == 1.0
    zone = snapshot["session"]["zones"]["A1"]
    assert zone["dose_j_cm2"] == pytest.approx(zone["lit_s"] * 0.01)  # 100 W/m2
    assert (snapshot["chamber_id"], snapshot["board"]["answers"]) == ("bench", True)
    bench.service.hold("bench", "Wilma")
    eventually(lambda: ear.of("bench/snapshot")[-1]["session"]["phase"] == "held")
    eventually(lambda: caught_up(publisher))
    saved = bench.service.journal("bench", after_seq=1)
    eventually(lambda: len(ear.of("bench/journal")) >= len(saved))
    assert [(line["seq"], line["kind"], line["text"]) for line in ear.of("bench/journal")] == [
        (line.seq, line.kind, line.text) for line in saved
    ]
    assert ear.of("availability") == [{"available": True}]
    publisher.close()
    eventually(lambda: ear.of("availability")[-1] == {"available": False})
    late = Ear(broker.port)  # the newest snapshot is kept by the broker, journal lines are not
    eventually(lambda: len(late.heard) >= 2)
    assert {topic for topic, _, kept in late.heard if kept} == {"availability", "bench/snapshot"}
    late.close()


def test_snapshots_are_throttled_and_news_are_not(
    bench: Bench, broker: Broker, ear: Ear, publish: Callable[[], Publisher], tmp_path: Path
) -> None:
    name_broker(tmp_path, broker.port, "snapshot_every_s = 3600")
    publish()
    eventually(lambda: ear.of("bench/snapshot"))
    for _ in range(20):
        bench.run(1)
        time.sleep(0.1)
    assert len(ear.of("bench/snapshot")) == 1
    bench.world.door(True)
    bench.run(3)
    eventually(lambda: len(ear.of("bench/snapshot")) == 2)
    assert ear.of("bench/snapshot")[-1]["readings"]["door_open"] is True


def test_nothing_is_lost_while_the_broker_is_dead(
    bench: Bench, broker: Broker, ear: Ear, publish: Callable[[], Publisher], tmp_path: Path
) -> None:
    name_broker(tmp_path, broker.port)
    publisher = publish()
    eventually(lambda: connected(publisher))
    remark(bench, 1)
    eventually(lambda: len(texts(ear)) == 1)
    broker.remember()
    broker.kill()
    for number in range(2, 300):
        remark(bench, number)
    eventually(lambda: not connected(publisher))
    waiting = publisher.state
    assert waiting is not None
    assert waiting.lines_waiting > 250
    broker.start()
    eventually(lambda: caught_up(publisher))
    remark(bench, 300)
    eventually(lambda: texts(ear) and texts(ear)[-1] == "Remark 300.")
    seqs = [line["seq"] for line in ear.of("bench/journal")]
    assert sorted(set(seqs)) == list(range(seqs[0], seqs[0] + 300))
    first_times = list(dict.fromkeys(seqs))
    assert first_times == sorted(first_times)  # a line may come twice, but never before an earlier one


def test_it_goes_on_where_the_last_daemon_stopped(
    bench: Bench, broker: Broker, ear: Ear, publish: Callable[[], Publisher], tmp_path: Path
) -> None:
    name_broker(tmp_path, broker.port)
    first = publish()
    eventually(lambda: connected(first))
    remark(bench, 1)
    eventually(lambda: texts(ear) == ["Remark 1."])
    first.close()
    remark(bench, 2)
    second = publish()
    remark(bench, 3)
    eventually(lambda: len(texts(ear)) == 3)
    assert texts(ear) == ["Remark 1.", "Remark 2.", "Remark 3."]
    eventually(lambda: Published(bench.store).place() == ear.of("bench/journal")[-1]["seq"])
    assert caught_up(second)


def test_it_publishes_and_takes_no_orders(
    bench: Bench, broker: Broker, ear: Ear, publish: Callable[[], Publisher], tmp_path: Path
) -> None:
    name_broker(tmp_path, broker.port)
    publisher = publish()
    eventually(lambda: connected(publisher))
    bench.lit()
    for topic in ("bench/stop", "bench/hold", "bench", "availability", "bench/snapshot"):
        ear.say(topic, '{"stop": true}')
    bench.run(5)
    assert any(bench.service.snapshot("bench").board.live.zone_applied)
    asked = [line for line in broker.log.splitlines() if "Received SUBSCRIBE" in line]
    assert asked
    assert [line for line in asked if "from ear" not in line] == []


def test_a_password_is_needed_and_never_logged(
    bench: Bench, broker_with: Callable[..., Broker], publish: Callable[[], Publisher], tmp_path: Path,
    caplog: pytest.LogCaptureFixture,
) -> None:  # fmt: skip
    tool = shutil.which("mosquitto_passwd")
    if tool is None:
        pytest.skip("mosquitto_passwd comes with mosquitto")
    subprocess.run([tool, "-b", "-c", str(tmp_path / "users"), "logger", "herring and oil"], check=True)
    broker = broker_with("allow_anonymous false", f"password_file {tmp_path / 'users'}")
    name_broker(tmp_path, broker.port, 'user = "logger"', 'password = "a wrong secret"')
    caplog.set_level(logging.DEBUG, "lampwarden")
    publisher = publish()
    eventually(lambda: "refused" in caplog.text)
    assert not connected(publisher)
    name_broker(tmp_path, broker.port, 'user = "logger"', 'password = "herring and oil"', 'prefix = "attic/lamps"')
    eventually(lambda: connected(publisher))
    ear = Ear(broker.port, "attic/lamps", username="logger", password="herring and oil")
    eventually(lambda: ear.of("bench/snapshot"))
    ear.close()
    assert caplog.text.count("nothing is published") == 1
    assert [secret for secret in ("a wrong secret", "herring and oil") if secret in caplog.text] == []


def test_tls_with_a_certificate_of_ones_own(
    bench: Bench, broker_with: Callable[..., Broker], publish: Callable[[], Publisher], tmp_path: Path,
    caplog: pytest.LogCaptureFixture,
) -> None:  # fmt: skip
    if shutil.which("openssl") is None:
        pytest.skip("openssl is needed to make a certificate")
    key, certificate = tmp_path / "key.pem", tmp_path / "certificate.pem"
    words = "req -x509 -newkey rsa:2048 -nodes -days 2 -subj /CN=127.0.0.1 -addext subjectAltName=IP:127.0.0.1"
    subprocess.run(
        ["openssl", *words.split(), "-keyout", str(key), "-out", str(certificate)], check=True, capture_output=True
    )
    key.chmod(0o644)
    broker = broker_with("allow_anonymous true", f"certfile {certificate}", f"keyfile {key}")
    name_broker(tmp_path, broker.port, "tls = true")
    publisher = publish()
    eventually(lambda: "certificate verify failed" in caplog.text)  # nobody vouches for it
    assert not connected(publisher)
    name_broker(tmp_path, broker.port, "tls = true", f'ca_certificate = "{certificate}"')
    eventually(lambda: connected(publisher))
    remark(bench, 1)
    eventually(lambda: caught_up(publisher))


def test_a_file_that_is_wrong_says_where_and_changes_nothing(
    bench: Bench, broker: Broker, publish: Callable[[], Publisher], tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    name_broker(tmp_path, broker.port)
    publisher = publish()
    eventually(lambda: connected(publisher))
    for wrong, said in (
        ('prefix = "a/#"', "mqtt.toml, line 3, prefix"),
        ('password = "x"', "a 'password' needs a 'user'"),
        ("subscribe = true", "this key is not known here"),
        ('ca_certificate = "ca.pem"', "add tls = true"),
    ):
        caplog.clear()
        name_broker(tmp_path, broker.port, wrong)
        eventually(lambda said=said: said in caplog.text)
        assert connected(publisher)
    (tmp_path / FILE).chmod(0o644)
    name_broker(tmp_path, broker.port, 'user = "u"', 'password = "p"')
    (tmp_path / FILE).unlink()
    eventually(lambda: publisher.state is None)


def test_a_broker_that_takes_and_never_answers_holds_nobody_up(
    bench: Bench, publish: Callable[[], Publisher], tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    with socket.create_server(("127.0.0.1", 0)) as hole:
        name_broker(tmp_path, hole.getsockname()[1])
        publisher = publish()
        eventually(lambda: publisher.state is not None)
        remark(bench, 1)
        began_s = time.monotonic()
        publisher.close()
        assert time.monotonic() - began_s < ANSWER_S  # it gives up before the broker's time to answer is over
