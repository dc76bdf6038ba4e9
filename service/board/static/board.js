// Everything works without this file; it makes the page live, its times local and its labels scannable.
"use strict";

const STYLES = {
  short: { hour: "2-digit", minute: "2-digit" },
  clock: { hour: "2-digit", minute: "2-digit" },
  full: { year: "numeric", month: "short", day: "numeric", hour: "2-digit", minute: "2-digit" },
};
const DAY_MS = 86_400_000;
const LANGUAGE = document.documentElement.lang;
const LOCALE = LANGUAGE === "en" ? [] : LANGUAGE; // English: as the device writes its times
const WORDS = JSON.parse(document.body.dataset.words);

// Say a phrase in the person's language; every one of them stands in SCRIPTED (service/board/phrases.py).
const say = (phrase, values = {}) => WORDS[phrase].replace(/\{(\w+)\}/g, (_, name) => values[name]);

function localTimes(root) {
  for (const node of root.querySelectorAll("time[datetime], [data-time]")) {
    const at = new Date(node.getAttribute("datetime") || node.dataset.time);
    let style = node.dataset.style || "clock";
    if (style === "short" && Math.abs(Date.now() - at) > DAY_MS) style = "full";
    const text = at.toLocaleString(LOCALE, STYLES[style]);
    if (node.textContent !== text) node.textContent = text;
  }
}

// Make `now` like `next`, touching only what differs: nothing flickers, focus and typing stay.
function morph(now, next) {
  for (const { name } of [...now.attributes]) if (!next.hasAttribute(name) && !(name === "open")) now.removeAttribute(name);
  for (const { name, value } of next.attributes) if (now.getAttribute(name) !== value) now.setAttribute(name, value);
  const old = [...now.childNodes], fresh = [...next.childNodes];
  fresh.forEach((node, k) => {
    const at = old[k];
    if (!at) now.append(node);
    else if (at.nodeType !== node.nodeType || at.nodeName !== node.nodeName) at.replaceWith(node);
    else if (at.nodeType === Node.ELEMENT_NODE) { if (!at.isEqualNode(node)) morph(at, node); }
    else if (at.data !== node.data) at.data = node.data;
  });
  old.slice(fresh.length).forEach((node) => node.remove());
}

async function fetched(url) {
  const answer = await fetch(url, { headers: { Accept: "text/html" }, credentials: "same-origin" });
  if (answer.redirected || !answer.ok) throw new Error(String(answer.status));
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  localTimes(page);
  return page;
}

async function refreshRegion(region, url) {
  const page = await fetched(url);
  const next = page.getElementById(region.id);
  if (next) morph(region, next);
  return page;
}

// A card that begins to need a person moves to the first bay; every other card stays where the eye left it.
// Of several pages only this one is asked for again, unless a card that is elsewhere begins to need a person.
async function refreshCards(rack, serials) {
  if (serials.length > 80) return refreshRegion(rack, rack.dataset.cards);
  const url = new URL(rack.dataset.cards, location.href);
  serials.forEach((serial) => url.searchParams.append("only", serial));
  const page = await fetched(url);
  for (const next of page.querySelectorAll("[data-card]")) {
    const now = document.getElementById(next.id);
    const bay = document.querySelector(`[data-cards-of="${CSS.escape(next.dataset.bay)}"]`);
    if (!now && "paged" in rack.dataset && next.dataset.bay !== "needs") continue;
    if (!now || !bay) return refreshRegion(rack, rack.dataset.cards);
    morph(now, next);
    if (now.parentElement !== bay) bay.append(now);
  }
  return page;
}

function carryOver(page) {
  for (const id of ["alarm-count", "rack-summary"]) {
    const now = document.getElementById(id), next = page.getElementById(id);
    if (now && next) morph(now, next);
  }
}

const CYLINDER = "cylinders/";
const wanted = new Set();
let everything = false, busy = false, timer = 0;

async function refreshChanged(subjects) {
  const rack = document.getElementById("rack");
  const serials = [...subjects].filter((s) => s.startsWith(CYLINDER)).map((s) => s.slice(CYLINDER.length));
  let page = null;
  if (rack && serials.length) page = await refreshCards(rack, serials);
  for (const region of document.querySelectorAll("[data-refresh]")) {
    const concerns = region.dataset.on.split(" ").some((s) => subjects.has(s));
    if (concerns) page = await refreshRegion(region, region.dataset.refresh);
  }
  const alarms = document.getElementById("alarm-count");
  if (!page && alarms && subjects.has("alarms")) page = await fetched(alarms.parentElement.href);
  if (page) carryOver(page);
}

