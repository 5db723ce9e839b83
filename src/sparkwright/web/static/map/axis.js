// The nodes of an axis and where they lie on the screen, and straight lines between.

export class Axis {
  constructor(nodes, places) {
    // Along the axis rising, whichever way it runs on the screen.
    const order = nodes.map((_, i) => i).sort((one, other) => nodes[one] - nodes[other]);
    this.nodes = order.map((i) => nodes[i]);
    this.places = order.map((i) => places[i]);
  }

  // Whether more stands further up, or further left.
  get fallsOnScreen() {
    return this.places[0] > this.places.at(-1);
  }

  within(value) {
    return Math.min(Math.max(value, this.nodes[0]), this.nodes.at(-1));
  }

  placeOf(value) {
    return carried(this.within(value), this.nodes, this.places);
  }

  valueAt(place) {
    const [nodes, places] = [this.nodes, this.places];
    return places[0] < places.at(-1) ? carried(place, places, nodes) : carried(place, [...places].reverse(), [...nodes].reverse());
  }

  // The next node in the direction of a step.
  beside(value, step) {
    const nodes = step > 0 ? this.nodes : [...this.nodes].reverse();
    return nodes.find((node) => (node - value) * step > 1e-9) ?? nodes.at(-1);
  }
}

// A place between rising points carried to others, held at the ends.
function carried(value, from, to) {
  if (value <= from[0]) return to[0];
  if (value >= from.at(-1)) return to.at(-1);
  const i = from.findIndex((each) => each > value) - 1;
  return to[i] + ((value - from[i]) / (from[i + 1] - from[i])) * (to[i + 1] - to[i]);
}
