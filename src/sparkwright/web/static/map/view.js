// The grid under hand: what is selected, by keyboard, mouse and finger.

import { corners } from "./draw.js";
import { Selection } from "./selection.js";

const stacked = matchMedia("(max-width: 1100px)");

export class View {
  constructor(page, looked) {
    this.page = page;
    this.looked = looked;
    this.selection = new Selection(page.cells.length, page.cells[0].length);
    this.editor = null;
    this.dragging = false;
    this.ranging = false;
  }

  get headCell() {
    const { row, column } = this.selection.head;
    return this.page.cells[row][column];
  }

  block() {
    const { top, bottom, left, right } = this.selection.span;
    return corners(this.page.cells[top][left], this.page.cells[bottom][right]);
  }

  select(row, column, extend = false, focus = true) {
    this.selection.move(row, column, extend);
    this.page.select(this.selection);
    if (focus) this.headCell.focus();
    if (stacked.matches) this.page.sayOver(this.headCell);
    this.looked(this.headCell);
  }

  extendTo(row, column, otherRow, otherColumn) {
    this.selection.anchor = { row, column };
    this.select(otherRow, otherColumn, true);
  }

  selectAround(cells) {
    const places = cells.map(({ row, column }) => this.page.position(this.page.named.get(`${row}-${column}`)));
    if (!places.length) return;
    const [rows, columns] = [places.map((each) => each.row), places.map((each) => each.column)];
    this.select(Math.min(...rows), Math.min(...columns));
    this.select(Math.max(...rows), Math.max(...columns), true);
  }

  selectAll() {
    this.extendTo(0, 0, this.selection.height - 1, this.selection.width - 1);
  }

  inGrid() {
    const { grid } = this.page;
    return !this.editor.open && grid.contains(document.activeElement) && this.page.position(document.activeElement);
  }

  range(button) {
    this.ranging = !this.ranging;
    button.setAttribute("aria-pressed", String(this.ranging));
    this.page.grid.classList.toggle("ranging", this.ranging);
    this.page.say(this.ranging ? "Draw over the cells you want." : "");
  }

  listen(change, along) {
    this.page.grid.addEventListener("keydown", (event) => this.#key(event, change));
    this.#listenToPointer(along);
  }

  #key(event, change) {
    if (this.editor.open) return this.editor.key(event);
    if (!this.page.position(event.target)) return this.#headKey(event);
    const { selection } = this;
    const { row, column } = selection.head;
    const control = event.ctrlKey || event.metaKey;
    const jump = event.altKey ? undefined : selection.jump({ key: event.key, control });
    if (jump) this.#jump(jump, event.shiftKey, control);
    else if (control && !event.altKey && "aA".includes(event.key)) this.selectAll();
    else if (event.key === " " && event.shiftKey) this.extendTo(row, 0, row, selection.width - 1);
    else if (event.key === " " && control) this.extendTo(0, column, selection.height - 1, column);
    else if (event.key === "Delete" || event.key === "Backspace") change({ do: "give back" });
    else if (event.key === "F2" || event.key === "Enter") this.editor.begin();
    else if (event.key === "Escape") this.select(row, column);
    else if (!control && !event.altKey && /^[-+0-9.,]$/.test(event.key)) this.editor.begin(event.key);
    else return undefined;
    event.preventDefault();
    return undefined;
  }

  // By an arrow past the edge to the heads of columns and rows.
  #jump([down, across], extend, control) {
    const { head } = this.selection;
    const row = head.row + down;
    const column = head.column + across;
    if (!extend && !control && down === -1 && row < 0) this.page.columnHeads[head.column].focus();
    else if (!extend && !control && across === -1 && column < 0) this.page.rowHeads[head.row].focus();
    else this.select(row, column, extend);
  }

  #headKey(event) {
    const { rowHeads, columnHeads } = this.page;
    const row = rowHeads.indexOf(event.target);
    const column = columnHeads.indexOf(event.target);
    if (column >= 0) {
      if (event.key === "ArrowDown") this.select(0, column);
      else if (event.key === "ArrowLeft") columnHeads[Math.max(column - 1, 0)].focus();
      else if (event.key === "ArrowRight") columnHeads[Math.min(column + 1, columnHeads.length - 1)].focus();
      else return;
    } else if (row >= 0) {
      if (event.key === "ArrowRight") this.select(row, 0);
      else if (event.key === "ArrowUp") rowHeads[Math.max(row - 1, 0)].focus();
      else if (event.key === "ArrowDown") rowHeads[Math.min(row + 1, rowHeads.length - 1)].focus();
      else return;
    } else return;
    event.preventDefault();
  }

  #listenToPointer(along) {
    const { grid } = this.page;
    grid.addEventListener("pointerdown", (event) => {
      const at = this.page.position(event.target);
      if (!at || event.button !== 0 || event.target.tagName === "INPUT") return;
      if (this.editor.open) this.editor.finish(true);
      if (event.pointerType !== "mouse" && !this.ranging) return;
      this.select(at.row, at.column, event.shiftKey);
      this.dragging = true;
      if (event.target.hasPointerCapture?.(event.pointerId)) event.target.releasePointerCapture(event.pointerId);
      event.preventDefault();
    });
    grid.addEventListener("pointermove", (event) => {
      if (!this.dragging) return;
      const at = this.page.position(document.elementFromPoint(event.clientX, event.clientY));
      if (at && !this.selection.isHead(at.row, at.column)) this.select(at.row, at.column, true);
    });
    for (const name of ["pointerup", "pointercancel"]) {
      document.addEventListener(name, () => {
        this.dragging = false;
      });
    }
    grid.addEventListener("click", (event) => {
      const at = this.page.position(event.target);
      const byFinger = event.pointerType !== "mouse" && !this.ranging;
      if (at && byFinger && event.target.tagName !== "INPUT") this.select(at.row, at.column);
      const link = event.target.closest("a[data-line]");
      if (link) {
        event.preventDefault();
        along(link.dataset.line);
      }
    });
    grid.addEventListener("dblclick", (event) => {
      if (this.page.position(event.target) && !this.editor.open) this.editor.begin();
    });
  }
}