async function refreshEverything() {
  for (const region of document.querySelectorAll("#rack, [data-refresh]")) {
    carryOver(await refreshRegion(region, region.dataset.refresh ?? region.dataset.cards));
  }
}

async function refresh() {
  timer = 0;
  if (document.hidden) return; // caught up when the page is looked at again
  if (busy) { plan(300); return; }
  busy = true;
  const subjects = new Set(wanted), all = everything;
  wanted.clear();
  everything = false;
  try {
    await (all ? refreshEverything() : refreshChanged(subjects));
    linkState(true);
  } catch {
    subjects.forEach((s) => wanted.add(s));
    everything = all;
    linkState(false);
    plan(5000);
  } finally { busy = false; }
}

function plan(ms) { if (!timer) timer = setTimeout(refresh, ms); }

let goodAt = new Date();
function linkState(good) {
  const line = document.getElementById("link-state");
  if (good) { goodAt = new Date(); line.hidden = true; return; }
  line.textContent = say("Connection lost. What you see is as of {time}; trying again.", { time: goodAt.toLocaleTimeString(LOCALE) });
  line.hidden = false;
}

// Our own reconnecting waits with jitter, so that a restarted service is not stampeded. While there is no stream, as
// when all are taken, the page is fetched every few seconds instead; and once more when the stream is back, because
// live values are not replayed.
function follow() {
  const { stream, since, drawn } = document.body.dataset;
  if (!stream || !window.EventSource) return;
  let last = since, wait = 500, polling = 0;
  const catchUp = () => { everything = true; plan(0); };
  const open = () => {
    const source = new EventSource(`${stream}?since=${last}&drawn=${encodeURIComponent(drawn)}`);
    source.onopen = () => {
      wait = 500;
      if (polling) { clearInterval(polling); polling = 0; catchUp(); }
    };
    source.addEventListener("changed", (event) => {
      if (event.lastEventId) last = event.lastEventId;
      JSON.parse(event.data).subjects.forEach((s) => wanted.add(s));
      plan(400);
    });
    source.onerror = () => {
      source.close();
      if (!polling) { catchUp(); polling = setInterval(catchUp, 5000); }
      setTimeout(open, wait * (0.5 + Math.random()));
      wait = Math.min(wait * 2, 30_000);
    };
  };
  open();
  document.addEventListener("visibilitychange", () => { if (!document.hidden) catchUp(); });
}

// The camera reads the label's QR code where the browser can; typing the serial always works.
async function scanner() {
  const button = document.getElementById("scan");
  if (!button || !("BarcodeDetector" in window) || !navigator.mediaDevices) return;
  button.hidden = false;
  button.addEventListener("click", async () => {
    const video = document.getElementById("scan-view");
    const stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    const detector = new BarcodeDetector({ formats: ["qr_code"] });
    video.hidden = false;
    video.srcObject = stream;
    video.play().catch(() => {});
    const look = async () => {
      const [code] = await detector.detect(video).catch(() => []); // not ready in the first moments
      if (!code) { requestAnimationFrame(look); return; }
      stream.getTracks().forEach((track) => track.stop());
      video.hidden = true;
      const serial = decodeURIComponent(code.rawValue.split("/").pop());
      document.getElementById(button.dataset.target).value = serial;
    };
    look();
  });
}

// What is typed is kept by the service while it is typed: a dead phone loses nothing, another phone goes on with it.
function drafts() {
  let waiting = null;
  const save = (form, beacon) => {
    waiting = null;
    const body = new FormData(form);
    if (beacon) navigator.sendBeacon(form.dataset.draft, body);
    else fetch(form.dataset.draft, { method: "POST", body, credentials: "same-origin" }).catch(() => {});
  };
  let timer = 0;
  document.addEventListener("input", (event) => {
    const form = event.target.closest?.("form[data-draft]");
    if (!form) return;
    waiting = form;
    clearTimeout(timer);
    timer = setTimeout(() => save(form, false), 600);
  });
  document.addEventListener("submit", () => { clearTimeout(timer); waiting = null; });
  addEventListener("pagehide", () => { if (waiting) { clearTimeout(timer); save(waiting, true); } });
}

// Devices that nobody has hooked up yet are heard without any event.
function beat() {
  if (!document.querySelector("[data-on~='beat']")) return;
  setInterval(() => { wanted.add("beat"); plan(0); }, 5000);
}

localTimes(document);
document.getElementById("complaints")?.focus();
follow();
beat();
drafts();
scanner();
