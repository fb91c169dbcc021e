// The reading grid: goes from cell to cell, questions what cannot be meant, keeps each value at once and shows what
// others typed. Without it the grid is an ordinary form.

import { questions } from "./bench-ask.js";
import { keepPage, planBeside, sendingLine } from "./bench-beside.js";
import { halfTyped } from "./bench-half.js";
import { all, forget, keep, newKey, sender } from "./bench-keep.js";
import { keypad } from "./bench-keypad.js";
import { echo, inBoth, question, withUnits } from "./bench-length.js";

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
// text that was refused or found no room: it is not tried again for being left, which would move the page under a finger
const failed = new Map();

const nameOf = (field) => field.name;
const valueOf = (field) => (field.type === "radio" ? form.elements[field.name].value : field.value.trim());
const fieldOf = (name) => fields.find((field) => field.name === name);
const labelOf = (field) => form.querySelector(`label[for="${field.id}"]`)?.textContent ?? field.name;
const isCents = (field) => field.name.startsWith("cents");
/** What stands in it has been kept nowhere yet. */
const isLoose = (field) => field.type !== "radio" && valueOf(field) !== kept.get(field.name);

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
  const words = typed.startsWith(CANNOT) ? typed : echo(dressed(field, typed), shopUnit, isCents(field));
  if (place.textContent !== words) place.textContent = words;
  field.classList.toggle("cannot-be-read", typed.startsWith(CANNOT));
  field.classList.toggle("read", typed !== "");
  field.classList.toggle("with-unit", /\d (mm|in)$|\d\/64$/.test(typed));
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

/** As it is kept: what stood there before is in the shop's unit, what this person typed in their calliper's. */
function dressed(field, typed) {
  if (isCents(field) || !field.dataset.limits || typed.startsWith(CANNOT)) return typed;
  return withUnits(typed, kept.get(field.name) ?? "", pad.unit(), shopUnit);
}

// ---- keeping a value

/** Keeps what this person typed into a field; answers false where it is questioned first. */
function commit(field, { sure = false, settles = 0 } = {}) {
  if (valueOf(field) === kept.get(field.name) && !settles) return true;
  const typed = dressed(field, valueOf(field));
  if (!sure && field.dataset.limits) {
    const found = question(typed, shopUnit, field.dataset.limits.split(" ").map(Number));
    if (found) {
      askMeaning(field, typed, found);
      return false;
    }
  }
  put(field, typed);
  field.removeAttribute("aria-invalid");
  asking.close(field);
  send(field, typed, sure, settles);
  return true;
}

// what is still on its way to this tablet's own database
const keeping = new Set();

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
  const under = keep(entry).then(
    () => {
      if (waiting.get(field.name) === entry.key) show(field, "waiting", "kept here");
      post.kick();
    },
    () => {
      if (waiting.get(field.name) === entry.key) {
        waiting.delete(field.name);
        key.set(field.name, entry.replaces);
        kept.set(field.name, null);
        failed.set(field.name, valueOf(field));
      }
      show(field, "problem", "not kept: this browser has no room. Use the save button.");
    },
  );
  keeping.add(under);
  under.finally(() => keeping.delete(under));
}

const line = sendingLine(form);
const refreshPlan = planBeside(job);
let plan = form.dataset.plan;
const post = sender(staff, { since: () => seen, answered, changed: line.tell });

function answered(entry, answer) {
  if (entry.job !== job) return;
  const field = fieldOf(entry.cell);
  if (field && waiting.get(entry.cell) === entry.key) {
    waiting.delete(entry.cell);
    if (answer.outcome === "stands") show(field, "saved", "✓");
    if (answer.outcome === "late") show(field, "problem", "kept, but the set was taken down before");
    if (["questioned", "unreadable", "refused"].includes(answer.outcome)) {
      key.set(field.name, entry.replaces);
      refuse(field, entry, answer);
    }
  }
  if (answer.outcome !== "refused") apply(answer);
  refreshPlan();
}

