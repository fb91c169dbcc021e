// The page reads a length as the server does: both by the cases of tests/lengths.json.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import test from "node:test";
import { echo, inInches, inMillimetres, micrometres, question, withUnits } from "../../static/bench-length.js";

const table = JSON.parse(readFileSync(new URL("../lengths.json", import.meta.url)));
const plain = (words) => words.replaceAll("\u00a0", " ");

test("a length is read as the server reads it", () => {
  assert.ok(table.parsed.length > 30);
  for (const { typed, unit, micrometres: expected } of table.parsed) {
    assert.equal(micrometres(typed, unit), expected ?? NaN, `${JSON.stringify(typed)} in ${unit}`);
  }
});

test("a length is printed as the server prints it", () => {
  for (const { micrometres: length, mm, inches } of table.printed) {
    assert.equal(plain(inMillimetres(length)), mm);
    assert.equal(plain(inInches(length)), inches);
  }
});

test("repeats are echoed as their mean, and what cannot be read as nothing", () => {
  assert.equal(plain(echo("2.10; 2.20", "mm", false)), "mean of 2: 2.15 mm · 0.085 in");
  assert.equal(plain(echo("-4", "mm", true)), "−4.0 cents");
  assert.equal(echo("2.10; two", "mm", false), "");
});

test("a bare figure keeps the unit it was typed in", () => {
  assert.equal(withUnits("2.5; 7", "2.5", "64ths", "mm"), "2.5 mm; 7/64");
  assert.equal(withUnits("0.098", "", "inch", "mm"), "0.098 in");
  assert.equal(withUnits("1.75 mm", "", "64ths", "inches"), "1.75 mm");
});

test("a value that cannot be is questioned with what was likely meant", () => {
  // a height at the 12th fret: between 0.3 and 8 mm, usually 1 to 4 (common practice, no source)
  const limits = [300, 8000, 1000, 4000];
  assert.equal(question("1.75; 1.80", "mm", limits), null);
  assert.deepEqual(question("175", "mm", limits), { part: "175", value: 175000, likely: 1750, isTooMuch: true });
  assert.equal(question("0.070", "mm", limits).likely, 1778, "inches typed as mm");
  assert.equal(question("900", "mm", [300, 8000, 1000, 1100]).likely, undefined, "nothing near it is usual");
});
