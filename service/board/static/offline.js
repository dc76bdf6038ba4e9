// What is entered goes through a store on this phone, with a key and its own time, so that no dead link loses it and no
// second try records it twice. It goes out in its order; what the service refuses stays here with the reason.
"use strict";

const ENTRIES = { database: "heelmark", name: "entries" };

function opened({ database, name }) {
  return new Promise((resolve, reject) => {
    const asked = indexedDB.open(database, 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore(name, { keyPath: "order", autoIncrement: true });
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
}

async function within(mode, act, store = ENTRIES) {
  const db = await opened(store);
  try {
    return await new Promise((resolve, reject) => {
      const transaction = db.transaction(store.name, mode, { durability: "strict" });
      const asked = act(transaction.objectStore(store.name));
      transaction.oncomplete = () => resolve(asked.result);
      transaction.onabort = transaction.onerror = () => reject(transaction.error);
    });
  } finally { db.close(); }
}

const entries = () => within("readonly", (store) => store.getAll());
const put = (entry) => within("readwrite", (store) => store.put(entry));
const drop = (order) => within("readwrite", (store) => store.delete(order));

// Three ends of a try: taken or refused (an answer came), or nothing is known and it waits.
async function tried(entry, token) {
  const body = new FormData();
  for (const [name, value] of Object.entries(entry.fields)) body.append(name, value);
  body.set("csrf", token);
  const answer = await fetch("/entries", { method: "POST", body, credentials: "same-origin", signal: AbortSignal.timeout(15_000) });
  if (answer.ok) return { taken: true };
  if (answer.status === 409) return { reasons: (await answer.json()).reasons };
  throw new Error(String(answer.status));
}

async function sendAll() {
  const waiting = (await entries()).filter((entry) => !entry.reasons);
  if (!waiting.length) return;
  const answer = await fetch("/entries/token", { credentials: "same-origin", signal: AbortSignal.timeout(8000) });
  if (!answer.ok || answer.redirected) throw new Error("sign in");
  const { csrf, person } = await answer.json();
  for (const entry of waiting) {
    // What one person entered is never recorded as somebody else's.
    if (entry.person !== person) continue;
    const end = await tried(entry, csrf);
    if (end.taken) await drop(entry.order);
    else await put({ ...entry, reasons: end.reasons });
  }
}

// One page at a time sends, also of several that are open.
const send = () => navigator.locks.request("entries", sendAll).then(() => true, () => false).finally(shown);

const clock = (text) => new Date(text).toLocaleString(LOCALE, { month: "short", day: "numeric", hour: "2-digit", minute: "2-digit" });

async function shown() {
  const strip = document.getElementById("entries-state");
  if (!strip) return;
  const all = await entries(), refused = all.filter((entry) => entry.reasons).length, waiting = all.length - refused;
  const said = [];
  if (!navigator.onLine || unreachable) said.push(say("No coverage. This page is as of {time}. Go on.", { time: clock(document.body.dataset.asOf) }));
  if (waiting) said.push(say(waiting === 1 ? "1 entry waits on this phone." : "{count} entries wait on this phone.", { count: waiting }));
  if (refused) said.push(say(refused === 1 ? "1 entry was not taken: see why." : "{count} entries were not taken: see why.", { count: refused }));
  strip.textContent = said.join(" ");
  strip.hidden = !said.length;
  const list = document.getElementById("entries");
  if (list) list.replaceChildren(...all.map(row));
}

function row(entry) {
  const item = document.createElement("li"), text = document.createElement("p");
  text.textContent = `${say("{title}, entered {time}.", { title: entry.title, time: clock(entry.fields.at) })} ` +
    (entry.reasons ? say("Not taken: {reasons}", { reasons: entry.reasons.join(" ") }) : say("Waits for coverage."));
  item.append(text);
  if (entry.reasons) {
    const again = document.createElement("a"), done = document.createElement("button");
    again.className = "button";
    again.href = entry.page;
    again.textContent = say("Enter it again");
    done.className = "quiet";
    done.textContent = say("Remove from this list");
    done.addEventListener("click", () => drop(entry.order).then(shown));
    item.append(again, done);
  }
  return item;
}

// The entry stays on this phone until the page that answers it is here: it names the entry.
async function asked(form, entry) {
  const token = await fetch("/entries/token", { credentials: "same-origin", signal: AbortSignal.timeout(8000) })
    .then((answer) => answer.json()).catch(() => null);
  if (!token) return false;
  form.elements.csrf.value = token.csrf;
  const named = document.createElement("input");
  Object.assign(named, { type: "hidden", name: "entry", value: entry.order });
  form.append(named);
  form.submit();
  return true;
}

async function dropAnswered() {
  const page = document.querySelector("[data-answered]");
  if (page) await drop(Number(page.dataset.answered));
}

function enter() {
  for (const form of document.querySelectorAll("form[data-entered]")) {
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const fields = Object.fromEntries([...new FormData(form)].filter(([name]) => name !== "csrf"));
      const { entered, serial, units } = form.dataset;
      const own = { entered, serial, units, key: crypto.randomUUID(), at: new Date().toISOString() };
      const entry = { title: say("{what} of {serial}", { what: form.dataset.title, serial }), page: location.pathname, person: Number(document.body.dataset.person), fields: { ...fields, ...own } };
      form.querySelector("button").disabled = true;
      entry.order = await put(entry);
      if (await send()) {
        const left = (await entries()).find((one) => one.order === entry.order);
        if (!left) { location.assign(form.dataset.then); return; }
        // The service says why, beside the field, and asks where figures are doubtful; nothing was recorded.
        if (left.reasons && await asked(form, entry)) return;
      }
      location.assign("/entries");
    });
  }
}

// The cylinders of this page, with what is entered at them, so that they are there when the coverage is gone.
async function fetchAhead() {
  const cards = [...document.querySelectorAll("[data-card] h3 a")].map((link) => link.getAttribute("href"));
  const wanted = ["/entries", ...cards.flatMap((path) => [path, `${path}/weight`, `${path}/reading`])];
  for (const path of wanted) {
    if (!await caches.match(path, { cacheName: "pages" })) await fetch(path).catch(() => {});
  }
}

async function forget() {
  await caches.delete("pages");
}

let unreachable = false;
async function begin() {
  if (!("serviceWorker" in navigator) || !window.isSecureContext) return;
  const { person } = document.body.dataset;
  if (!person) { if (navigator.onLine && document.getElementById("f-password")) await forget(); return; }
  await navigator.serviceWorker.register("/sw.js");
  await dropAnswered();
  enter();
  fetch("/entries/token", { credentials: "same-origin" }).then(() => {}, () => { unreachable = true; }).then(shown);
  addEventListener("online", () => { unreachable = false; send(); });
  addEventListener("offline", shown);
  await send();
  setInterval(send, 20_000);
  await navigator.serviceWorker.ready;
  if (!unreachable) fetchAhead();
}
begin();
