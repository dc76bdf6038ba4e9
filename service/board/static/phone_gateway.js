// Sensors with the Bluetooth Environmental Sensing Service are read by this phone. Each five seconds of readings become one
// SenML pack, which is kept on the phone until the service has it; the oldest go first, and too many drop the oldest.
const SERVICE = "environmental_sensing"; // 0x181A
const KEPT = { database: "heelmark-readings", name: "packs" };
const MOST_KEPT = 4000, PACK_MS = 5000, EVERY_MS = 1000, SILENT_MS = 5000, LONGEST_WAIT_MS = 30_000;
const UNKNOWN = -0x8000; // a temperature that the sensor does not know
const KINDS = {
  pressure: { uuid: 0x2a6d, unit: "Pa", bytes: 4, read: (bytes) => bytes.getUint32(0, true) / 10 },
  temperature: { uuid: 0x2a6e, unit: "Cel", bytes: 2, read: (bytes) => bytes.getInt16(0, true) / 100 },
};
const SHOWN = {
  "inch-pound": { pressure: (pa) => [pa / 6894.757, "psi"], temperature: (celsius) => [celsius * 1.8 + 32, "°F"] },
  si: { pressure: (pa) => [pa / 1000, "kPa"], temperature: (celsius) => [celsius, "°C"] },
};

const part = (id) => document.getElementById(id);
const pause = (ms) => new Promise((resolve) => setTimeout(resolve, ms));
const stamped = (id) => part(id).content.firstElementChild.cloneNode(true);
const recall = (key, otherwise) => localStorage.getItem(`gateway ${key}`) ?? otherwise;
const remember = (key, value) => localStorage.setItem(`gateway ${key}`, value);

let readings = [];
let dropped = 0;

function taken(sensor, channel, bytes) {
  const kind = KINDS[channel.kind], now = performance.now();
  if (bytes.byteLength < kind.bytes || now - channel.heard < 0.9 * EVERY_MS) return;
  channel.heard = now;
  const value = kind.read(bytes);
  if (channel.kind === "temperature" && value * 100 === UNKNOWN) return;
  const [shown, unit] = SHOWN[part("gateway").dataset.units][channel.kind](value);
  const digits = { minimumFractionDigits: 1, maximumFractionDigits: 1 };
  channel.row.querySelector(".value").textContent = `${shown.toLocaleString(LOCALE, digits)} ${unit}`;
  const meaning = channel.row.querySelector("select").value;
  if (!meaning || !isNamed(sensor)) return;
  readings.push({ n: `${nameOf(sensor).value}${channel.suffix}:${meaning}`, u: kind.unit, v: value, t: Date.now() / 1000 });
}

const nameOf = (sensor) => sensor.row.querySelector(".name");

// Two sensors of one name would be taken for one instrument.
function isNamed(sensor) {
  const name = nameOf(sensor), others = [...sensors.values()].filter((one) => one !== sensor).map((one) => nameOf(one).value);
  const good = name.validity.valid && !others.includes(name.value);
  sensor.row.querySelector(".unnamed").hidden = good;
  return good;
}

// What was chosen for a sensor is remembered on this phone, under the name that the browser alone knows it by.
function remembered(field, key) {
  const own = field.value;
  field.value = recall(key, own);
  if (!field.value) field.value = own; // a place that is gone
  field.addEventListener("change", () => remember(key, field.value));
}

function channelOf(sensor, kind, number) {
  const known = sensor.channels.find((one) => one.kind === kind && one.number === number);
  if (known) return known;
  const channel = { kind, number, heard: -Infinity, row: stamped(`channel-${kind}`), suffix: number ? `_${number + 1}` : "" };
  channel.onvalue = (event) => taken(sensor, channel, event.target.value);
  remembered(channel.row.querySelector("select"), `${sensor.device.id} ${kind} ${number}`);
  sensor.row.querySelector("ul").append(channel.row);
  sensor.channels.push(channel);
  return channel;
}

async function connected(sensor) {
  const server = await sensor.device.gatt.connect(), service = await server.getPrimaryService(SERVICE);
  for (const [kind, { uuid }] of Object.entries(KINDS)) {
    const found = await service.getCharacteristics(uuid).catch((fault) => {
      if (fault.name === "NotFoundError") return [];
      throw fault;
    });
    for (const [number, characteristic] of found.entries()) {
      const channel = channelOf(sensor, kind, number), { notify, indicate } = characteristic.properties;
      channel.characteristic = characteristic;
      characteristic.addEventListener("characteristicvaluechanged", channel.onvalue);
      channel.notifies = (notify || indicate) && await characteristic.startNotifications().then(() => true, () => false);
    }
  }
}

// Some sensors notify of changes alone: one that has been silent for five seconds is asked. A value that is read comes as an
// event, as a notification does.
async function listened(sensor) {
  while (sensor.device.gatt.connected) {
    for (const { characteristic, notifies, heard } of sensor.channels) {
      const due = performance.now() - heard >= (notifies ? SILENT_MS : 0);
      if (due && characteristic.properties.read) await characteristic.readValue();
    }
    await pause(EVERY_MS);
  }
}

