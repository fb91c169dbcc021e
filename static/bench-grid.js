// The reading grid: goes from cell to cell, questions what cannot be meant, keeps each value at once and shows what
// others typed. Without it the grid is an ordinary form.

import { all, forget, keep, newKey, sender } from "./bench-keep.js";
import { keypad } from "./bench-keypad.js";
import { echo, inBoth, question } from "./bench-length.js";

const LOOK_EVERY_MS = 4000;
const CANNOT = "not measurable:";

const form = document.querySelector("form[data-grid]");
const { job, staff, staffName } = form.dataset;
const shopUnit = form.dataset.unit;
const cells = [...form.querySelectorAll("input[data-cell]")];
const alongside = [...form.querySelectorAll("[data-alongside] input, [data-alongside] select")];
const fields = [...cells, ...alongside];
// figures too, though no places of the grid
const air = ["temperature", "humidity"].map((name) => form.elements[name]);
const numbers = [...cells, ...air];
const after = form.elements.after.value;
let seen = Number(form.elements.seen.value);

// the value a field was last kept with, and the entry that stands in it as far as this tablet knows
const kept = new Map();
const key = new Map();
const standing = new Map();
// keys of values that have not reached the books
const waiting = new Map();

const nameOf = (field) => field.name;
const valueOf = (field) => (field.type === "radio" ? form.elements[field.name].value : field.value.trim());
const fieldOf = (name) => fields.find((field) => field.name === name);
const labelOf = (field) => form.querySelector(`label[for="${field.id}"]`)?.textContent ?? field.name;
const isCents = (field) => field.name.startsWith("cents");

for (const field of fields) {
  kept.set(field.name, valueOf(field));
  key.set(field.name, field.dataset.key ?? field.closest("[data-alongside]")?.dataset.alongside ?? "");
}

// ---- what a cell shows

function show(field, state, words) {
  const place = field.parentElement.querySelector("[data-kept]");
  field.dataset.state = state;
  if (!place || place.textContent === words) return;
  place.textContent = words;
  place.toggleAttribute("data-mark", words.length === 1);
}

function showEcho(field) {
  const place = field.parentElement.querySelector("[data-echo]");
  if (!place) return;
  const typed = valueOf(field);
  const words = typed.startsWith(CANNOT) ? typed : echo(withUnit(field, typed), shopUnit, isCents(field));
  if (place.textContent !== words) place.textContent = words;
  field.classList.toggle("cannot-be-read", typed.startsWith(CANNOT));
  field.classList.toggle("read", typed !== "");
  field.classList.toggle("long", typed.length > 9);
}

function put(field, typed) {
  if (field.type === "radio") {
    form.elements[field.name].value = typed;
  } else {
    field.value = typed;
  }
  kept.set(field.name, typed);
  showEcho(field);
}

/** A bare number gets the unit of the person's calliper, where that is not the shop's own. */
function withUnit(field, typed) {
  if (isCents(field) || !field.dataset.limits || typed.startsWith(CANNOT)) return typed;
  const unit = pad.unit();
  const bare = (part) => /^[+\-−]?[\d.,]+$/.test(part);
  const dressed = typed.split(";").map((part) => part.trim()).filter(Boolean).map((part) => {
    if (!bare(part)) return part;
    if (unit === "64ths") return `${part}/64`;
    if (unit === "inch") return shopUnit === "inches" ? part : `${part} in`;
    return shopUnit === "mm" ? part : `${part} mm`;
  });
  return dressed.join("; ");
}

// ---- keeping a value

/** Keeps what stands in a field; answers false where it is questioned first. */
function commit(field, { sure = false, settles = 0 } = {}) {
  const typed = withUnit(field, valueOf(field));
  if (typed === kept.get(field.name) && !settles) return true;
  if (!sure && field.dataset.limits) {
    const asked = question(typed, shopUnit, field.dataset.limits.split(" ").map(Number));
    if (asked) {
      askMeaning(field, typed, asked);
      return false;
    }
  }
  put(field, typed);
  field.removeAttribute("aria-invalid");
  if (open?.field === field) closeAsk();
  send(field, typed, sure, settles);
  return true;
}

