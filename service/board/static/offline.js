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
  if (answer.status === 409) return await answer.json();
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
    else await put({ ...entry, reasons: end.reasons, set_aside: end.set_aside });
  }
}

// Nobody answered: from now on what is refused may have been done already.
async function waits(order) {
  const entry = (await entries()).find((one) => one.order === order);
  if (entry && !entry.reasons) await put({ ...entry, fields: { ...entry.fields, waited: "yes" } });
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

function button(text, act, className = "quiet") {
  const made = Object.assign(document.createElement("button"), { className, textContent: text });
  made.addEventListener("click", () => act().then(shown));
  return made;
}

// What was done is done: it is recorded as it is, and what it breaks is kept with it.
async function recordAsDone(entry) {
  const { reasons, set_aside, ...rest } = entry;
  await put({ ...rest, fields: { ...entry.fields, has_happened: "yes", key: crypto.randomUUID() } });
  await send();
}

function row(entry) {
  const item = document.createElement("li"), text = document.createElement("p"), { fields } = entry;
  const said = [say("{title}, entered {time}.", { title: entry.title, time: clock(fields.at) })];
  if (fields.known_at) said.push(say("Judged by what this phone knew {time}.", { time: clock(fields.known_at) }));
  said.push(entry.reasons ? say("Not taken: {reasons}", { reasons: entry.reasons.join(" ") }) : say("Waits for coverage."));
  if (entry.set_aside) said.push(say("The cylinder is on hold until this is cleared up."));
  text.textContent = said.join(" ");
  item.append(text);
  if (entry.reasons) {
    const again = Object.assign(document.createElement("a"), { className: "button", href: entry.page, textContent: say("Enter it again") });
    item.append(again);
    if (fields.entered === "transfer" && fields.waited) item.append(button(say("It was done: record it as it is"), () => recordAsDone(entry), ""));
    item.append(button(say("Remove from this list"), () => drop(entry.order)));
  }
  return item;
}

// The entry stays on this phone until the page that answers it is here: it names the entry.
async function asked(form, entry) {
  const token = await fetch("/entries/token", { credentials: "same-origin", signal: AbortSignal.timeout(8000) })
    .then((answer) => answer.json()).catch(() => null);
  if (!token) return false;
  form.elements.csrf.value = token.csrf;
  for (const [name, value] of [["entry", entry.order], ["step", entry.fields.step]]) {
    if (value) form.append(Object.assign(document.createElement("input"), { type: "hidden", name, value }));
  }
  form.submit();
  return true;
}

async function dropAnswered() {
  const page = document.querySelector("[data-answered]");
  if (page) await drop(Number(page.dataset.answered));
}

function enter() {
  for (const form of document.querySelectorAll("form[data-entered]")) {
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      const fields = Object.fromEntries([...new FormData(form, event.submitter)].filter(([name]) => name !== "csrf"));
      const act = form.dataset.known && fields.step !== "record" ? checked : taken;
      for (const one of form.querySelectorAll("button")) one.disabled = true;
      act(form, fields).finally(() => { for (const one of form.querySelectorAll("button")) one.disabled = false; });
    });
  }
}

function entryOf(form, fields) {
  const { entered, units } = form.dataset, serial = form.dataset.serial || fields.serial.trim();
  const own = { entered, serial, units, key: crypto.randomUUID(), at: new Date().toISOString() };
  if (form.dataset.judged) own.known_at = form.dataset.knownAt;
  const person = Number(document.body.dataset.person), title = say("{what} of {serial}", { what: form.dataset.title, serial });
  return { title, page: location.pathname, person, fields: { ...fields, ...own } };
}

async function taken(form, fields) {
  const entry = entryOf(form, fields);
  entry.order = await put(entry);
  if (await send()) {
    const left = (await entries()).find((one) => one.order === entry.order);
    if (!left) { location.assign(next(form, entry.fields)); return; }
    // The service says why, beside the field, and asks where figures are doubtful; nothing was recorded.
    if (left.reasons && await asked(form, entry)) return;
  }
  await waits(entry.order);
  location.assign(fields.then === "next" ? next(form, entry.fields) : "/entries");
}

// The next cylinder of a van begins with what the last one had; else the page of the cylinder.
function next(form, fields) {
  if (fields.then !== "next") return form.dataset.then || `/cylinders/${encodeURIComponent(fields.serial)}`;
  const alike = form.dataset.alike.split(" ").filter((name) => fields[name]);
  return `${location.pathname}?${new URLSearchParams(alike.map((name) => [name, fields[name]]))}`;
}

// A kept page does not know the address that it was asked for.
function typedBefore() {
  const form = document.querySelector("form[data-alike], form[data-known]");
  if (!form || !unreachable) return;
  for (const [name, value] of new URLSearchParams(location.search)) {
    const named = form.elements[name];
    if (named && name !== "step" && name !== "csrf") named.value = value;
  }
}

// What needs the service is reached by another way while nobody answers: by what this phone knows.
function awayFromTheService() {
  for (const link of document.querySelectorAll("[data-away]")) link.href = unreachable ? link.dataset.away : link.dataset.there;
}

// The cylinders of this page, with what is entered at them, so that they are there when the coverage is gone. What
// judges a cylinder is fetched again while there is coverage; the other pages hardly change.
const JUDGED = ["", "/transfer"], FORMS = ["/weight", "/reading", "/care", "/hold"], HELP = (document.body.dataset.help || "").split(" ");
const FRESH_MS = 15 * 60_000, DAY_OLD_MS = 24 * 3600_000;

async function fetchAhead() {
  const here = (document.querySelector("[data-ahead]")?.dataset.ahead || "").split(" ").filter(Boolean);
  const cards = [...here, ...[...document.querySelectorAll("[data-card] h3 a")].map((link) => link.getAttribute("href"))];
  const judged = cards.flatMap((path) => JUDGED.map((end) => path + end));
  const others = ["/entries", "/register", ...HELP, ...cards.flatMap((path) => FORMS.map((end) => path + end))];
  const first = document.querySelector(".wordmark").getAttribute("href");
  for (const path of new Set(["/rack", first, ...judged])) await refetched(path, FRESH_MS);
  for (const path of others) await refetched(path, DAY_OLD_MS);
}

async function refetched(path, oldest) {
  const kept = await caches.match(path, { cacheName: "pages" });
  const age = kept ? Date.now() - new Date(kept.headers.get("Date")) : Infinity;
  if (!(age < oldest)) await fetch(path).catch(() => {});
}

// Language, units and theme are drawn into a page: after a change every kept page is fetched again.
async function fetchAlike() {
  const wears = `${LANGUAGE} ${document.body.dataset.wears}`;
  if (localStorage.getItem("wears") === wears) return;
  const cache = await caches.open("pages");
  for (const { url } of await cache.keys()) {
    const answer = await fetch(url).catch(() => null);
    if (!answer) return;
    if (!answer.ok || answer.redirected) await cache.delete(url);
  }
  localStorage.setItem("wears", wears);
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
  for (const link of document.querySelectorAll("[data-away]")) link.dataset.there = link.href;
  addEventListener("offline", () => { unreachable = true; awayFromTheService(); });
  enter();
  fetch("/entries/token", { credentials: "same-origin" }).then(() => {}, () => { unreachable = true; typedBefore(); awayFromTheService(); }).then(shown);
  addEventListener("online", () => { unreachable = false; awayFromTheService(); send(); });
  addEventListener("offline", shown);
  await send();
  setInterval(send, 20_000);
  await navigator.serviceWorker.ready;
  if (!unreachable) { await fetchAlike(); fetchAhead(); }
}
begin();
