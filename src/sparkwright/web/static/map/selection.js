// Which cells are selected. Rows and columns count from the top left, as the map stands on the page.

export class Selection {
  constructor(height, width) {
    this.height = height;
    this.width = width;
    this.anchor = { row: 0, column: 0 };
    this.head = { row: 0, column: 0 };
  }

  move(row, column, extend = false) {
    this.head = { row: within(row, this.height), column: within(column, this.width) };
    if (!extend) this.anchor = { ...this.head };
  }

  get span() {
    const { anchor, head } = this;
    return {
      top: Math.min(anchor.row, head.row),
      bottom: Math.max(anchor.row, head.row),
      left: Math.min(anchor.column, head.column),
      right: Math.max(anchor.column, head.column),
    };
  }

  holds(row, column) {
    const { top, bottom, left, right } = this.span;
    return row >= top && row <= bottom && column >= left && column <= right;
  }

  isHead(row, column) {
    return row === this.head.row && column === this.head.column;
  }

  places() {
    const { top, bottom, left, right } = this.span;
    const found = [];
    for (let row = top; row <= bottom; row += 1) for (let column = left; column <= right; column += 1) found.push([row, column]);
    return found;
  }

  // How far a key goes, [down, across]; nothing where it is none that moves.
  jump({ key, control }) {
    const far = control && key.startsWith("Arrow") ? Math.max(this.height, this.width) : 1;
    const jumps = {
      ArrowUp: [-far, 0],
      ArrowDown: [far, 0],
      ArrowLeft: [0, -far],
      ArrowRight: [0, far],
      PageUp: [-this.height, 0],
      PageDown: [this.height, 0],
      Home: [control ? -this.height : 0, -this.width],
      End: [control ? this.height : 0, this.width],
    };
    return jumps[key];
  }
}

function within(index, count) {
  return Math.min(Math.max(index, 0), count - 1);
}