function send(field, typed, sure, settles) {
  const entry = {
    job,
    after,
    staff,
    staffName,
    cell: field.name,
    typed,
    sure,
    settles,
    key: newKey(),
    replaces: key.get(field.name),
  };
  key.set(field.name, entry.key);
  waiting.set(field.name, entry.key);
  show(field, "keeping", "");
  keep(entry).then(
    () => {
      if (waiting.get(field.name) === entry.key) show(field, "waiting", "kept here");
      post.kick();
    },
    () => show(field, "problem", "not kept: this browser has no room. Use the save button."),
  );
}

const post = sender(staff, { since: () => seen, answered, changed: tellSending });

function answered(entry, answer) {
  if (entry.job !== job) return;
  const field = fieldOf(entry.cell);
  if (field && waiting.get(entry.cell) === entry.key) {
    waiting.delete(entry.cell);
    if (answer.outcome === "stands") show(field, "saved", "✓");
    if (answer.outcome === "late") show(field, "problem", "kept, but the set was taken down before");
    if (answer.outcome === "refused") show(field, "problem", "the books do not take it: reload the page");
    if (["questioned", "unreadable"].includes(answer.outcome)) refuse(field, entry, answer);
  }
  apply(answer);
  refreshPlan();
}

/** The server has the last word: the value goes back to its cell with what is wrong. */
function refuse(field, entry, answer) {
  key.set(field.name, entry.replaces);
  kept.set(field.name, null);
  field.setAttribute("aria-invalid", "true");
  show(field, "problem", answer.words);
  if (answer.outcome === "questioned") {
    ask({
      field,
      words: `${labelOf(field)}: ${answer.words}`,
      answers: [
        ...(answer.likely ? [[`Take ${answer.likely}`, () => retype(field, answer.likely)]] : []),
        [`As typed: ${entry.typed}`, () => retype(field, entry.typed, { sure: true })],
        ["Type it again", () => field.select()],
      ],
    });
  }
}

/** Takes over what others typed. What this tablet has not sent yet stays: the books will ask. */
function apply(answer) {
  if (answer.after !== undefined && answer.after !== after && !leaving) return tellTaken();
  let news = false;
  for (const cell of answer.cells) {
    standing.set(cell.cell, cell);
    const field = fieldOf(cell.cell);
    if (!field || waiting.has(cell.cell) || key.get(cell.cell) === cell.key) continue;
    // somebody is typing here just now: their next value will meet this one
    if (document.activeElement === field && valueOf(field) !== kept.get(cell.cell)) continue;
    key.set(cell.cell, cell.key);
    put(field, cell.typed);
    show(field, "saved", cell.mine ? "✓" : `✓ ${cell.who} ${cell.at}`);
    news = true;
  }
  seen = Math.max(seen, answer.seen ?? 0);
  form.elements.seen.value = seen;
  for (const dispute of answer.disputes) askWhich(dispute);
  for (const [name, wait] of [...asked]) {
    if (wait.dispute && !answer.disputes.some((dispute) => dispute.cell === name)) settled(name);
  }
  document.querySelector("[data-disputes]")?.toggleAttribute("hidden", true);
  return news;
}

// ---- asking

const box = document.querySelector("[data-ask]");
const boxWords = box.querySelector("[data-ask-words]");
const boxAnswers = box.querySelector("[data-ask-answers]");
// questions that wait, by cell; one is open at a time
const asked = new Map();
let open = null;

function ask(wait) {
  asked.set(wait.field.name, wait);
  show(wait.field, wait.dispute ? "disputed" : "questioned", wait.dispute ? "which?" : "?");
  if (!open || open.field === wait.field) openAsk(wait);
}

