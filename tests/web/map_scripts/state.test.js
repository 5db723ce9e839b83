import assert from "node:assert/strict";
import test from "node:test";

import { Keeper, Work, same } from "./map/state.js";

class Storage {
  setItem(name, text) {
    this[name] = text;
  }

  getItem(name) {
    return this[name] ?? null;
  }

  removeItem(name) {
    delete this[name];
  }
}

class FullStorage extends Storage {
  setItem() {
    throw new Error("no room");
  }
}

const SAVED = { "3-4": [20, "heard nothing"] };

test("a step is undone and done again, and a new one ends what could be done again", () => {
  const work = new Work(SAVED);
  work.take([["1-1", null, [25, ""]]]);
  assert.deepEqual(work.pending(), ["1-1"]);
  assert.deepEqual(work.undone(), ["1-1"]);
  assert.deepEqual(work.pending(), []);
  assert.deepEqual(work.redone(), ["1-1"]);
  assert.deepEqual(work.hand["1-1"], [25, ""]);
  work.undone();
  work.take([["2-2", null, [10, ""]]]);
  assert.deepEqual(work.redone(), []);
});

test("nothing to undo moves nothing", () => {
  assert.deepEqual(new Work(SAVED).undone(), []);
});

test("a cell given back to the plan is pending until it is saved, and dropped it is as saved", () => {
  const work = new Work(SAVED);
  work.take(work.answered([{ row: 3, column: 4, deg: null }]));
  assert.deepEqual(work.pending(), ["3-4"]);
  assert.deepEqual(work.asked(), []);
  work.take(work.dropped());
  assert.deepEqual(work.hand, SAVED);
});

test("the reason of a cell stays while its value does", () => {
  const work = new Work(SAVED);
  assert.deepEqual(work.wanted("3-4", 20), [20, "heard nothing"]);
  assert.deepEqual(work.wanted("3-4", 21), [21, ""]);
  assert.deepEqual(work.answered([{ row: 3, column: 4, deg: 20 }]), []);
});

test("cells go to the server as row, column, degrees and reason", () => {
  assert.deepEqual(new Work(SAVED).asked(), [[3, 4, 20, "heard nothing"]]);
});

test("what was changed elsewhere is brought as one step, for cells that are there", () => {
  const work = new Work({});
  const before = { hand: { "1-1": [30, "a"], "9-9": [1, ""] }, saved: { "2-2": [5, ""] } };
  assert.deepEqual(work.brought(before, (place) => place !== "9-9"), [
    ["1-1", null, [30, "a"]],
    ["2-2", null, null],
  ]);
});

test("work is kept for the window, and for any window while something is pending", () => {
  const [session, local] = [new Storage(), new Storage()];
  const keeper = new Keeper("bench", "7", session, local);
  const work = new Work(SAVED);
  assert.ok(keeper.keep(work));
  assert.equal(keeper.ofBrowser(), null);
  work.take([["1-1", null, [25, ""]]]);
  keeper.keep(work);
  assert.ok(same(keeper.ofBrowser().hand, work.hand));
  assert.equal(keeper.ofWindow().undo.length, 1);
  assert.deepEqual(new Keeper("bench", "8", session, local).others(), ["sparkwright-map:bench:7"]);
  keeper.forget(keeper.name);
  assert.equal(keeper.ofWindow(), null);
});

test("a browser without room says so, and what it holds of others' making counts as nothing", () => {
  const keeper = new Keeper("bench", "7", new FullStorage(), new Storage());
  assert.equal(keeper.keep(new Work(SAVED)), false);
  keeper.local["sparkwright-map:bench:7"] = "{half";
  assert.equal(keeper.ofBrowser(), null);
});