function state(sensor, now) {
  for (const node of sensor.row.querySelectorAll("[data-state]")) node.hidden = node.dataset.state !== now;
}

async function follow(sensor) {
  for (let wait = EVERY_MS; sensor.wanted; wait = Math.min(2 * wait, LONGEST_WAIT_MS)) {
    try {
      await connected(sensor);
      state(sensor, sensor.channels.length ? "connected" : "nothing");
      wait = EVERY_MS;
      await listened(sensor);
    } catch { /* whatever it was that failed, the link is made anew */ }
    sensor.device.gatt.disconnect();
    state(sensor, "lost");
    if (sensor.wanted) await pause(wait);
  }
}

function proposedName(device) {
  const plain = (text) => text.replace(/[^A-Za-z0-9]+/g, "-").replace(/^-+|-+$/g, "");
  return `${plain(device.name ?? "") || "sensor"}-${plain(device.id).slice(0, 4)}`;
}

const sensors = new Map();

function begun(device) {
  if (sensors.has(device.id)) return;
  const sensor = { device, channels: [], row: stamped("sensor"), wanted: true }, name = nameOf(sensor);
  sensors.set(device.id, sensor);
  sensor.row.querySelector("h3").textContent = device.name ?? "";
  name.value = proposedName(device);
  remembered(name, `${device.id} name`);
  sensor.row.querySelector("button").addEventListener("click", () => {
    sensor.wanted = false;
    sensors.delete(device.id);
    device.gatt.disconnect();
    sensor.row.remove();
  });
  part("sensors").append(sensor.row);
  follow(sensor);
}

async function choose() {
  try {
    begun(await navigator.bluetooth.requestDevice({ filters: [{ services: [SERVICE] }] }));
  } catch (fault) {
    // Whoever chooses nothing is told nothing; Bluetooth that is off ends in the same fault.
    part("needs-bluetooth").hidden = fault.name === "NotFoundError" && await navigator.bluetooth.getAvailability();
  }
  awake();
}

// A phone that sleeps reads nothing.
function awake() {
  if (sensors.size && !document.hidden) navigator.wakeLock?.request("screen").catch(() => {});
}

const kept = (most) => within("readonly", (store) => store.getAll(null, most), KEPT);
const count = () => within("readonly", (store) => store.count(), KEPT);
const forget = (order) => within("readwrite", (store) => store.delete(order), KEPT);

async function pack() {
  if (!readings.length) return;
  const made = { person: Number(document.body.dataset.person), place: part("f-place").value, pack: JSON.stringify(readings) };
  readings = [];
  await within("readwrite", (store) => store.put(made), KEPT);
  if (await count() <= MOST_KEPT) return;
  await forget((await kept(1))[0].order);
  dropped += 1;
}

async function sent({ place, pack }, token) {
  const body = new FormData();
  for (const [name, value] of Object.entries({ csrf: token, place, pack })) body.append(name, value);
  const answer = await fetch("/phone-gateway/readings", { method: "POST", body, credentials: "same-origin", signal: AbortSignal.timeout(15_000) });
  if (answer.status === 409) return (await answer.json()).reasons;
  if (!answer.ok || answer.redirected) throw new Error(String(answer.status));
  return [];
}

async function sendPacks() {
  if (!await count()) return [];
  const answer = await fetch("/entries/token", { credentials: "same-origin", signal: AbortSignal.timeout(8000) });
  if (!answer.ok || answer.redirected) throw new Error("sign in");
  const { csrf, person } = await answer.json();
  for (const one of await kept()) {
    // What was read while one person was signed in is not sent as another's, who may be of another organisation.
    if (one.person !== person) continue;
    const reasons = await sent(one, csrf);
    if (reasons.length) return reasons;
    await forget(one.order);
  }
  return [];
}

async function round() {
  await pack();
  const refused = await navigator.locks.request("readings", sendPacks).catch(() => []);
  const left = await count();
  part("unsent").textContent = left;
  part("trouble").hidden = !refused.length;
  part("trouble").querySelector("p").textContent = refused.join(" ");
  part("discard").hidden = !refused.length;
  part("dropped").hidden = !dropped;
  part("dropped").querySelector("output").textContent = dropped;
}

async function begin() {
  if (!window.isSecureContext) { part("needs-https").hidden = false; return; }
  if (!navigator.bluetooth) { part("needs-bluetooth").hidden = false; return; }
  part("gateway").hidden = false;
  remembered(part("f-place"), "place");
  part("connect").addEventListener("click", choose);
  part("discard").addEventListener("click", () => within("readwrite", (store) => store.clear(), KEPT).then(round));
  document.addEventListener("visibilitychange", () => { if (document.hidden) pack(); else awake(); });
  for (;;) { await round().catch(() => {}); await pause(PACK_MS); }
}
begin();
