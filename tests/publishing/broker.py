"""A real MQTT broker (Debian's mosquitto) that can be killed and restarted, and an ear that hears what it passes on."""

import json
import os
import secrets
import shutil
import signal
import socket
import subprocess
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

MOSQUITTO = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin")
PATIENCE_S = 120.0
"""How long anything real may take on a busy machine, s."""


def eventually(what: Callable[[], Any], limit_s: float = PATIENCE_S) -> Any:
    """The first true answer."""
    deadline_s = time.monotonic() + limit_s
    while not (found := what()):
        assert time.monotonic() < deadline_s, f"not within {limit_s} s: {found!r}"
        time.sleep(0.02)
    return found


class Broker:
    """The broker on a free port of this machine. `options` are further lines of its configuration."""

    def __init__(self, folder: Path, *options: str) -> None:
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.port: int = free.getsockname()[1]
        self._log, self._config = folder / "broker.log", folder / "broker.conf"
        # Started by root it would become another user, who cannot read the files of a test.
        rules = (*(options or ("allow_anonymous true",)), *(("user root",) if os.geteuid() == 0 else ()))
        self._kept = folder / "mosquitto.db"
        # What it has not written down when killed is gone, and it writes when told: only what we send again comes back.
        kept = ("persistence true", f"persistence_location {folder}/", "autosave_interval 0")
        lines = [f"listener {self.port} 127.0.0.1", *kept, "log_type all", "log_dest stderr", *rules]
        self._config.write_text("\n".join(lines) + "\n")
        self.start()

    def start(self) -> None:
        assert MOSQUITTO is not None
        with self._log.open("ab") as log:
            self._process = subprocess.Popen([MOSQUITTO, "-c", str(self._config)], stdout=log, stderr=log)
        eventually(self._listens)

    def _listens(self) -> bool:
        assert self._process.poll() is None, self.log
        with socket.socket() as probe:
            return probe.connect_ex(("127.0.0.1", self.port)) == 0

    @property
    def log(self) -> str:
        return self._log.read_text()

    def remember(self) -> None:
        """Writes down who listens: they miss nothing after a restart, however late they are back."""
        self._kept.unlink(missing_ok=True)
        self._process.send_signal(signal.SIGUSR1)
        eventually(self._kept.exists)  # renamed to this name when it is whole

    def kill(self) -> None:
        self._process.kill()
        self._process.wait()


class Ear:
    """Hears everything below a prefix, in order; a broker that remembers it keeps what comes while it is away."""

    def __init__(self, port: int, prefix: str = "lampwarden", **login: str) -> None:
        self.heard: list[tuple[str, Any, bool]] = []
        """Topic below the prefix, payload, whether the broker had kept it."""
        self._prefix = prefix
        self._ready = threading.Event()
        self._client = Client(CallbackAPIVersion.VERSION2, f"ear-{secrets.token_hex(4)}", clean_session=False)
        self._client.reconnect_delay_set(0.05, 0.2)  # type: ignore[arg-type]
        if login:
            self._client.username_pw_set(**login)
        self._client.on_connect = lambda client, *_: client.subscribe(f"{prefix}/#", 1)
        self._client.on_subscribe = lambda *_: self._ready.set()
        self._client.on_message = self._on_message
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()
        assert self._ready.wait(PATIENCE_S)

    def _on_message(self, client: Client, userdata: object, message: MQTTMessage) -> None:
        below = message.topic.removeprefix(f"{self._prefix}/")
        self.heard.append((below, json.loads(message.payload), bool(message.retain)))

    def of(self, topic: str) -> list[Any]:
        return [payload for heard, payload, _ in list(self.heard) if heard == topic]

    def say(self, topic: str, payload: str) -> None:
        self._client.publish(f"{self._prefix}/{topic}", payload, 1).wait_for_publish(PATIENCE_S)

    def close(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()
