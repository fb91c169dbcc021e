// The reading grid: goes from cell to cell, questions what cannot be meant, keeps each value at once and shows what
// others typed. Without it the grid is an ordinary form.

import { startApplying } from "./bench-applying.js";
import { questions } from "./bench-ask.js";
import { keepPage, planBeside, sendingLine } from "./bench-beside.js";
import { Grid } from "./bench-cells.js";
import { halfTyped } from "./bench-half.js";
import { all, forget } from "./bench-keep.js";
import { startMoving } from "./bench-moving.js";
import { startSending } from "./bench-sending.js";
import { reveal } from "./bench-workspace.js";

const LOOK_EVERY_MS = 4000;

const form = document.querySelector("form[data-grid]");
const grid = new Grid(form);
const asking = questions(grid.show, (field, yes) => moving.asks(field, yes));
const line = sendingLine(form, () => grid.unsaved());
grid.changed = line.look;
const refreshPlan = planBeside(grid.job);
const sending = startSending(grid, asking, {
  answered: (entry, answer) => applying.answered(entry, answer),
  changed: line.tell,
  goOn: (field) => moving.goOn(field),
});
const applying = startApplying(grid, asking, line, sending, refreshPlan);
const moving = startMoving(grid, asking, sending);
grid.cells.forEach(grid.showEcho);

// ---- what was half typed: a tablet that falls asleep, and a page that is left, keep it as what it is

const half = halfTyped(grid.job, grid.staff, grid.after);
const loose = () => grid.fields.filter((field) => grid.isLoose(field) && grid.valueOf(field));

function keepHalf() {
  half.keep(grid.isLeaving ? {} : Object.fromEntries(loose().map((field) => [field.name, grid.valueOf(field)])));
}

/** What was half typed is no reading before somebody says so. */
function askHalf(field) {
  const typed = grid.valueOf(field);
  asking.ask({
    field,
    typed,
    words: `${grid.labelOf(field)}: you had typed ${typed} when the tablet went to sleep. Is that all of it, or was more to come?`,
    answers: [
      [`That is all: ${typed}`, () => sending.retype(field, typed)],
      ["More to come: go on typing", () => moving.goOnTyping(field)],
      ["Leave it out", () => leaveOut(field)],
    ],
  });
}

function leaveOut(field) {
  grid.put(field, grid.kept.get(field.name) ?? "");
  grid.showKept(field);
}

document.addEventListener("visibilitychange", () => {
  if (document.hidden) return keepHalf();
  look();
  for (const field of loose()) {
    if (!asking.of(field.name) && field.dataset.state !== "problem") askHalf(field);
  }
});
window.addEventListener("pagehide", keepHalf);

// ---- what others did

async function cellsSince(seen) {
  const response = await fetch(`/bench/jobs/${grid.job}/cells?since=${seen}`);
  return response.ok && !response.redirected ? response.json() : null;
}

async function look() {
  if (document.hidden || grid.isLeaving) return;
  try {
    const answer = await cellsSince(grid.seen);
    if (!answer) return;
    if (applying.apply(answer)) refreshPlan();
    // the way is open: what waits goes now, not when the pause is over
    if (grid.waiting.size) sending.kick();
  } catch {
    // no connection: the sender says so as soon as something waits
  }
}

// ---- leaving by a button: everything is sent first

document.addEventListener(
  "submit",
  async (event) => {
    const leavingForm = event.target;
    if (leavingForm.getAttribute("method") !== "post" || grid.isLeaving) return;
    const afterSending = leavingForm.matches("[data-after-sending]");
    if (!afterSending && !sending.isKeeping() && !asking.all().length) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    const field = document.activeElement;
    if (grid.fields.includes(field)) sending.commit(field);
    // the last value may still be on its way to this tablet's own database
    await sending.allKept();
    // a form may not be sent anew while its own submit event is still under way
    await new Promise((resolve) => setTimeout(resolve));
    for (let turn = 0; afterSending && turn < 50 && grid.waiting.size; turn += 1) {
      await sending.kick();
      await new Promise((resolve) => setTimeout(resolve, 20));
      if (line.isCut()) break;
    }
    if (afterSending && grid.waiting.size) return line.leads();
    if (asking.keepsHere()) return;
    if (leavingForm.elements.seen) leavingForm.elements.seen.value = grid.seen;
    grid.isLeaving = true;
    leavingForm.requestSubmit(event.submitter ?? undefined);
  },
  true,
);
window.addEventListener("pageshow", () => {
  grid.isLeaving = false;
});

// ---- the start

for (const button of form.querySelectorAll("[data-without-script]")) button.hidden = true;

const entries = await all().catch(() => {
  line.noRoom();
  return [];
});
const old = applying.restore(entries);
for (const [name, typed] of Object.entries(half.take())) {
  const field = grid.fieldOf(name);
  if (!field || asking.of(name) || field.dataset.state === "problem" || grid.valueOf(field) === typed) continue;
  field.value = typed;
  grid.showEcho(field);
  askHalf(field);
}
await forget(old).catch(() => {});
sending.kick();
// the page may be one that was kept: its plan is of that day
refreshPlan();

if (location.hash) {
  const target = document.querySelector(location.hash);
  if (grid.cells.includes(target)) {
    reveal(target);
    target.focus();
  }
}

// everything the books have, so that a dispute can name both sides
try {
  const answer = await cellsSince(0);
  if (answer) applying.apply(answer);
} catch {
  line.tell({ state: "offline", count: grid.waiting.size, others: [] });
}
setInterval(look, LOOK_EVERY_MS);

await keepPage(form);
document.documentElement.dataset.gridReady = "yes";