function openAsk(wait) {
  open = wait;
  boxWords.textContent = wait.words;
  const buttons = wait.answers.map(([words, deed]) => {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "button large";
    button.textContent = words;
    button.addEventListener("pointerdown", (event) => event.preventDefault());
    button.addEventListener("click", () => {
      const field = wait.field;
      closeAsk();
      field.focus();
      deed();
    });
    return button;
  });
  boxAnswers.replaceChildren(...buttons);
  box.hidden = false;
}

function closeAsk() {
  if (open) asked.delete(open.field.name);
  open = null;
  box.hidden = true;
  const [next] = asked.values();
  if (next) openAsk(next);
}

function settled(name) {
  const field = fieldOf(name);
  asked.delete(name);
  show(field, "saved", "✓");
  if (open?.field === field) closeAsk();
}

function askMeaning(field, typed, { part, value, likely }) {
  const meant = likely === undefined ? null : `${(likely / 1000).toFixed(3).replace(/0$/, "")} mm`;
  const words = meant
    ? `${labelOf(field)}: ${inBoth(value)} cannot be. ${part} = ${inBoth(likely)}?`
    : `${labelOf(field)}: ${inBoth(value)} cannot be. Read it again.`;
  field.setAttribute("aria-invalid", "true");
  ask({
    field,
    words,
    answers: [
      ...(meant ? [[`Yes, ${meant}`, () => retype(field, typed.replace(part, meant))]] : []),
      [`As typed: ${part}`, () => retype(field, typed, { sure: true })],
      ["Type it again", () => field.select()],
    ],
  });
  field.select();
}

function askWhich(dispute) {
  const field = fieldOf(dispute.cell);
  const other = standing.get(dispute.cell);
  if (!field || !other || asked.get(dispute.cell)?.dispute === dispute.id) return;
  const [here, there] = dispute.mine ? [dispute, other] : [other, dispute];
  const choose = (typed) => {
    key.set(field.name, other.key);
    put(field, typed);
    send(field, typed, true, dispute.id);
  };
  const who = here.mine ? "here" : `by ${here.who} at ${here.at}`;
  const nothing = (typed) => typed || "nothing";
  put(field, other.typed);
  key.set(field.name, other.key);
  ask({
    field,
    dispute: dispute.id,
    words: `${labelOf(field)}: ${nothing(here.typed)} ${who}, ${nothing(there.typed)} by ${there.who} at ${there.at}: which?`,
    answers: [
      [nothing(here.typed), () => choose(here.typed)],
      [nothing(there.typed), () => choose(there.typed)],
    ],
  });
}

function retype(field, typed, options) {
  field.value = typed;
  field.removeAttribute("aria-invalid");
  if (commit(field, options)) goOn(field);
}

// ---- travelling

function order() {
  if (pad.travel() === "by-string") return cells;
  const column = (field) => field.closest("td")?.cellIndex ?? Infinity;
  return [...cells].sort((one, other) => column(one) - column(other));
}

/** To the next empty cell; after the last one to the air, and then to the button. */
function goOn(field, step = 1) {
  const path = [...order(), ...air];
  const place = path.indexOf(field);
  const next = step < 0 ? path[place - 1] : path.slice(place + 1).find((cell) => !cell.value.trim());
  if (next) next.focus();
  else if (step > 0) form.querySelector("button.primary").focus();
}

const pad = keypad({
  changed: showEcho,
  next: (field) => commit(field) && goOn(field),
  skip: (field) => {
    put(field, kept.get(field.name) ?? "");
    field.removeAttribute("aria-invalid");
    if (open?.field === field && !open.dispute) closeAsk();
    goOn(field);
  },
  again: (field) => {
    if (!commit(field) || !field.value) return;
    field.value += "; ";
    field.focus();
    pad.goesOn();
    field.setSelectionRange(field.value.length, field.value.length);
  },
  cannot: (field, reason) => {
    field.value = `${CANNOT} ${reason}`;
    commit(field);
    goOn(field);
  },
  settled: (travel, unit) => {
    const remembered = { travel, unit, job };
    fetch("/bench/habit", { method: "POST", redirect: "manual", body: new URLSearchParams(remembered) }).catch(() => {});
    fields.forEach(showEcho);
  },
});