/** The server has the last word: the value goes back to its cell with what is wrong. */
function refuse(field, entry, answer) {
  kept.set(field.name, null);
  failed.set(field.name, valueOf(field));
  field.setAttribute("aria-invalid", "true");
  show(field, "problem", answer.words || "the books do not take it: reload the page");
  if (answer.outcome === "questioned") {
    asking.ask({
      field,
      typed: valueOf(field),
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
  if (answer.after !== undefined && answer.after !== after && !leaving) return line.taken();
  let news = !leaving && line.done(answer.done);
  if (answer.plan !== undefined && answer.plan !== plan) {
    plan = answer.plan;
    news = true;
  }
  for (const cell of answer.cells) {
    standing.set(cell.cell, cell);
    const field = fieldOf(cell.cell);
    if (!field || waiting.has(cell.cell) || key.get(cell.cell) === cell.key) continue;
    // somebody is typing here just now, or is asked: their next value will meet this one
    if (isLoose(field)) continue;
    key.set(cell.cell, cell.key);
    put(field, cell.typed);
    show(field, "saved", cell.mine ? "✓" : `✓ ${cell.who} ${cell.at}`);
    news = true;
  }
  seen = Math.max(seen, answer.seen ?? 0);
  form.elements.seen.value = seen;
  for (const dispute of answer.disputes) askWhich(dispute);
  for (const [name, wait] of asking.all()) {
    if (!wait.dispute || answer.disputes.some((dispute) => dispute.cell === name)) continue;
    asking.close(wait.field);
    show(wait.field, "saved", "✓");
  }
  document.querySelector("[data-disputes]")?.toggleAttribute("hidden", true);
  return news;
}

// ---- asking

const asking = questions(show);

function askMeaning(field, typed, { part, value, likely }) {
  const meant = likely === undefined ? null : `${(likely / 1000).toFixed(3).replace(/0$/, "")} mm`;
  const words = meant
    ? `${labelOf(field)}: ${inBoth(value)} cannot be. ${part} = ${inBoth(likely)}?`
    : `${labelOf(field)}: ${inBoth(value)} cannot be. Read it again.`;
  field.setAttribute("aria-invalid", "true");
  asking.ask({
    field,
    typed: valueOf(field),
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
  if (!field || !other || asking.of(dispute.cell)?.dispute === dispute.id) return;
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
  asking.ask({
    field,
    dispute: dispute.id,
    words: `${labelOf(field)}: ${nothing(here.typed)} ${who}, ${nothing(there.typed)} by ${there.who} at ${there.at}: which?`,
    answers: [
      [nothing(here.typed), () => choose(here.typed)],
      [nothing(there.typed), () => choose(there.typed)],
    ],
  });
}

/** What was half typed is no reading before somebody says so. */
function askHalf(field) {
  const typed = valueOf(field);
  const goOnTyping = () => {
    pad.goesOn();
    field.setSelectionRange(field.value.length, field.value.length);
  };
  asking.ask({
    field,
    typed,
    words: `${labelOf(field)}: ${typed} was typed when the page fell asleep. Is that the whole value?`,
    answers: [
      [`Yes, ${typed}`, () => retype(field, typed)],
      ["Go on typing", goOnTyping],
      ["Leave it out", () => put(field, kept.get(field.name) ?? "")],
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
    if (!asking.of(field.name)?.dispute) asking.close(field);
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
  asking.reopen(field);
});

// a value that is left with the finger is typed to its end; a window that loses the focus leaves nothing
form.addEventListener("focusout", (event) => {
  const field = event.target;
  if (!numbers.includes(field) || document.activeElement === field || document.hidden) return;
  if (pad.holds(event.relatedTarget) || asking.holds(event.relatedTarget)) return;
  if (isLoose(field)) leave(field);
});

/** Keeps a field that is left, unless just that was questioned or refused already. */
function leave(field) {
  const tried = [asking.of(field.name)?.typed, failed.get(field.name)];
  if (!tried.includes(valueOf(field))) commit(field);
}

// the keypad goes away with the finger; who travels by Tab finds it after the form
let byTab = false;
let pressing = false;
document.addEventListener("keydown", (event) => {
  byTab = event.key === "Tab";
});
document.addEventListener("pointerdown", () => {
  byTab = false;
  pressing = true;
});

// never under the finger: the page would move, and something else be pressed
function rest() {
  const at = document.activeElement;
  if (at === document.body || pressing || numbers.includes(at) || pad.holds(at) || asking.holds(at) || (byTab && form.contains(at))) return;
  pad.rests();
}
document.addEventListener("focusin", () => setTimeout(rest));
for (const ended of ["pointerup", "pointercancel"]) {
  document.addEventListener(ended, () => {
    pressing = false;
    setTimeout(rest);
  });
}

form.addEventListener("input", (event) => {
  if (cells.includes(event.target)) showEcho(event.target);
});

form.addEventListener("change", (event) => {
  if (fields.includes(event.target)) leave(event.target);
});

// callipers end each value with Enter
form.addEventListener("keydown", (event) => {
  const field = event.target;
  if (event.key !== "Enter" || event.isComposing || !numbers.includes(field)) return;
  event.preventDefault();
  event.stopPropagation();
  if (commit(field)) goOn(field, event.shiftKey ? -1 : 1);
});

// a tablet that falls asleep, and a page that is left, keep what was half typed as what it is
const half = halfTyped(job, staff, after);
const loose = () => fields.filter((field) => isLoose(field) && valueOf(field));

function keepHalf() {
  half.keep(leaving ? {} : Object.fromEntries(loose().map((field) => [field.name, valueOf(field)])));
}
document.addEventListener("visibilitychange", () => {
  if (document.hidden) return keepHalf();
  look();
  for (const field of loose()) {
    if (!asking.of(field.name) && field.dataset.state !== "problem") askHalf(field);
  }
});
window.addEventListener("pagehide", keepHalf);

// ---- what is sent, and what others did

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

// ---- leaving by a button: everything is sent first

let leaving = false;

document.addEventListener(
  "submit",
  async (event) => {
    const leavingForm = event.target;
    if (leavingForm.getAttribute("method") !== "post" || leaving) return;
    const afterSending = leavingForm.matches("[data-after-sending]");
    if (!afterSending && !keeping.size && !asking.all().length) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    const field = document.activeElement;
    if (fields.includes(field)) commit(field);
    // the last value may still be on its way to this tablet's own database
    await Promise.allSettled(keeping);
    // a form may not be sent anew while its own submit event is still under way
    await new Promise((resolve) => setTimeout(resolve));
    for (let turn = 0; afterSending && turn < 50 && waiting.size; turn += 1) {
      await post.kick();
      await new Promise((resolve) => setTimeout(resolve, 20));
      if (line.isCut()) break;
    }
    if (afterSending && waiting.size) return line.leads();
    if (asking.keepsHere()) return;
    if (leavingForm.elements.seen) leavingForm.elements.seen.value = seen;
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
// what the books did not take, and nobody typed anew
const refused = new Map();
const here = await all().catch(() => {
  line.noRoom();
  return [];
});
for (const entry of here) {
  if (entry.job !== job || entry.staff !== staff) continue;
  const before = refused.get(entry.cell);
  if (before) old.push(before.order);
  refused.delete(entry.cell);
  if (entry.refused) {
    refused.set(entry.cell, entry);
    continue;
  }
  if (entry.sent && (entry.after !== after || entry.sent <= seen)) {
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
for (const entry of refused.values()) {
  const field = fieldOf(entry.cell);
  const isFree = field && entry.after === after && !valueOf(field);
  if (isFree) {
    field.value = entry.typed;
    refuse(field, entry, { outcome: entry.refused, ...entry.said });
    showEcho(field);
  } else {
    if (field) show(field, "problem", `${entry.typed} was not taken: ${entry.said?.words || "the books refused it"}`);
    old.push(entry.order);
  }
}
for (const [name, typed] of Object.entries(half.take())) {
  const field = fieldOf(name);
  if (!field || asking.of(name) || field.dataset.state === "problem" || valueOf(field) === typed) continue;
  field.value = typed;
  showEcho(field);
  askHalf(field);
}
await forget(old).catch(() => {});
post.kick();
// the page may be one that was kept: its plan is of that day
refreshPlan();

if (location.hash) {
  const target = document.querySelector(location.hash);
  if (cells.includes(target)) target.focus();
}

// everything that stands, so that a dispute can name both sides
try {
  const response = await fetch(`/bench/jobs/${job}/cells?since=0`);
  if (response.ok && !response.redirected) apply(await response.json());
} catch {
  line.tell({ state: "offline", count: waiting.size, others: [] });
}
setInterval(look, LOOK_EVERY_MS);

await keepPage(form);
document.documentElement.dataset.gridReady = "yes";
