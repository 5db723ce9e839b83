// The map as it stands on the page, and how what the server said is put into it.

export class MapPage {
  constructor(root, grid) {
    Object.assign(this, { root, grid });
    const { key, number, base, readOnly, cell } = root.dataset;
    Object.assign(this, { key, number, base, readOnly: readOnly === "yes", cellAsked: cell });
    const body = [...grid.tBodies[0].rows];
    this.cells = body.map((row) => [...row.querySelectorAll("td")]);
    this.columnHeads = [...grid.tHead.rows[0].querySelectorAll("a")];
    this.rowHeads = body.map((row) => row.querySelector("th a"));
    this.named = new Map(this.cells.flat().map((cell) => [placeOf(cell), cell]));
    this.says = document.getElementById("map-says");
    this.line = document.getElementById("line");
    this.save = document.getElementById("save");
  }

  // The cells set by hand in the revision that is shown.
  savedCells() {
    const set = this.cells.flat().filter((cell) => cell.dataset.set !== undefined);
    return Object.fromEntries(set.map((cell) => [placeOf(cell), [Number(cell.dataset.set), cell.dataset.reason]]));
  }

  // The cells that a refused save had typed.
  typedCells() {
    const typed = this.root.dataset.typed;
    if (!typed) return null;
    return Object.fromEntries(JSON.parse(typed).map(([row, column, deg, reason]) => [`${row}-${column}`, [deg, reason]]));
  }

  draw(cell, pending) {
    const shown = this.named.get(`${cell.row}-${cell.column}`);
    shown.textContent = cell.text;
    shown.className = cell.classes + (pending ? " pending" : "");
    shown.dataset.value = cell.value;
    shown.setAttribute("aria-label", cell.label + (pending ? ", not saved" : ""));
  }

  // Put back what a cell showed before it was typed into.
  redraw() {
    for (const cell of this.cells.flat()) {
      cell.querySelector("input")?.remove();
      if (cell.dataset.before !== undefined) {
        cell.textContent = cell.dataset.before;
        delete cell.dataset.before;
      }
    }
  }

  say(text, warns = false) {
    this.says.textContent = text;
    this.says.classList.toggle("warns", warns);
    delete this.says.dataset.cell;
  }

  // Where the reasons of a cell stand below the map, out of sight, the line above it says what a cell stands over.
  sayOver(cell) {
    if (cell.classList.contains("over")) {
      this.say(cell.getAttribute("aria-label"), true);
      this.says.dataset.cell = placeOf(cell);
    } else if (this.says.dataset.cell) this.say("");
  }

  told(answer) {
    this.say(answer.says.join(" "), answer.over);
    if (this.save) {
      this.save.hidden = answer.changed === 0;
      document.getElementById("pending").textContent = answer.pending;
    }
  }

  buttons(work) {
    for (const name of ["undo", "redo"]) {
      const button = document.querySelector(`#map-tools [data-do="${name}"]`);
      if (button) button.disabled = !work[name].length;
    }
  }

  select(selection) {
    this.cells.forEach((line, i) =>
      line.forEach((cell, j) => {
        const inside = selection.holds(i, j);
        if (inside !== (cell.getAttribute("aria-selected") === "true")) cell.setAttribute("aria-selected", String(inside));
        cell.tabIndex = selection.isHead(i, j) ? 0 : -1;
      }),
    );
  }

  position(element) {
    const cell = element?.closest?.("#map-grid td[role=gridcell]");
    return cell ? { row: cell.parentElement.sectionRowIndex, column: cell.cellIndex - 1 } : null;
  }

  markLine(name) {
    this.line.value = name;
    for (const each of [...this.columnHeads, ...this.rowHeads]) {
      if (each.dataset.line === name) each.setAttribute("aria-current", "true");
      else each.removeAttribute("aria-current");
    }
  }

  // A sentence above the map with work that may be brought here or dropped.
  offer(sentence, bring, drop) {
    const box = document.createElement("div");
    box.className = "say";
    const words = document.createElement("p");
    words.textContent = sentence;
    const [bringing, dropping] = ["Bring them here", "Drop them"].map((text) => {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = text;
      return button;
    });
    box.append(words, bringing, " ", dropping);
    for (const [button, act] of [[bringing, bring], [dropping, drop]]) {
      button.addEventListener("click", () => {
        box.remove();
        act();
      });
    }
    this.root.prepend(box);
  }
}

export function placeOf(cell) {
  return `${cell.dataset.row}-${cell.dataset.column}`;
}

// A pair of cells as the server takes a block: row and column of one corner and of the other.
export function corners(one, other) {
  return [one, other].flatMap((cell) => [Number(cell.dataset.row), Number(cell.dataset.column)]);
}