// the page's own keypad takes the place of the system's; a calliper still types
for (const field of numbers) field.inputMode = "none";
cells.forEach(showEcho);

form.addEventListener("focusin", (event) => {
  const field = event.target;
  if (!numbers.includes(field)) return;
  pad.takes(field, labelOf(field));
  field.select();
  // an own question waits in this cell: show it again
  const wait = asked.get(field.name);
  if (wait && open !== wait) openAsk(wait);
});

// the keypad goes away with the finger; who travels by Tab finds it after the form
let byTab = false;
document.addEventListener("keydown", (event) => {
  byTab = event.key === "Tab";
});
document.addEventListener("pointerdown", () => {
  byTab = false;
});
document.addEventListener("focusin", (event) => {
  const at = event.target;
  if (numbers.includes(at) || pad.holds(at) || box.contains(at) || (byTab && form.contains(at))) return;
  pad.rests();
});

form.addEventListener("input", (event) => {
  if (cells.includes(event.target)) showEcho(event.target);
});

form.addEventListener("change", (event) => {
  if (fields.includes(event.target)) commit(event.target);
});

// callipers end each value with Enter
form.addEventListener("keydown", (event) => {
  const field = event.target;
  if (event.key !== "Enter" || event.isComposing || !numbers.includes(field)) return;
  event.preventDefault();
  event.stopPropagation();
  if (commit(field)) goOn(field, event.shiftKey ? -1 : 1);
});

// a tablet that falls asleep, and a page that is left, keep what was half typed
function keepHalfTyped() {
  const field = document.activeElement;
  if (fields.includes(field)) commit(field);
}
document.addEventListener("visibilitychange", () => {
  if (document.hidden) keepHalfTyped();
  else look();
});
window.addEventListener("pagehide", keepHalfTyped);

// ---- what is sent, and what others did

const sendingLine = form.querySelector("[data-sending]");
let sendingState = "";

function tellSending({ state, count, others }) {
  const values = count === 1 ? "1 value" : `${count} values`;
  const wait = count === 1 ? "waits" : "wait";
  const words = {
    saved: "✓ Every value is saved.",
    sending: `Saving ${values}…`,
    offline: `▲ No connection: ${values} ${wait} on this tablet, safe. Go on.`,
    "signed-out": `▲ Signed out: ${values} ${wait} on this tablet, safe. `,
  }[state];
  const byOthers = others.length ? ` ${others.length} by ${others[0].staffName} wait here until they sign in.` : "";
  // a word at each value would drown the others: only a change is said
  if (state === "sending" && sendingState !== "saved") return;
  sendingState = state;
  sendingLine.hidden = false;
  sendingLine.dataset.state = state;
  sendingLine.textContent = words + byOthers;
  if (state === "signed-out") {
    const link = document.createElement("a");
    link.href = `/sign-in?then=${encodeURIComponent(location.pathname)}`;
    link.textContent = "Sign in";
    sendingLine.append(link);
  }
}

function tellTaken() {
  sendingLine.hidden = false;
  sendingLine.dataset.state = "taken";
  const link = document.createElement("a");
  link.href = location.pathname;
  link.textContent = "Show it";
  sendingLine.replaceChildren("▲ The set was taken down on another tablet. ", link);
}

async function look() {
  if (document.hidden || leaving) return;
  try {
    const response = await fetch(`/bench/jobs/${job}/cells?since=${seen}`);
    if (!response.ok || response.redirected) return;
    if (apply(await response.json())) refreshPlan();
    // the way is open: what waits goes now, not when the pause is over
    if (waiting.size) post.kick();
  } catch {
    // no connection: the sender says so as soon as something waits
  }
}

