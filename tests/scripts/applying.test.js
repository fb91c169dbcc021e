// What a tablet had kept and what others typed, when both come back to the grid.

import assert from "node:assert/strict";
import test from "node:test";
import { restored, sides, takenOver } from "../../static/bench-applying.js";

const page = { job: "7", staff: "2", after: "3", seen: 40 };
let order = 0;
const entry = (cell, typed, more = {}) => ({ order: (order += 1), job: "7", staff: "2", after: "3", cell, typed, ...more });
const typedOf = (entries) => entries.map((entry) => entry.typed);

test("a value that has not reached the books is put back into its cell", () => {
  const { kept, refused, old } = restored([entry("height-12_1", "1.75")], page);
  assert.deepEqual(typedOf(kept), ["1.75"]);
  assert.deepEqual([refused, old], [[], []]);
});

test("a value the books have is put back only on a page that is older than it", () => {
  const newer = entry("height-12_1", "1.75", { sent: 41 });
  const known = entry("height-12_2", "1.80", { sent: 40 });
  const { kept, old } = restored([newer, known], page);
  assert.deepEqual(typedOf(kept), ["1.75"]);
  assert.deepEqual(old, [known.order]);
});

test("an earlier set's values are forgotten once they are sent, and kept until then", () => {
  const sent = entry("relief_0", "0.20", { after: "2", sent: 12 });
  const waits = entry("relief_0", "0.25", { after: "2" });
  const { kept, old } = restored([sent, waits], page);
  assert.deepEqual(kept, []);
  assert.deepEqual(old, [sent.order]);
});

test("a value that was not taken comes back unless the cell was typed anew", () => {
  const refused = entry("height-12_1", "175", { refused: "questioned" });
  const typedAnew = entry("height-12_2", "180", { refused: "questioned" });
  const better = entry("height-12_2", "1.80");
  const found = restored([refused, typedAnew, better], page);
  assert.deepEqual(typedOf(found.refused), ["175"]);
  assert.deepEqual(typedOf(found.kept), ["1.80"]);
  assert.deepEqual(found.old, [typedAnew.order]);
});

test("another person's values and another job's stay untouched", () => {
  const found = restored([entry("relief_0", "0.20", { staff: "9" }), entry("relief_0", "0.20", { job: "8" })], page);
  assert.deepEqual(found, { kept: [], refused: [], old: [] });
});

test("a cell shows what another tablet typed, but not over a value that waits or is being typed", () => {
  const cells = ["waits", "known", "typed", "free"].map((cell) => ({ cell, key: `new-${cell}` }));
  const shown = takenOver(cells, {
    isWaiting: (cell) => cell === "waits",
    keyOf: (cell) => (cell === "known" ? "new-known" : "old"),
    isLoose: (cell) => cell === "typed",
  });
  assert.deepEqual(shown.map(({ cell }) => cell), ["free"]);
});

test("a dispute names this tablet's value first, and an empty one as nothing", () => {
  const theirs = { typed: "1.80", who: "Ivo", at: "10:12", mine: false };
  const mine = { typed: "", who: "Ottilie", at: "10:11", mine: true };
  const expected = {
    words: "12th fret, string 1: nothing here, 1.80 by Ivo at 10:12: which?",
    answers: [
      ["nothing", ""],
      ["1.80", "1.80"],
    ],
  };
  assert.deepEqual(sides("12th fret, string 1", mine, theirs), expected);
  assert.deepEqual(sides("12th fret, string 1", theirs, mine), expected);
});
