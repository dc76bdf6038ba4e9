// Without coverage a transfer is judged by what this phone last knew of the cylinder, and by what waits here for it.
"use strict";

const KG = { "inch-pound": 0.45359237, si: 1 };
const SCALE_KG = 0.05;
const number = (typed) => Number(String(typed).trim().replace(",", "."));

// What waiting entries have put in, less what they have taken out.
function waitingKg(waiting) {
  return waiting.reduce((sum, { fields }) => {
    if (fields.entered !== "transfer") return sum;
    return sum + number(fields.mass) * KG[fields.units] * (fields.direction === "in" ? 1 : -1);
  }, 0);
}

// What is in it besides by entries that wait, so that nothing is poured onto another refrigerant.
function putIn(waiting) {
  return waiting.filter(({ fields }) => fields.entered === "transfer" && fields.direction === "in")
    .map(({ fields }) => fields.designation.trim().toUpperCase());
}

function* against(known, fields, waiting) {
  const per = KG[fields.units], mass = number(fields.mass), moved = waitingKg(waiting) / per;
  if (!(mass > 0)) { yield say("How much: expected a weight."); return; }
  if (fields.to_cylinder) yield say("The other cylinder cannot be judged without coverage.");
  const set = ({ fields: one }) => one.entered === "hold" || one.outcome === "failed" || one.test === "failed";
  if (waiting.some(set)) yield say("It was put on hold on this phone.");
  yield* (fields.direction === "in" ? againstIn : againstOut)(known, fields, waiting, mass, moved, per);
}

function* againstIn(known, fields, waiting, mass, moved) {
  yield* known.against.in;
  if (known.against.in.length) return;
  const asked = fields.designation.trim().toUpperCase(), others = putIn(waiting).filter((one) => one !== asked);
  const name = Object.keys(known.room).find((one) => one.toUpperCase() === asked);
  if (!name || others.length) { yield say("By what was last known, {name} may not go into it.", { name: fields.designation || "?" }); return; }
  const room = known.room[name] - moved, unit = fields.units === "si" ? "kg" : "lb";
  if (mass > room) yield say("Too much: there is room for {mass}.", { mass: `${Math.max(0, Math.floor(room * 10) / 10)} ${unit}` });
  if (known.fill_until && new Date() > new Date(`${known.fill_until}T23:59:59`)) yield say("Its retest date has passed.");
}

function* againstOut(known, fields, _waiting, mass, moved, per) {
  yield* known.against[`out-${fields.phase}`];
  if (known.net !== null && mass > known.net + moved + SCALE_KG / per) yield say("It holds less than that.");
}

function judgedHere(form, fields, all) {
  const here = all.filter((one) => one.fields.serial === form.dataset.serial);
  const refused = here.filter((one) => one.reasons && one.fields.entered === "transfer");
  const found = [...against(JSON.parse(form.dataset.known), fields, here.filter((one) => !one.reasons))];
  return refused.length ? [say("An entry for it was not taken. Clear that up first."), ...found] : found;
}

// The same place and the same words as the service's answer; what it rests on is said first.
function showJudged(form, reasons) {
  const box = document.createElement("div"), title = document.createElement("h2"), list = document.createElement("ul");
  Object.assign(box, { id: "check", className: reasons.length ? "refusal" : "passed", tabIndex: -1 });
  box.setAttribute("role", reasons.length ? "alert" : "status");
  title.textContent = say(reasons.length ? "Not allowed" : "No objections");
  const time = clock(form.dataset.knownAt);
  const lines = [say("No coverage: judged by what this phone knew {time}.", { time }), ...reasons];
  if (!reasons.length) lines.push(say("It is judged again when there is coverage."));
  list.append(...lines.map((text) => Object.assign(document.createElement("li"), { textContent: text })));
  box.append(title, list);
  document.getElementById("check")?.remove();
  form.dataset.judged = "yes";
  const actions = form.querySelector(".actions:last-of-type");
  actions.before(box);
  for (const old of form.querySelectorAll("[value=record]")) old.remove();
  if (!reasons.length) {
    const record = Object.assign(document.createElement("button"), { name: "step", value: "record" });
    record.textContent = say("Record the transfer");
    actions.append(record);
  }
  box.focus();
}

// What is asked goes to the service; its answer takes the place of this page. Without an answer it is judged here.
async function checked(form, fields) {
  try {
    const token = await (await fetch("/entries/token", { credentials: "same-origin", signal: AbortSignal.timeout(8000) })).json();
    const body = new FormData();
    for (const [name, value] of Object.entries({ ...fields, csrf: token.csrf, step: "check" })) body.append(name, value);
    const answer = await fetch(form.getAttribute("action") || location.pathname, { method: "POST", body, credentials: "same-origin", signal: AbortSignal.timeout(8000) });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    if (!page.getElementById("main") || answer.status >= 500) throw new Error(String(answer.status));
    document.getElementById("main").replaceWith(document.adoptNode(page.getElementById("main")));
    history.replaceState(null, "", answer.url);
    localTimes(document);
    enter();
    shown();
    (document.getElementById("check") || document.getElementById("complaints"))?.focus();
  } catch {
    showJudged(form, judgedHere(form, { ...fields, units: form.dataset.units }, await entries()));
  }
}
