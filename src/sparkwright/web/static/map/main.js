// The map as a grid to work in by keyboard, mouse and finger. It computes nothing: every change is asked of the
// server, which answers with the cells as they are to be shown. What is not saved yet is kept in the browser.

import { listenToClipboard } from "./clipboard.js";
import { MapPage, placeOf } from "./draw.js";
import { Editor } from "./editor.js";
import { drivePoint } from "./point.js";
import { Server } from "./server.js";
import { Keeper, Work, same } from "./state.js";
import { View } from "./view.js";

const NO_ROOM =
  "This browser keeps no more: what you change from here on is lost when the page is left, until you save it.";

function begin(page) {
  const work = new Work(page.savedCells());
  const keeper = new Keeper(page.key, page.number, sessionStorage, localStorage);
  const server = new Server(page, work, keep);
  const view = new View(page, (cell) => server.whyOf(cell));
  view.editor = new Editor(view, change);
  const clipboard = listenToClipboard(view, { change, say: (text) => page.say(text) });

  function keep() {
    if (!keeper.keep(work)) page.say(NO_ROOM);
  }

  function change(what, where = view.block()) {
    if (page.readOnly) {
      page.say("This is an old revision; it is not changed here.");
      return Promise.resolve();
    }
    const answered = server.ask({ block: where, ...what });
    // What was pasted is selected, so that the next tool works on it.
    if (what.do === "paste") answered.then((cells) => view.selectAround(cells));
    return answered;
  }

  function take(step) {
    work.take(step);
    keep();
  }

  function setReason(reason) {
    const places = view.selection.places().map(([row, column]) => placeOf(page.cells[row][column]));
    const set = places.filter((place) => work.hand[place]);
    if (!set.length) {
      page.say("None of these cells is set by hand; a reason belongs to a cell that is.");
      return;
    }
    take(work.reasoned(set, reason));
    server.show().then(() => page.say(`Reason given to ${set.length === 1 ? "1 cell" : `${set.length} cells`}.`));
  }

  function drop() {
    const step = work.dropped();
    take(step);
    server.show(() => step.map(([place]) => place));
  }

  function offer(before, sentence, name) {
    function bring() {
      const step = work.brought(before, (place) => page.named.has(place));
      if (name !== keeper.name) keeper.forget(name);
      take(step);
      server.show(() => step.map(([place]) => place));
    }
    page.offer(sentence, bring, () => keeper.forget(name));
  }

  // Go on with what this window, this browser or a refused save still has.
  function resume() {
    const address = new URL(location.href);
    const savedFrom = address.searchParams.get("saved");
    if (savedFrom) {
      const name = keeper.prefix + savedFrom;
      const before = keeper.ofWindow(name);
      if (before?.undo && before.redo) work.resume({ undo: before.undo, redo: before.redo });
      // What lies there may be another window's, not saved yet.
      if (same(keeper.ofBrowser(name)?.hand, before?.hand)) keeper.forget(name);
      address.searchParams.delete("saved");
      history.replaceState(null, "", address);
      keep();
    } else {
      const own = keeper.ofWindow();
      const left = keeper.ofBrowser();
      const typed = page.typedCells();
      if (own?.hand && own.undo && own.redo) work.resume(own);
      else if (typed) work.hand = typed;
      else if (left?.hand) offer(left, "This browser still has changes of this revision that were never saved.", keeper.name);
    }
    for (const name of keeper.others()) {
      const before = keeper.ofWindow(name) ?? keeper.ofBrowser(name);
      if (before?.hand && before.saved && !same(before.hand, before.saved)) {
        const number = name.slice(keeper.prefix.length);
        offer(before, `You have changes that were made on revision ${number} and not saved.`, name);
      }
    }
    if (work.pending().length) server.show();
    page.buttons(work);
  }

  const value = document.getElementById("tool-value");
  const typed = (what) => () => change({ do: what, text: value.value });
  const asked = (what) => () => change({ do: what });
  const does = {
    undo: () => server.step(() => work.undone()),
    redo: () => server.step(() => work.redone()),
    set: typed("set"),
    add: typed("add"),
    take: typed("take"),
    interpolate: asked("interpolate"),
    across: asked("across"),
    up: asked("up"),
    smooth: asked("smooth"),
    "give back": asked("give back"),
    copy: () => clipboard.copy(false),
    "copy axes": () => clipboard.copy(true),
    cut: () => clipboard.copy(false, true),
    paste: () => clipboard.paste(),
    "paste text": () => clipboard.pasteTyped(),
    reason: () => setReason(document.getElementById("cell-reason").value.trim()),
    range: (button) => view.range(button),
    all: () => view.selectAll(),
    drop,
  };

  function listen() {
    view.listen(change, (name) => server.along(name));
    page.line.addEventListener("change", () => server.along(page.line.value));
    document.addEventListener("click", (event) => {
      const button = event.target.closest("button[data-do]");
      if (button && does[button.dataset.do]) does[button.dataset.do](button);
    });
    document.addEventListener("keydown", (event) => {
      const undoes = (event.ctrlKey || event.metaKey) && !event.altKey && /^[zy]$/i.test(event.key);
      if (!undoes || event.target.closest("input, textarea, select")) return;
      does[event.shiftKey || /y/i.test(event.key) ? "redo" : "undo"]();
      event.preventDefault();
    });
    value?.addEventListener("keydown", (event) => {
      if (event.key === "Enter") {
        event.preventDefault();
        does.set();
      }
    });
    page.save?.addEventListener("submit", () => {
      page.save.elements.hand.value = JSON.stringify(work.asked());
    });
    // Contours asked for when the page was loaded must not cover those of what was changed meanwhile.
    document.getElementById("contours").addEventListener("htmx:beforeSwap", (event) => {
      if (work.pending().length) event.detail.shouldSwap = false;
    });
  }

  function show() {
    for (const link of [...page.columnHeads, ...page.rowHeads]) link.tabIndex = -1;
    for (const id of ["map-tools", "map-keys"]) {
      const element = document.getElementById(id);
      if (element) element.hidden = false;
    }
    const { row, column } = page.position(page.named.get(page.cellAsked) ?? page.cells[0][0]);
    view.select(row, column, false, false);
    server.dropLater("why");
    document.getElementById("refused")?.focus();
  }

  listen();
  show();
  resume();
  drivePoint(page);
}

const root = document.getElementById("spark-map");
const grid = document.getElementById("map-grid");
if (root && grid) begin(new MapPage(root, grid));
