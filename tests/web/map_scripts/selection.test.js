import assert from "node:assert/strict";
import test from "node:test";

import { blockText } from "./map/clipboard.js";
import { Selection } from "./map/selection.js";

test("a selection stays on the map", () => {
  const selection = new Selection(3, 5);
  selection.move(-2, 99);
  assert.deepEqual(selection.head, { row: 0, column: 4 });
  assert.deepEqual(selection.anchor, selection.head);
});

test("extended, it spans from where it began, either way", () => {
  const selection = new Selection(10, 10);
  selection.move(4, 4);
  selection.move(2, 6, true);
  assert.deepEqual(selection.span, { top: 2, bottom: 4, left: 4, right: 6 });
  assert.equal(selection.places().length, 9);
  assert.ok(selection.holds(3, 5));
  assert.ok(!selection.holds(5, 5));
  assert.ok(selection.isHead(2, 6));
});

test("keys go a cell, to the end of a row, or to the edge of the map", () => {
  const selection = new Selection(3, 5);
  assert.deepEqual(selection.jump({ key: "ArrowUp", control: false }), [-1, 0]);
  assert.deepEqual(selection.jump({ key: "ArrowRight", control: true }), [0, 5]);
  assert.deepEqual(selection.jump({ key: "Home", control: false }), [0, -5]);
  assert.deepEqual(selection.jump({ key: "End", control: true }), [3, 5]);
  assert.equal(selection.jump({ key: "a", control: false }), undefined);
});

test("a block is lines of numbers parted by tabs, with its speeds and loads where they are wanted", () => {
  const values = [
    ["20", "22"],
    ["24", "26"],
  ];
  assert.equal(blockText(values), "20\t22\n24\t26\n");
  const axes = { corner: "inHg vacuum by rpm", rpm: ["800", "1000"], loads: ["0", "2.5"] };
  assert.equal(blockText(values, axes), "inHg vacuum by rpm\t800\t1000\n0\t20\t22\n2.5\t24\t26\n");
});
