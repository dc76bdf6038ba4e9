"""A phone as gateway: from a Bluetooth sensor to what the service keeps for the worker, across lost links."""

import base64
import json
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from ingest.wire.reading import Reading
from ingest.wire.senml import read
from tests.browser.bluetooth import PRESSURE, TEMPERATURE, Adapter, Sensor, choosing
from tests.browser.conftest import CHROMIUM, FLAGS, sign_in
from tests.browser.server import Server, free_port

CLAMP, GAUGE = "09:09:09:09:09:01", "09:09:09:09:09:02"


@pytest.fixture(scope="module")
def alone(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A service of these tests' own: they stop it and start it again."""
    made = Server(tmp_path_factory.mktemp("gateway"), free_port())
    made.set_up()
    made.start()
    yield made
    made.stop()


@pytest.fixture
def own(browser: Browser) -> Iterator[Browser]:
    """A browser of the test's own: the adapter is the browser's."""
    made = browser.browser_type.launch(executable_path=str(CHROMIUM), args=FLAGS)
    yield made
    made.close()


@pytest.fixture
def adapter(own: Browser) -> Adapter:
    return Adapter(own)


@pytest.fixture
def phone(own: Browser, alone: Server) -> Iterator[Page]:
    """A phone at the gateway's page; what its script complains about fails the test."""
    if alone.process is None:
        alone.start()
    context = own.new_context(viewport={"width": 390, "height": 844}, locale="en-US")
    page = context.new_page()
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    sign_in(page, alone, "tess")
    page.evaluate("navigator.serviceWorker.ready")
    page.goto(f"{alone.url}/phone-gateway")
    yield page
    context.close()
    assert complaints == []


def connect(page: Page, sensor: Sensor, named: str) -> Any:
    """Choose a sensor, give it a name; answers its row."""
    choosing(page, sensor.address)
    row = page.locator("#sensors > li").nth(page.locator("#sensors > li").count())
    page.get_by_role("button", name="Connect a sensor").click()
    expect(row.get_by_text("Connected.")).to_be_visible(timeout=15_000)
    row.get_by_label("Its name on the board").fill(named)
    return row


def kept(alone: Server) -> list[Reading]:
    """Everything that waits for the worker, as the worker reads it."""
    waiting = alone.call("worker", "GET", "/messages?limit=200")["items"]
    packs = [(base64.b64decode(one["payload_base64"]), one) for one in waiting]
    assert all(one["place"] == "shop" for _, one in packs)
    return [
        reading for pack, one in packs for reading in read(pack, one["device"], last_stamp(pack)).readings
    ]


def last_stamp(pack: bytes) -> float:
    return max(float(record["t"]) for record in json.loads(pack))


def let_go(alone: Server) -> None:
    numbers = [one["id"] for one in alone.call("worker", "GET", "/messages?limit=200")["items"]]
    alone.call("worker", "POST", "/message-acknowledgements", {"messages": numbers})


def until_kept(page: Page, alone: Server, quantity: str, at_least: int) -> list[Reading]:
    """Wait for so many readings of a quantity."""
    for _ in range(60):
        found = [one for one in kept(alone) if one.quantity == quantity]
        if len(found) >= at_least:
            return found
        page.wait_for_timeout(500)
    raise AssertionError(f"{len(found)} readings of {quantity}, expected {at_least}")


def test_a_sensor_is_shown_and_its_readings_reach_the_worker(
    phone: Page, alone: Server, adapter: Adapter
) -> None:
    let_go(alone)
    sensor = adapter.sensor(CLAMP, "Clamp 7", notifies=False, offers=(PRESSURE, TEMPERATURE))
    sensor.show(pressure_pa=1_044_325.3, temperature_c=-4.25)
    row = connect(phone, sensor, "clamp-7")
    expect(row.locator("ul")).to_contain_text("151.5 psi")
    expect(row.locator("ul")).to_contain_text("24.4 °F")
    phone.wait_for_timeout(6000)
    assert kept(alone) == []  # nobody has said yet what its numbers are
    row.get_by_label("Pressure").select_option("absolute-pressure")
    row.get_by_label("Temperature").select_option("wall-temperature")
    walls = until_kept(phone, alone, "wall-temperature", 3)
    assert {(one.device, round(one.value, 2)) for one in walls} == {("clamp-7", 268.9)}
    gaps = [later.stamp_s - one.stamp_s for one, later in pairwise(walls)]
    assert all(gap > 0.8 for gap in gaps)
    pressures = until_kept(phone, alone, "absolute-pressure", 3)
    assert {(one.device, one.value) for one in pressures} == {("clamp-7", 1_044_325.3)}


REMEMBER_SUBSCRIBED = """
const begin = BluetoothRemoteGATTCharacteristic.prototype.startNotifications;
BluetoothRemoteGATTCharacteristic.prototype.startNotifications = function () {
  window.subscribed = this;
  return begin.call(this);
};
"""
# The emulated adapter has no notification of its own: it is made as the browser would tell of one.
NOTIFY = """(tenths) => {
  const value = new DataView(new ArrayBuffer(4));
  value.setUint32(0, tenths, true);
  Object.defineProperty(window.subscribed, "value", { value, configurable: true });
  window.subscribed.dispatchEvent(new Event("characteristicvaluechanged"));
}"""


def test_one_that_notifies_is_subscribed_to_and_asked_only_when_it_is_silent(
    phone: Page, alone: Server, adapter: Adapter
) -> None:
    let_go(alone)
    phone.add_init_script(REMEMBER_SUBSCRIBED)
    phone.reload()
    sensor = adapter.sensor(GAUGE, "Gauge", notifies=True, offers=(PRESSURE,))
    sensor.show(pressure_pa=943_000.0)
    row = connect(phone, sensor, "gauge-7")
    row.get_by_label("Pressure").select_option("gauge-pressure")
    phone.wait_for_timeout(12_500)
    kinds = [kind for _, kind in sensor.asked]
    assert kinds.count("subscribe-to-notifications") == 1
    assert 2 <= kinds.count("read") <= 4  # at once, then after five silent seconds each
    assert until_kept(phone, alone, "gauge-pressure", 1)[0].value == 943_000.0
    asked = len(sensor.asked)
    for tenths in range(9_440_000, 9_440_006):
        phone.evaluate(NOTIFY, tenths)
        phone.wait_for_timeout(1500)
    assert len(sensor.asked) == asked
    expect(row.locator(".value")).to_have_text("136.9 psi")
    assert 944_000.5 in [one.value for one in until_kept(phone, alone, "gauge-pressure", 9)]


def test_a_lost_link_is_made_again(phone: Page, alone: Server, adapter: Adapter) -> None:
    sensor = adapter.sensor(CLAMP, "Clamp 7", notifies=False, offers=(TEMPERATURE,))
    sensor.show(temperature_c=21.5)
    row = connect(phone, sensor, "clamp-8")
    row.get_by_label("Temperature").select_option("wall-temperature")
    sensor.out_of_reach()
    expect(row.get_by_text("Connection lost; trying again.")).to_be_visible(timeout=15_000)
    let_go(alone)
    sensor.within_reach()
    expect(row.get_by_text("Connected.")).to_be_visible(timeout=30_000)
    until_kept(phone, alone, "wall-temperature", 2)


def test_without_coverage_readings_wait_with_their_times_and_survive_a_reload(
    phone: Page, alone: Server, adapter: Adapter
) -> None:
    sensor = adapter.sensor(CLAMP, "Clamp 7", notifies=False, offers=(TEMPERATURE,))
    sensor.show(temperature_c=21.5)
    row = connect(phone, sensor, "clamp-9")
    let_go(alone)
    alone.stop()
    row.get_by_label("Temperature").select_option("wall-temperature")
    expect(phone.locator("#unsent")).to_have_text("2", timeout=30_000)
    lost_at = phone.evaluate("Date.now() / 1000")
    phone.reload()  # from what the phone has kept of the page
    expect(phone.locator("#unsent")).not_to_have_text("0", timeout=15_000)
    alone.start()
    expect(phone.locator("#unsent")).to_have_text("0", timeout=30_000)
    walls = [one for one in kept(alone) if one.device == "clamp-9"]
    assert len(walls) >= 5
    assert all(one.stamp_s <= lost_at for one in walls)
    assert [one.stamp_s for one in walls] == sorted({one.stamp_s for one in walls})


def test_two_sensors_of_one_name_are_not_mixed(phone: Page, alone: Server, adapter: Adapter) -> None:
    first = adapter.sensor(CLAMP, "Clamp", notifies=False, offers=(TEMPERATURE,))
    second = adapter.sensor(GAUGE, "Clamp", notifies=False, offers=(TEMPERATURE,))
    first.show(temperature_c=21.5)
    second.show(temperature_c=35.0)
    row = connect(phone, first, "clamp")
    row.get_by_label("Temperature").select_option("wall-temperature")
    other = connect(phone, second, "clamp")
    let_go(alone)
    other.get_by_label("Temperature").select_option("wall-temperature")
    expect(other.get_by_text("Not sent: its name")).to_be_visible(timeout=15_000)
    phone.wait_for_timeout(6000)
    assert not [one for one in kept(alone) if round(one.value, 2) == 308.15]


@pytest.mark.parametrize(
    ("missing", "says"),
    [
        ("window, 'isSecureContext', { value: false }", "Bluetooth works over HTTPS alone"),
        ("navigator, 'bluetooth', { value: undefined }", "This browser cannot read Bluetooth sensors"),
    ],
)
def test_where_it_cannot_work_it_says_why(browser: Browser, alone: Server, missing: str, says: str) -> None:
    page = browser.new_context().new_page()
    page.add_init_script(f"Object.defineProperty({missing})")
    sign_in(page, alone, "tess")
    page.goto(f"{alone.url}/phone-gateway")
    expect(page.get_by_text(says)).to_be_visible()
    expect(page.get_by_role("button", name="Connect a sensor")).to_be_hidden()
    page.context.close()
