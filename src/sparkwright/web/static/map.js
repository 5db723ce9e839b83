// The map as a grid to work in by keyboard, mouse and finger. It computes nothing: every change is asked of the
// server, which answers with the cells as they are to be shown. What is not saved yet is kept in the browser.
"use strict";

(() => {
  const root = document.getElementById("spark-map");
  const grid = document.getElementById("map-grid");
  if (!root || !grid) return;

  const { key, number, base } = root.dataset;
  const readOnly = root.dataset.readOnly === "yes";
  const body = [...grid.tBodies[0].rows];
  const cells = body.map((row) => [...row.querySelectorAll("td")]);
  const columnHeads = [...grid.tHead.rows[0].querySelectorAll("a")];
  const rowHeads = body.map((row) => row.querySelector("th a"));
  const height = cells.length;
  const width = cells[0].length;
  const named = new Map(cells.flat().map((cell) => [placeOf(cell), cell]));
  const saved = {};
  for (const cell of cells.flat()) {
    if (cell.dataset.set !== undefined) saved[placeOf(cell)] = [Number(cell.dataset.set), cell.dataset.reason];
  }
  const says = document.getElementById("map-says");
  const line = document.getElementById("line");

  function placeOf(cell) {
    return `${cell.dataset.row}-${cell.dataset.column}`;
  }

  // ---- What is not saved: the cells set by hand as they stand here, and the steps that led to it.

  const prefix = `sparkwright-map:${key}:`;
  let work = { hand: { ...saved }, saved, undo: [], redo: [] };

  function kept(storage, name) {
    try {
      return JSON.parse(storage.getItem(name));
    } catch {
      return null;
    }
  }

  function keep() {
    try {
      sessionStorage.setItem(prefix + number, JSON.stringify(work));
      if (pendingPlaces().length) localStorage.setItem(prefix + number, JSON.stringify({ hand: work.hand, saved }));
      else localStorage.removeItem(prefix + number);
    } catch {
      tell("This browser keeps no more: what you change from here on is lost when the page is left, until you save it.");
    }
  }

  function forget(name) {
    try {
      sessionStorage.removeItem(name);
      localStorage.removeItem(name);
    } catch {
      // A browser that keeps nothing has nothing to forget.
    }
  }

  function same(one, other) {
    return JSON.stringify(one ?? null) === JSON.stringify(other ?? null);
  }

  function pendingPlaces() {
    return [...new Set([...Object.keys(saved), ...Object.keys(work.hand)])].filter(
      (place) => !same(saved[place], work.hand[place]),
    );
  }

  function begin() {
    const address = new URL(location.href);
    const savedFrom = address.searchParams.get("saved");
    if (savedFrom) {
      const before = kept(sessionStorage, prefix + savedFrom);
      if (before?.undo && before.redo) work = { ...work, undo: before.undo, redo: before.redo };
      // What lies there may be another window's, not saved yet.
      if (same(kept(localStorage, prefix + savedFrom)?.hand, before?.hand)) forget(prefix + savedFrom);
      address.searchParams.delete("saved");
      history.replaceState(null, "", address);
      keep();
    } else {
      const own = kept(sessionStorage, prefix + number);
      const left = kept(localStorage, prefix + number);
      const typed = root.dataset.typed ? JSON.parse(root.dataset.typed) : null;
      if (own?.hand && own.undo && own.redo) work = { ...own, saved };
      else if (typed) work.hand = Object.fromEntries(typed.map(([row, column, deg, reason]) => [`${row}-${column}`, [deg, reason]]));
      else if (left?.hand) offer(left, "This browser still has changes of this revision that were never saved.", prefix + number);
    }
    for (const name of namesKept()) {
      const before = kept(sessionStorage, name) ?? kept(localStorage, name);
      if (before?.hand && before.saved && !same(before.hand, before.saved)) {
        offer(before, `You have changes that were made on revision ${name.slice(prefix.length)} and not saved.`, name);
      }
    }
    if (pendingPlaces().length) show();
    buttons();
  }

  // What this browser keeps of other revisions of this job.
  function namesKept() {
    const names = [sessionStorage, localStorage].flatMap((storage) => Object.keys(storage));
    return [...new Set(names)].filter((name) => name.startsWith(prefix) && name !== prefix + number);
  }

  function offer(before, sentence, name) {
    const box = document.createElement("div");
    box.className = "say";
    const words = document.createElement("p");
    words.textContent = sentence;
    const bring = document.createElement("button");
    bring.type = "button";
    bring.textContent = "Bring them here";
    const drop = document.createElement("button");
    drop.type = "button";
    drop.textContent = "Drop them";
    box.append(words, bring, " ", drop);
    bring.addEventListener("click", () => {
      const step = [];
      for (const place of new Set([...Object.keys(before.hand), ...Object.keys(before.saved)])) {
        if (named.has(place) && !same(before.hand[place], before.saved[place])) {
          step.push([place, work.hand[place] ?? null, before.hand[place] ?? null]);
        }
      }
      if (name !== prefix + number) forget(name);
      box.remove();
      take(step);
      show(() => step.map(([place]) => place));
    });
    drop.addEventListener("click", () => {
      forget(name);
      box.remove();
    });
    root.prepend(box);
  }

  // ---- Asking the server, one question after the other so that steps keep their order.

  let queue = Promise.resolve();

  function asked(what) {
    const hand = Object.entries(work.hand).map(([place, [deg, reason]]) => [...place.split("-").map(Number), deg, reason ?? ""]);
    return { number: Number(number), hand, ...what };
  }

  async function post(path, what) {
    const answer = await fetch(base + path, {
      method: "POST",
      headers: { "content-type": "application/json", "hx-request": "true" },
      body: JSON.stringify(asked(what)),
    });
    if (!answer.ok) throw new Error((await answer.text()).slice(0, 400));
    return answer.json();
  }

  function ask(wish) {
    queue = queue.then(async () => {
      try {
        const what = typeof wish === "function" ? wish() : wish;
        const answer = await post("/try", what);
        if (what.do !== "show") {
          const step = answer.cells
            .map((cell) => [`${cell.row}-${cell.column}`, cell])
            .map(([place, cell]) => [place, work.hand[place] ?? null, wanted(place, cell.deg)])
            .filter(([, before, after]) => !same(before, after));
          take(step);
        }
        for (const cell of answer.cells) draw(cell);
        if (what.do === "paste") selectAround(answer.cells);
        told(answer);
      } catch (problem) {
        say(problem instanceof TypeError ? "The workbench doesn't answer. What you changed is still here." : problem.message);
        redraw();
      }
    });
    return queue;
  }

  function wanted(place, deg) {
    if (deg === null) return null;
    const before = work.hand[place];
    return before && before[0] === deg ? before : [deg, ""];
  }

  function take(step) {
    if (!step.length) return;
    work.undo.push(step);
    work.redo = [];
    for (const [place, , after] of step) put(place, after);
    keep();
  }

  function put(place, value) {
    if (value === null) delete work.hand[place];
    else work.hand[place] = value;
  }

  function show(places = () => []) {
    return ask(() => ({ do: "show", also: places().map((place) => place.split("-").map(Number)) }));
  }

  function step(from, to, side) {
    let touched = [];
    queue = queue.then(() => {
      const last = work[from].pop();
      if (!last) return;
      work[to].push(last);
      for (const each of last) put(each[0], each[side]);
      touched = last.map(([place]) => place);
      keep();
    });
    show(() => touched);
  }

  // ---- Drawing what the server said.

  function draw(cell) {
    const place = `${cell.row}-${cell.column}`;
    const shown = named.get(place);
    shown.textContent = cell.text;
    shown.className = cell.classes + (same(saved[place], work.hand[place]) ? "" : " pending");
    shown.dataset.value = cell.value;
    shown.setAttribute("aria-label", cell.label + (same(saved[place], work.hand[place]) ? "" : ", not saved"));
  }

  function redraw() {
    for (const cell of cells.flat()) {
      const input = cell.querySelector("input");
      if (input) input.remove();
      if (cell.dataset.before !== undefined) {
        cell.textContent = cell.dataset.before;
        delete cell.dataset.before;
      }
    }
  }

  function say(text, warns = false) {
    says.textContent = text;
    says.classList.toggle("warns", warns);
    delete says.dataset.cell;
  }

  const save = document.getElementById("save");

  function told(answer) {
    say(answer.says.join(" "), answer.over);
    if (save) {
      save.hidden = answer.changed === 0;
      document.getElementById("pending").textContent = answer.pending;
    }
    buttons();
    later("drawn", 250, drawLines);
    later("why", 120, askWhy);
  }

  function buttons() {
    for (const [name, list] of [["undo", work.undo], ["redo", work.redo]]) {
      const button = document.querySelector(`#map-tools [data-do="${name}"]`);
      if (button) button.disabled = !list.length;
    }
  }

  const timers = {};

  function later(name, milliseconds, act) {
    clearTimeout(timers[name]);
    timers[name] = setTimeout(act, milliseconds);
  }

  let drawnFor = "";
  const narrow = matchMedia("(max-width: 1020px)");
  narrow.addEventListener("change", () => {
    if (pendingPlaces().length) drawLines();
  });

  async function drawLines() {
    const now = JSON.stringify([work.hand, line.value, narrow.matches]);
    if (now === drawnFor) return;
    drawnFor = now;
    try {
      const parts = await post("/drawn", { line: line.value, narrow: narrow.matches });
      if (now !== drawnFor) return;
      for (const name of ["ribbon", "contours"]) document.getElementById(name).innerHTML = parts[name];
    } catch {
      drawnFor = "";
    }
  }

  function askWhy() {
    const cell = cells[head.row][head.column];
    const place = placeOf(cell);
    let address = `${base}/why?cell=${place}&number=${number}`;
    if (!same(saved[place], work.hand[place])) address += `&deg=${work.hand[place] ? work.hand[place][0] : "plan"}`;
    if (address === askedWhy) return;
    askedWhy = address;
    htmx.ajax("GET", address, { target: "#why", swap: "innerHTML" });
  }

  let askedWhy = "";

  // ---- Selecting. Rows and columns count from the top left, as the map stands on the page.

  let anchor = { row: 0, column: 0 };
  let head = { row: 0, column: 0 };

  function select(row, column, extend = false, focus = true) {
    head = { row: Math.min(Math.max(row, 0), height - 1), column: Math.min(Math.max(column, 0), width - 1) };
    if (!extend) anchor = { ...head };
    const span = spanned();
    cells.forEach((line, i) =>
      line.forEach((cell, j) => {
        const inside = i >= span.top && i <= span.bottom && j >= span.left && j <= span.right;
        if (inside !== (cell.getAttribute("aria-selected") === "true")) cell.setAttribute("aria-selected", String(inside));
        cell.tabIndex = i === head.row && j === head.column ? 0 : -1;
      }),
    );
    if (focus) cells[head.row][head.column].focus();
    if (stacked.matches) sayOver(cells[head.row][head.column]);
    later("why", 120, askWhy);
  }

  // What was pasted is selected, so that the next tool works on it.
  function selectAround(pasted) {
    const places = pasted.map((cell) => position(named.get(`${cell.row}-${cell.column}`)));
    if (!places.length) return;
    const [rows, columns] = [places.map((each) => each.row), places.map((each) => each.column)];
    select(Math.min(...rows), Math.min(...columns));
    select(Math.max(...rows), Math.max(...columns), true);
  }

  const stacked = matchMedia("(max-width: 1100px)");

  // Where the reasons of a cell stand below the map, out of sight, the line above it says what a cell stands over.
  function sayOver(cell) {
    if (cell.classList.contains("over")) {
      say(cell.getAttribute("aria-label"), true);
      says.dataset.cell = placeOf(cell);
    } else if (says.dataset.cell) say("");
  }

  function spanned() {
    return {
      top: Math.min(anchor.row, head.row),
      bottom: Math.max(anchor.row, head.row),
      left: Math.min(anchor.column, head.column),
      right: Math.max(anchor.column, head.column),
    };
  }

  function block() {
    const span = spanned();
    const one = cells[span.top][span.left].dataset;
    const other = cells[span.bottom][span.right].dataset;
    return [Number(one.row), Number(one.column), Number(other.row), Number(other.column)];
  }

  function here() {
    const at = cells[head.row][head.column].dataset;
    return [Number(at.row), Number(at.column), Number(at.row), Number(at.column)];
  }

  function position(element) {
    const cell = element?.closest?.("#map-grid td[role=gridcell]");
    if (!cell) return null;
    return { row: cell.parentElement.sectionRowIndex, column: cell.cellIndex - 1 };
  }

  // ---- Changing.

  function change(what, where = block()) {
    if (readOnly) {
      say("This is an old revision; it is not changed here.");
      return Promise.resolve();
    }
    return ask({ block: where, ...what });
  }

  function setReason(reason) {
    const places = [];
    const span = spanned();
    for (let i = span.top; i <= span.bottom; i += 1) {
      for (let j = span.left; j <= span.right; j += 1) {
        const place = placeOf(cells[i][j]);
        if (work.hand[place]) places.push(place);
      }
    }
    if (!places.length) {
      say("None of these cells is set by hand; a reason belongs to a cell that is.");
      return;
    }
    take(places.map((place) => [place, work.hand[place], [work.hand[place][0], reason]]));
    show().then(() => say(`Reason given to ${places.length === 1 ? "1 cell" : `${places.length} cells`}.`));
  }

  function drop() {
    const places = pendingPlaces();
    take(places.map((place) => [place, work.hand[place] ?? null, saved[place] ?? null]));
    show(() => places);
  }

  // ---- Typing into a cell.

  let editing = null;

  function edit(first) {
    if (readOnly) return change({});
    const cell = cells[head.row][head.column];
    const input = document.createElement("input");
    input.inputMode = "decimal";
    input.autocomplete = "off";
    input.value = first ?? cell.dataset.value;
    input.setAttribute("aria-label", `New advance in degrees, ${cell.getAttribute("aria-label").split(":")[0]}`);
    editing = { cell, input, typed: first !== undefined };
    cell.dataset.before = cell.textContent;
    cell.append(input);
    input.focus();
    if (first === undefined) input.select();
    input.addEventListener("blur", () => finish(true));
    return undefined;
  }

  function finish(taken, everywhere = false) {
    if (!editing) return;
    const { cell, input } = editing;
    const text = input.value.trim();
    editing = null;
    const where = everywhere ? block() : [cell, cell].flatMap((each) => [Number(each.dataset.row), Number(each.dataset.column)]);
    input.remove();
    if (taken && text !== "" && text !== cell.dataset.value) {
      cell.textContent = text;
      change({ do: "set", text }, where).then(() => delete cell.dataset.before);
    } else {
      delete cell.dataset.before;
    }
  }

  function editorKey(event) {
    const moves = { Enter: [event.shiftKey ? -1 : 1, 0], Tab: [0, event.shiftKey ? -1 : 1] };
    if (editing.typed) Object.assign(moves, { ArrowUp: [-1, 0], ArrowDown: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] });
    if (event.key === "Escape") {
      finish(false);
      select(head.row, head.column);
    } else if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) {
      finish(true, true);
      select(head.row, head.column, true);
    } else if (moves[event.key]) {
      const [down, across] = moves[event.key];
      finish(true);
      select(head.row + down, head.column + across);
    } else {
      return;
    }
    event.preventDefault();
  }

  // ---- Keys of the grid.

  grid.addEventListener("keydown", (event) => {
    if (editing) return editorKey(event);
    const from = position(event.target);
    if (!from) return headKey(event);
    const control = event.ctrlKey || event.metaKey;
    const jumps = {
      ArrowUp: [-1, 0],
      ArrowDown: [1, 0],
      ArrowLeft: [0, -1],
      ArrowRight: [0, 1],
      PageUp: [-height, 0],
      PageDown: [height, 0],
      Home: [control ? -height : 0, -width],
      End: [control ? height : 0, width],
    };
    if (jumps[event.key] && !event.altKey) {
      const [down, across] = jumps[event.key];
      const far = control && event.key.startsWith("Arrow") ? Math.max(height, width) : 1;
      const row = head.row + down * far;
      const column = head.column + across * far;
      if (!event.shiftKey && far === 1 && event.key === "ArrowUp" && row < 0) columnHeads[head.column].focus();
      else if (!event.shiftKey && far === 1 && event.key === "ArrowLeft" && column < 0) rowHeads[head.row].focus();
      else select(row, column, event.shiftKey);
    } else if (control && !event.altKey && "aA".includes(event.key)) selectAll();
    else if (event.key === " " && event.shiftKey) extendTo(head.row, 0, head.row, width - 1);
    else if (event.key === " " && control) extendTo(0, head.column, height - 1, head.column);
    else if (event.key === "Delete" || event.key === "Backspace") change({ do: "give back" });
    else if (event.key === "F2" || event.key === "Enter") edit();
    else if (event.key === "Escape") select(head.row, head.column);
    else if (!control && !event.altKey && /^[-+0-9.,]$/.test(event.key)) edit(event.key);
    else return undefined;
    event.preventDefault();
    return undefined;
  });

  function headKey(event) {
    const row = rowHeads.indexOf(event.target);
    const column = columnHeads.indexOf(event.target);
    if (column >= 0) {
      if (event.key === "ArrowDown") select(0, column);
      else if (event.key === "ArrowLeft") columnHeads[Math.max(column - 1, 0)].focus();
      else if (event.key === "ArrowRight") columnHeads[Math.min(column + 1, width - 1)].focus();
      else return;
    } else if (row >= 0) {
      if (event.key === "ArrowRight") select(row, 0);
      else if (event.key === "ArrowUp") rowHeads[Math.max(row - 1, 0)].focus();
      else if (event.key === "ArrowDown") rowHeads[Math.min(row + 1, height - 1)].focus();
      else return;
    } else return;
    event.preventDefault();
  }

  document.addEventListener("keydown", (event) => {
    const undoes = (event.ctrlKey || event.metaKey) && !event.altKey && /^[zy]$/i.test(event.key);
    if (!undoes || event.target.closest("input, textarea, select")) return;
    undoRedo(event.shiftKey || /y/i.test(event.key));
    event.preventDefault();
  });

  function undoRedo(forward) {
    if (forward) step("redo", "undo", 2);
    else step("undo", "redo", 1);
  }

  function extendTo(row, column, otherRow, otherColumn) {
    anchor = { row, column };
    select(otherRow, otherColumn, true);
  }

  function selectAll() {
    extendTo(0, 0, height - 1, width - 1);
  }

  // ---- Mouse and finger.

  let dragging = false;
  let ranging = false;

  grid.addEventListener("pointerdown", (event) => {
    const at = position(event.target);
    if (!at || event.button !== 0 || event.target.tagName === "INPUT") return;
    if (editing) finish(true);
    if (event.pointerType !== "mouse" && !ranging) return;
    select(at.row, at.column, event.shiftKey);
    dragging = true;
    if (event.target.hasPointerCapture?.(event.pointerId)) event.target.releasePointerCapture(event.pointerId);
    event.preventDefault();
  });
  grid.addEventListener("pointermove", (event) => {
    if (!dragging) return;
    const at = position(document.elementFromPoint(event.clientX, event.clientY));
    if (at && (at.row !== head.row || at.column !== head.column)) select(at.row, at.column, true);
  });
  document.addEventListener("pointerup", () => {
    dragging = false;
  });
  document.addEventListener("pointercancel", () => {
    dragging = false;
  });
  grid.addEventListener("click", (event) => {
    const at = position(event.target);
    if (at && event.pointerType !== "mouse" && !ranging && event.target.tagName !== "INPUT") select(at.row, at.column);
    const link = event.target.closest("a[data-line]");
    if (link) {
      event.preventDefault();
      along(link.dataset.line);
    }
  });
  grid.addEventListener("dblclick", (event) => {
    if (position(event.target) && !editing) edit();
  });

  function along(name) {
    line.value = name;
    for (const each of [...columnHeads, ...rowHeads]) {
      if (each.dataset.line === name) each.setAttribute("aria-current", "true");
      else each.removeAttribute("aria-current");
    }
    if (pendingPlaces().length) drawLines();
    else htmx.ajax("GET", `${base}/ribbon?number=${number}&line=${encodeURIComponent(name)}`, { target: "#ribbon", swap: "innerHTML" });
  }

  line.addEventListener("change", () => along(line.value));

  // ---- To and from a spreadsheet.

  function blockText(axes) {
    const span = spanned();
    const lines = [];
    const numberOf = (link) => link.dataset.line.split("-").slice(1).join("-");
    if (axes) lines.push(["kPa by rpm", ...columnHeads.slice(span.left, span.right + 1).map(numberOf)]);
    for (let i = span.top; i <= span.bottom; i += 1) {
      const values = cells[i].slice(span.left, span.right + 1).map((cell) => cell.dataset.value);
      lines.push(axes ? [numberOf(rowHeads[i]), ...values] : values);
    }
    return lines.map((each) => each.join("\t")).join("\n") + "\n";
  }

  function inGrid() {
    return !editing && grid.contains(document.activeElement) && position(document.activeElement);
  }

  for (const name of ["copy", "cut"]) {
    document.addEventListener(name, (event) => {
      if (!inGrid()) return;
      event.clipboardData.setData("text/plain", blockText(false));
      event.preventDefault();
      copied(name === "cut");
    });
  }

  function copied(cut) {
    const count = cells.flat().filter((cell) => cell.getAttribute("aria-selected") === "true").length;
    if (cut) change({ do: "give back" });
    else say(`${count === 1 ? "1 cell" : `${count} cells`} copied.`);
  }

  document.addEventListener("paste", (event) => {
    if (!inGrid()) return;
    event.preventDefault();
    change({ do: "paste", text: event.clipboardData.getData("text/plain") });
  });

  async function copyByButton(axes, cut = false) {
    const text = blockText(axes);
    try {
      await navigator.clipboard.writeText(text);
      copied(cut);
    } catch {
      byHand();
      document.getElementById("paste-text").value = text;
      document.getElementById("paste-text").select();
      say("This browser gives no clipboard here; the block stands in the field below, selected, to be copied by hand.");
    }
  }

  async function pasteByButton() {
    let text = null;
    try {
      text = await navigator.clipboard.readText();
    } catch {
      byHand();
      say("This browser gives no clipboard here; paste the block into the field below.");
      return;
    }
    change({ do: "paste", text });
  }

  function byHand() {
    const keys = document.getElementById("map-keys");
    keys.open = true;
    document.getElementById("paste-text").focus();
  }

  // ---- The buttons.

  const value = document.getElementById("tool-value");
  const does = {
    undo: () => undoRedo(false),
    redo: () => undoRedo(true),
    set: () => change({ do: "set", text: value.value }),
    add: () => change({ do: "add", text: value.value }),
    take: () => change({ do: "take", text: value.value }),
    interpolate: () => change({ do: "interpolate" }),
    across: () => change({ do: "across" }),
    up: () => change({ do: "up" }),
    smooth: () => change({ do: "smooth" }),
    "give back": () => change({ do: "give back" }),
    copy: () => copyByButton(false),
    "copy axes": () => copyByButton(true),
    cut: () => copyByButton(false, true),
    paste: pasteByButton,
    "paste text": () => change({ do: "paste", text: document.getElementById("paste-text").value }),
    reason: () => setReason(document.getElementById("cell-reason").value.trim()),
    range: (button) => {
      ranging = !ranging;
      button.setAttribute("aria-pressed", String(ranging));
      grid.classList.toggle("ranging", ranging);
      say(ranging ? "Draw over the cells you want." : "");
    },
    all: selectAll,
    drop,
  };
  document.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-do]");
    if (button && does[button.dataset.do]) does[button.dataset.do](button);
  });
  value?.addEventListener("keydown", (event) => {
    if (event.key === "Enter") {
      event.preventDefault();
      does.set();
    }
  });

  save?.addEventListener("submit", () => {
    save.elements.hand.value = JSON.stringify(asked({}).hand);
  });

  // Contours asked for when the page was loaded must not cover those of what was changed meanwhile.
  document.getElementById("contours").addEventListener("htmx:beforeSwap", (event) => {
    if (pendingPlaces().length) event.detail.shouldSwap = false;
  });

  // ---- Begin.

  for (const link of [...columnHeads, ...rowHeads]) link.tabIndex = -1;
  for (const id of ["map-tools", "map-keys"]) {
    const element = document.getElementById(id);
    if (element) element.hidden = false;
  }
  const first = named.get(root.dataset.cell) ?? cells[0][0];
  select(first.parentElement.sectionRowIndex, first.cellIndex - 1, false, false);
  clearTimeout(timers.why);
  begin();
  document.getElementById("refused")?.focus();
})();
