import assert from "node:assert/strict";
import test from "node:test";

import { Axis } from "./map/axis.js";

const speeds = new Axis([500, 1000, 3000], [40, 80, 120]);
// The highest load stands on top.
const loads = new Axis([85, 60, 30], [20, 50, 80]);

test("a value lies between its nodes in a straight line, on either kind of axis", () => {
  assert.equal(speeds.placeOf(2000), 100);
  assert.equal(loads.placeOf(45), 65);
  assert.equal(loads.placeOf(85), 20);
});

test("a place on the screen is read back as the value that lies there", () => {
  for (const value of [500, 730, 1000, 2900, 3000]) assert.ok(Math.abs(speeds.valueAt(speeds.placeOf(value)) - value) < 1e-9);
  for (const value of [30, 45, 60, 84, 85]) assert.ok(Math.abs(loads.valueAt(loads.placeOf(value)) - value) < 1e-9);
});

test("nothing leaves the map", () => {
  assert.equal(speeds.valueAt(-50), 500);
  assert.equal(loads.valueAt(900), 30);
  assert.equal(speeds.within(9000), 3000);
  assert.equal(loads.placeOf(200), 20);
});

test("a step with Shift goes to the next node either way, and stays at the ends", () => {
  assert.equal(speeds.beside(700, 50), 1000);
  assert.equal(speeds.beside(1000, -50), 500);
  assert.equal(loads.beside(85, 1), 85);
});

test("an axis knows which way it runs on the screen, whichever way its numbers are counted", () => {
  // Vacuum is least where pressure, on top, is most.
  const vacuum = new Axis([0, 10, 20], [20, 50, 80]);
  assert.equal(loads.fallsOnScreen, true);
  assert.equal(vacuum.fallsOnScreen, false);
  assert.equal(speeds.fallsOnScreen, false);
  assert.equal(vacuum.valueAt(65), 15);
});
