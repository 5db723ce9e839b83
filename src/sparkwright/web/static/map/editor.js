// Typing into a cell.

import { corners } from "./draw.js";

export class Editor {
  constructor(view, change) {
    Object.assign(this, { view, change, open: null });
  }

  begin(first) {
    if (this.view.page.readOnly) {
      this.change({});
      return;
    }
    const cell = this.view.headCell;
    const input = document.createElement("input");
    input.inputMode = "decimal";
    input.autocomplete = "off";
    input.value = first ?? cell.dataset.value;
    input.setAttribute("aria-label", `New advance in degrees, ${cell.getAttribute("aria-label").split(":")[0]}`);
    this.open = { cell, input, typed: first !== undefined };
    cell.dataset.before = cell.textContent;
    cell.append(input);
    input.focus();
    if (first === undefined) input.select();
    input.addEventListener("blur", () => this.finish(true));
  }

  finish(taken, everywhere = false) {
    if (!this.open) return;
    const { cell, input } = this.open;
    const text = input.value.trim();
    this.open = null;
    const where = everywhere ? this.view.block() : corners(cell, cell);
    input.remove();
    if (taken && text !== "" && text !== cell.dataset.value) {
      cell.textContent = text;
      this.change({ do: "set", text }, where).then(() => delete cell.dataset.before);
    } else {
      delete cell.dataset.before;
    }
  }

  key(event) {
    const { head } = this.view.selection;
    const moves = { Enter: [event.shiftKey ? -1 : 1, 0], Tab: [0, event.shiftKey ? -1 : 1] };
    if (this.open.typed) Object.assign(moves, { ArrowUp: [-1, 0], ArrowDown: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] });
    if (event.key === "Escape") {
      this.finish(false);
      this.view.select(head.row, head.column);
    } else if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) {
      this.finish(true, true);
      this.view.select(head.row, head.column, true);
    } else if (moves[event.key]) {
      const [down, across] = moves[event.key];
      this.finish(true);
      this.view.select(head.row + down, head.column + across);
    } else {
      return;
    }
    event.preventDefault();
  }
}
