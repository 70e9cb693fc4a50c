"""One connection to a broker, from its beginning to its end. After an outage another one is made.

So nothing waits in a hidden queue: what the broker has not acknowledged is read from the journal again. It publishes
and never subscribes.
"""

import json
import ssl
import threading
from collections.abc import Mapping, Sequence
from typing import Any

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessageInfo
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from ..errors import LampwardenError
from .broker_file import BrokerSettings

KEEPALIVE_S = 30
"""A broker that hears nothing for one and a half of these publishes the last will."""
ANSWER_S = 10.0
"""Longest wait for the broker, s: its name, its connection, its word that it has taken a message."""
AT_LEAST_ONCE = 1
"""Quality of service of all that is published."""
AVAILABILITY = "availability"


class BrokerAway(LampwardenError):
    """The broker is not reached, does not let us in, or does not answer."""


class Connection:
    """Connects, and raises BrokerAway if that fails. Call from one thread; close it in the end."""

    def __init__(self, settings: BrokerSettings, client_id: str) -> None:
        self._prefix = settings.prefix
        self._known = threading.Event()
        self._refusal = ""
        self._lost = ""
        self._client = Client(CallbackAPIVersion.VERSION2, client_id, reconnect_on_failure=False)
        self._client.connect_timeout = ANSWER_S
        self._client.on_connect = self._on_connect
        self._client.on_disconnect = self._on_disconnect
        if settings.user:
            self._client.username_pw_set(settings.user, settings.password or None)
        # What the broker says in our name once we are silent.
        self._client.will_set(self._topic(AVAILABILITY), _text({"available": False}), AT_LEAST_ONCE, retain=True)
        try:
            if settings.tls:
                ca = str(settings.ca_certificate) if settings.ca_certificate is not None else None
                self._client.tls_set_context(ssl.create_default_context(cafile=ca))
            self._client.connect(settings.host, settings.at, KEEPALIVE_S)
        except (OSError, ValueError) as error:
            raise BrokerAway(f"no connection to {settings.host}, port {settings.at}: {error}") from None
        self._client.loop_start()
        if not self._known.wait(ANSWER_S):
            self.close()
            raise BrokerAway(f"{settings.host}, port {settings.at}, does not answer as an MQTT broker")
        if self._refusal:
            self.close()
            raise BrokerAway(f"{settings.host}, port {settings.at}, refused: {self._refusal}")
        self.publish(((AVAILABILITY, {"available": True}),), retain=True)

    @property
    def lost(self) -> str:
        """Why the connection has ended; empty: it has not."""
        return self._lost

    def publish(self, messages: Sequence[tuple[str, Mapping[str, Any]]], *, retain: bool = False) -> int:
        """Publishes messages (topic below the prefix, payload) in this order; how many of them the broker has taken.

        Fewer than all only if the connection was lost meanwhile. Blocks until the broker has answered to all.
        """
        under_way = [
            self._client.publish(self._topic(topic), _text(payload), AT_LEAST_ONCE, retain=retain)
            for topic, payload in messages
        ]
        taken = 0
        for each in under_way:
            if not self._was_taken(each):
                self._lost = self._lost or "the broker does not take what is sent"
                break
            taken += 1
        return taken

    def close(self) -> None:
        """Says that this host is not available any more, if it can, and hangs up."""
        if not self._lost and not self._refusal and self._known.is_set():
            self.publish(((AVAILABILITY, {"available": False}),), retain=True)
        self._client.disconnect()
        self._client.loop_stop()

    def _was_taken(self, message: MQTTMessageInfo) -> bool:
        if message.rc != MQTTErrorCode.MQTT_ERR_SUCCESS:
            return False
        waited_s = 0.0
        while not message.is_published():
            if self._lost or waited_s > ANSWER_S:
                return False
            message.wait_for_publish(STEP_S)
            waited_s += STEP_S
        return True

    def _topic(self, below: str) -> str:
        return f"{self._prefix}/{below}"

    def _on_connect(
        self, client: Client, userdata: object, flags: ConnectFlags, reason: ReasonCode, properties: Properties | None
    ) -> None:
        if reason.is_failure:
            self._refusal = str(reason)
        self._known.set()

    def _on_disconnect(
        self,
        client: Client,
        userdata: object,
        flags: DisconnectFlags,
        reason: ReasonCode,
        properties: Properties | None,
    ) -> None:
        self._lost = self._lost or f"the connection ended ({reason})"
        self._known.set()


STEP_S = 0.2
"""How soon a lost connection is noticed while the broker's word is awaited, s."""


def _text(payload: Mapping[str, Any]) -> str:
    return json.dumps(payload, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