// ---- the plan beside the grid

let planTimer;
let planAsked = 0;

function refreshPlan() {
  clearTimeout(planTimer);
  planTimer = setTimeout(async () => {
    planAsked += 1;
    const mine = planAsked;
    try {
      const response = await fetch(`/bench/jobs/${job}/plan`);
      if (!response.ok || response.redirected) return;
      const fresh = new DOMParser().parseFromString(await response.text(), "text/html").querySelector("#plan");
      // a press comes first: the plan is put in place between two of them
      await new Promise((resolve) => (window.requestIdleCallback ?? setTimeout)(resolve, { timeout: 1000 }));
      const old = document.querySelector("#plan");
      if (mine !== planAsked || !fresh || old.contains(document.activeElement)) return;
      old.replaceWith(fresh);
    } catch {
      document.querySelector("#plan").dataset.old = "yes";
    }
  }, 250);
}

// ---- leaving by a button: everything is sent first

let leaving = false;

document.addEventListener(
  "submit",
  async (event) => {
    const leavingForm = event.target;
    if (!leavingForm.matches("[data-after-sending]") || leaving) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    keepHalfTyped();
    // a form may not be sent anew while its own submit event is still under way
    await new Promise((resolve) => setTimeout(resolve));
    // the last value may still be on its way to this tablet's own database
    for (let turn = 0; turn < 50 && waiting.size; turn += 1) {
      await post.kick();
      await new Promise((resolve) => setTimeout(resolve, 20));
      if (["offline", "signed-out"].includes(sendingState)) break;
    }
    if (waiting.size) {
      sendingLine.scrollIntoView({ block: "center" });
      return;
    }
    if (asked.size && [...asked.values()].some((wait) => wait.dispute)) {
      box.scrollIntoView({ block: "center" });
      boxAnswers.querySelector("button")?.focus();
      return;
    }
    leaving = true;
    leavingForm.requestSubmit(event.submitter ?? undefined);
  },
  true,
);
window.addEventListener("pageshow", () => {
  leaving = false;
});

// ---- the start

for (const button of form.querySelectorAll("[data-without-script]")) button.hidden = true;

// what this tablet knows better than the page: values not sent, and values sent since the page was kept
const old = [];
for (const entry of await all()) {
  if (entry.job !== job || entry.staff !== staff) continue;
  const isOver = entry.sent && (entry.after !== after || entry.sent <= seen);
  if (isOver || entry.refused) {
    old.push(entry.order);
    continue;
  }
  const field = fieldOf(entry.cell);
  if (!field || entry.after !== after) continue;
  put(field, entry.typed);
  key.set(entry.cell, entry.key);
  if (entry.sent) {
    show(field, "saved", "✓");
  } else {
    waiting.set(entry.cell, entry.key);
    show(field, "waiting", "kept here");
  }
}
await forget(old);
post.kick();

if (location.hash) {
  const target = document.querySelector(location.hash);
  if (cells.includes(target)) target.focus();
}

// everything that stands, so that a dispute can name both sides
try {
  const response = await fetch(`/bench/jobs/${job}/cells?since=0`);
  if (response.ok && !response.redirected) apply(await response.json());
} catch {
  tellSending({ state: "offline", count: waiting.size, others: [] });
}
setInterval(look, LOOK_EVERY_MS);

if ("serviceWorker" in navigator) {
  await navigator.serviceWorker.register(form.dataset.worker, { scope: "/bench/" });
  const ready = await navigator.serviceWorker.ready;
  const files = performance.getEntriesByType("resource").map((file) => new URL(file.name).pathname);
  ready.active.postMessage({ keep: location.pathname, files: files.filter((path) => path.startsWith("/static/")) });
} else {
  const note = document.createElement("p");
  note.className = "hint";
  note.textContent = "Over plain http this page cannot be opened again without the server. What you type stays on this tablet all the same.";
  form.append(note);
}
document.documentElement.dataset.gridReady = "yes";
