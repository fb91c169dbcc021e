// From cell to cell: along the strings or down the places, past what has a value already.

import assert from "node:assert/strict";
import test from "node:test";
import { following, inOrder } from "../../static/bench-moving.js";

// two strings with three places each, as the page has them
const cells = ["nut 1", "1st fret 1", "12th fret 1", "nut 2", "1st fret 2", "12th fret 2"];
const columnOf = (cell) => ["nut", "1st", "12th"].indexOf(cell.split(" ")[0]);

test("by string the cells follow each other as they stand", () => {
  assert.deepEqual(inOrder(cells, "by-string", columnOf), cells);
});

test("by place all strings come at one place, then the next", () => {
  const expected = ["nut 1", "nut 2", "1st fret 1", "1st fret 2", "12th fret 1", "12th fret 2"];
  assert.deepEqual(inOrder(cells, "by-place", columnOf), expected);
  assert.equal(cells[1], "1st fret 1", "the page's own order stays");
});

test("forward goes past what has a value, back to the one before whatever it holds", () => {
  const isEmpty = (cell) => cell !== "1st fret 1";
  assert.equal(following(cells, "nut 1", 1, isEmpty), "12th fret 1");
  assert.equal(following(cells, "12th fret 1", -1, isEmpty), "1st fret 1");
});

test("behind either end there is nothing", () => {
  assert.equal(following(cells, "12th fret 2", 1, () => true), undefined);
  assert.equal(following(cells, "nut 1", -1, () => true), undefined);
});
