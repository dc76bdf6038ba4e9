"""The gateway of each place: its own broker user, and packs handed over with QoS 1."""

import json
import time
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion

from demo.registration import Api

IN_FLIGHT = 200
SENT_WITHIN_S = 60.0


@dataclass(frozen=True, slots=True)
class BrokerUser:
    """What a gateway signs in with at the broker."""

    username: str
    password: str


def gateway_users(api: Api, places: Iterable[str], kept: Path) -> dict[str, BrokerUser]:
    """Give each place's gateway a broker user of its own, unless it has one.

    Parameters
    ----------
    api : Api
        The service.
    places : iterable of str
        The places.
    kept : Path
        File of the users of earlier runs (mode 0600), since a password is told once.

    Returns
    -------
    dict
        By place.
    """
    known = json.loads(kept.read_text(encoding="utf-8")) if kept.exists() else {}
    issued = api.every("/device-credentials")
    valid = {one["username"] for one in issued if one["revoked_at"] is None}
    users = {}
    for place in places:
        user = known.get(place)
        if user is None or user["username"] not in valid:
            made = api.post("/device-credentials", {"place": place})
            user = {"username": made["username"], "password": made["password"]}
        users[place] = BrokerUser(**user)
    kept.parent.mkdir(parents=True, exist_ok=True)
    kept.touch(mode=0o600)
    kept.write_text(json.dumps({place: asdict(user) for place, user in users.items()}), encoding="utf-8")
    return users


class Gateways:
    """The gateway of each place; hands packs to the broker with QoS 1 and waits until it has them.

    Parameters
    ----------
    broker : dict
        `host`, `port` and `root`.
    users : dict
        Each place's broker user and password.
    """

    def __init__(self, broker: dict[str, Any], users: dict[str, BrokerUser]) -> None:
        self._root = broker["root"]
        self._clients = {place: self._connected(broker, user) for place, user in users.items()}

    def _connected(self, broker: dict[str, Any], user: BrokerUser) -> mqtt.Client:
        client = mqtt.Client(CallbackAPIVersion.VERSION2)
        client.username_pw_set(user.username, user.password)
        client.max_queued_messages_set(0)
        client.max_inflight_messages_set(IN_FLIGHT)
        # A user that was made just now is known to the broker within seconds.
        client.reconnect_delay_set(1, 5)
        client.connect(broker["host"], broker["port"])
        client.loop_start()
        return client

    def send(self, packs: Iterable[tuple[str, str, Any]]) -> int:
        """Publish packs of (place, device, records) in order and wait until the broker has acknowledged all.

        Raises
        ------
        TimeoutError
            When the broker does not take them; the caller sends them again after a restart.
        """
        sent = [
            self._ready(place).publish(f"{self._root}/{place}/readings/{device}", json.dumps(pack), qos=1)
            for place, device, pack in packs
        ]
        for one in sent:
            one.wait_for_publish(SENT_WITHIN_S)
            if not one.is_published():
                raise TimeoutError(f"the broker did not take a pack within {SENT_WITHIN_S:.0f} s")
        return len(sent)

    def _ready(self, place: str) -> mqtt.Client:
        """Return a place's client once it is connected: the broker may not know its new user yet."""
        client, end = self._clients[place], time.monotonic() + SENT_WITHIN_S
        while not client.is_connected():
            if time.monotonic() > end:
                raise TimeoutError(f"the broker did not let {place} in within {SENT_WITHIN_S:.0f} s")
            time.sleep(0.1)
        return client

    def close(self) -> None:
        """Disconnect from the broker."""
        for client in self._clients.values():
            client.disconnect()
            client.loop_stop()
