"""A Bluetooth sensor that is not there: Chromium's emulated adapter, driven over its own protocol."""

import base64
import struct
from dataclasses import dataclass, field
from typing import Any

from playwright.sync_api import Browser, CDPSession, Page

ENVIRONMENTAL_SENSING = "0000181a-0000-1000-8000-00805f9b34fb"
PRESSURE, TEMPERATURE = "00002a6d-0000-1000-8000-00805f9b34fb", "00002a6e-0000-1000-8000-00805f9b34fb"
CONFIGURATION = "00002902-0000-1000-8000-00805f9b34fb"
"""The descriptor by which a client subscribes."""
DONE = 0


@dataclass
class Sensor:
    """One peripheral with the Environmental Sensing Service; it answers what is asked of it with what it shows."""

    browser: CDPSession
    address: str
    offers: tuple[str, ...]
    notifies: bool
    characteristics: dict[str, str] = field(default_factory=dict)
    shown: dict[str, bytes] = field(default_factory=dict)
    asked: list[tuple[str, str]] = field(default_factory=list)
    reachable: bool = True

    def _send(self, command: str, **values: Any) -> Any:
        return self.browser.send(f"BluetoothEmulation.{command}", values)

    def offer(self) -> None:
        """Put its service on the air; the adapter forgets it when the link is lost."""
        made = self._send("addService", address=self.address, serviceUuid=ENVIRONMENTAL_SENSING)
        properties = {"read": True, "notify": self.notifies}
        for uuid in self.offers:
            made_of = {"serviceId": made["serviceId"], "characteristicUuid": uuid, "properties": properties}
            number = self._send("addCharacteristic", **made_of)["characteristicId"]
            self.characteristics[uuid] = number
            if self.notifies:
                self._send("addDescriptor", characteristicId=number, descriptorUuid=CONFIGURATION)

    def show(self, pressure_pa: float | None = None, temperature_c: float | None = None) -> None:
        """Set what it shows."""
        if pressure_pa is not None:
            self.shown[PRESSURE] = struct.pack("<I", round(pressure_pa * 10))
        if temperature_c is not None:
            self.shown[TEMPERATURE] = struct.pack("<h", round(temperature_c * 100))

    def out_of_reach(self) -> None:
        """Lose the link, and answer no attempt to connect."""
        self.reachable = False
        self._send("simulateGATTDisconnection", address=self.address)

    def within_reach(self) -> None:
        """Answer again."""
        self.offer()
        self.reachable = True

    def connect(self, event: dict[str, Any]) -> None:
        """Answer a connection or a discovery."""
        if event["address"] == self.address:
            # 0x3E: connection failed to be established (Core Specification, volume 1, part F, 1.3).
            code = DONE if self.reachable else 0x3E
            answer = {"address": self.address, "type": event["type"], "code": code}
            self._send("simulateGATTOperationResponse", **answer)

    def answer(self, event: dict[str, Any]) -> None:
        """Answer a reading or a subscription."""
        what = {number: uuid for uuid, number in self.characteristics.items()}.get(event["characteristicId"])
        if what is None:
            return
        self.asked.append((what, event["type"]))
        answer = {"characteristicId": event["characteristicId"], "type": event["type"], "code": DONE}
        if event["type"] == "read":
            answer["data"] = base64.b64encode(self.shown[what]).decode()
        self._send("simulateCharacteristicOperationResponse", **answer)


class Adapter:
    """The emulated adapter of a browser."""

    def __init__(self, browser: Browser) -> None:
        self.session = browser.new_browser_cdp_session()
        self.session.send("BluetoothEmulation.enable", {"state": "powered-on", "leSupported": True})

    def sensor(self, address: str, name: str, *, notifies: bool, offers: tuple[str, ...]) -> Sensor:
        """Put a sensor within reach."""
        known = {"address": address, "name": name, "manufacturerData": []}
        known["knownServiceUuids"] = [ENVIRONMENTAL_SENSING]
        self.session.send("BluetoothEmulation.simulatePreconnectedPeripheral", known)
        sensor = Sensor(self.session, address, offers, notifies)
        sensor.offer()
        self.session.on("BluetoothEmulation.gattOperationReceived", sensor.connect)
        self.session.on("BluetoothEmulation.characteristicOperationReceived", sensor.answer)
        return sensor


def choosing(page: Page, address: str) -> None:
    """Have whoever is asked on this page which sensor it is choose this one."""
    session = page.context.new_cdp_session(page)
    session.send("DeviceAccess.enable")
    chosen: set[str] = set()

    def choose(event: dict[str, Any]) -> None:
        # A prompt is told of again with every device that is found; a second choice ends the browser.
        if event["id"] not in chosen and address in [one["id"] for one in event["devices"]]:
            chosen.add(event["id"])
            session.send("DeviceAccess.selectPrompt", {"id": event["id"], "deviceId": address})
            session.detach()

    session.on("DeviceAccess.deviceRequestPrompted", choose)
