// What is not saved yet: the cells set by hand as they stand here, and the steps that led to it. Knows no page.

export function same(one, other) {
  return JSON.stringify(one ?? null) === JSON.stringify(other ?? null);
}

// A place is "row-column" from the least load and speed; a cell set by hand is [degrees, reason]; a step is a list
// of [place, before, after], where null is a cell that the plan gives.
export class Work {
  constructor(saved) {
    this.saved = saved;
    this.hand = { ...saved };
    this.undo = [];
    this.redo = [];
  }

  get kept() {
    return { hand: this.hand, saved: this.saved, undo: this.undo, redo: this.redo };
  }

  resume({ hand, undo, redo }) {
    if (hand) this.hand = hand;
    this.undo = undo;
    this.redo = redo;
  }

  isPending(place) {
    return !same(this.saved[place], this.hand[place]);
  }

  pending() {
    return [...new Set([...Object.keys(this.saved), ...Object.keys(this.hand)])].filter((place) => this.isPending(place));
  }

  // The cells as the server takes them.
  asked() {
    return Object.entries(this.hand).map(([place, [deg, reason]]) => [...numbers(place), deg, reason ?? ""]);
  }

  take(step) {
    if (!step.length) return;
    this.undo.push(step);
    this.redo = [];
    for (const [place, , after] of step) this.put(place, after);
  }

  put(place, value) {
    if (value === null) delete this.hand[place];
    else this.hand[place] = value;
  }

  // Give back the places that moved, none where there is no step.
  undone() {
    return this.#moved(this.undo, this.redo, 1);
  }

  redone() {
    return this.#moved(this.redo, this.undo, 2);
  }

  #moved(from, to, side) {
    const last = from.pop();
    if (!last) return [];
    to.push(last);
    for (const each of last) this.put(each[0], each[side]);
    return last.map(([place]) => place);
  }

  // A value asked for; the reason of a cell stays while its value does.
  wanted(place, deg) {
    if (deg === null) return null;
    const before = this.hand[place];
    return before && before[0] === deg ? before : [deg, ""];
  }

  // What each kind of change does to the places it is asked for.
  answered(cells) {
    return cells
      .map(({ row, column, deg }) => [`${row}-${column}`, deg])
      .map(([place, deg]) => [place, this.hand[place] ?? null, this.wanted(place, deg)])
      .filter(([, before, after]) => !same(before, after));
  }

  reasoned(places, reason) {
    return places.map((place) => [place, this.hand[place], [this.hand[place][0], reason]]);
  }

  dropped() {
    return this.pending().map((place) => [place, this.hand[place] ?? null, this.saved[place] ?? null]);
  }

  // What other work changed, as a step from how it stands here.
  brought(before, isThere) {
    return [...new Set([...Object.keys(before.hand), ...Object.keys(before.saved)])]
      .filter((place) => isThere(place) && !same(before.hand[place], before.saved[place]))
      .map((place) => [place, this.hand[place] ?? null, before.hand[place] ?? null]);
  }
}

export function numbers(place) {
  return place.split("-").map(Number);
}

// Where a browser keeps unsaved work: one window's steps in its session, what is pending for any window besides.
export class Keeper {
  constructor(key, number, session, local) {
    this.prefix = `sparkwright-map:${key}:`;
    this.name = this.prefix + number;
    this.session = session;
    this.local = local;
  }

  // Whether the browser had room.
  keep(work) {
    try {
      this.session.setItem(this.name, JSON.stringify(work.kept));
      if (work.pending().length) this.local.setItem(this.name, JSON.stringify({ hand: work.hand, saved: work.saved }));
      else this.local.removeItem(this.name);
      return true;
    } catch {
      return false;
    }
  }

  ofWindow(name = this.name) {
    return read(this.session, name);
  }

  ofBrowser(name = this.name) {
    return read(this.local, name);
  }

  forget(name) {
    try {
      this.session.removeItem(name);
      this.local.removeItem(name);
    } catch {
      // A browser that keeps nothing has nothing to forget.
    }
  }

  // What is kept of other revisions of this job.
  others() {
    const names = [this.session, this.local].flatMap((storage) => Object.keys(storage));
    return [...new Set(names)].filter((name) => name.startsWith(this.prefix) && name !== this.name);
  }
}

function read(storage, name) {
  try {
    return JSON.parse(storage.getItem(name));
  } catch {
    return null;
  }
}
