// A point that moves over the map, by finger, mouse, arrow keys and two fields. The server says what is commanded
// there; here the point is only drawn and asked about, one question at a time.

import { Axis } from "./axis.js";

const ASK_AFTER_MS = 60;
const KEYS = { ArrowLeft: ["rpm", -1], ArrowRight: ["rpm", 1], ArrowDown: ["load", -1], ArrowUp: ["load", 1] };

// Asks about the newest place when the last answer is there.
class Question {
  constructor(address, said) {
    Object.assign(this, { address, said, wanted: null, busy: false });
  }

  about(place) {
    this.wanted = place;
    if (this.busy) return;
    this.busy = true;
    setTimeout(() => this.#ask(), ASK_AFTER_MS);
  }

  async #ask() {
    const asked = this.wanted;
    try {
      const answer = await fetch(`${this.address}&${new URLSearchParams(asked)}`, { headers: { "hx-request": "true" } });
      this.said(await answer.text(), answer.ok || answer.status === 422);
    } catch {
      this.said("The workbench doesn't answer.", false);
    }
    this.busy = false;
    if (this.wanted !== asked) this.about(this.wanted);
  }
}

class Point {
  constructor(grid, box, root) {
    Object.assign(this, { grid, wide: grid.parentElement, box });
    this.fields = { rpm: document.getElementById("driven-rpm"), load: document.getElementById("driven-load") };
    // Loads stand as the controller has them, and fall up the screen where those are vacuum.
    const loadStep = Number(this.fields.load.dataset.step);
    this.steps = { rpm: 50, load: loadStep };
    this.roundedTo = { rpm: 10, load: loadStep / 2 };
    this.says = document.getElementById("driven-says");
    this.ring = document.createElement("button");
    this.ring.type = "button";
    this.ring.id = "driven-ring";
    this.ring.setAttribute("aria-label", "Point on the map: arrow keys move it");
    this.ring.setAttribute("aria-describedby", "driven-says");
    this.ring.hidden = true;
    this.wide.append(this.ring);
    const { base, number } = root.dataset;
    this.question = new Question(`${base}/at?number=${number}`, (text, isPart) => {
      if (isPart) this.says.innerHTML = text;
      else this.says.textContent = text.slice(0, 400);
    });
  }

  // The grid's cells as they lie now: they move with the window and with the letters.
  axes() {
    const frame = this.wide.getBoundingClientRect();
    const columns = [...this.grid.tHead.rows[0].querySelectorAll("a")];
    const rows = [...this.grid.tBodies[0].rows].map((row) => row.querySelector("th a"));
    const middle = (link, start, size) => link.closest("th").getBoundingClientRect()[start] + link.closest("th").getBoundingClientRect()[size] / 2;
    return {
      rpm: new Axis(columns.map(speedOf), columns.map((link) => middle(link, "left", "width") - frame.left + this.wide.scrollLeft)),
      load: new Axis(rows.map((link) => Number(link.dataset.load)), rows.map((link) => middle(link, "top", "height") - frame.top + this.wide.scrollTop)),
    };
  }

  draw() {
    const { rpm, load } = this.axes();
    this.ring.hidden = !this.box.open;
    this.ring.style.left = `${rpm.placeOf(Number(this.fields.rpm.value))}px`;
    this.ring.style.top = `${load.placeOf(Number(this.fields.load.value))}px`;
  }

  ask() {
    this.draw();
    if (this.box.open) this.question.about({ rpm: this.fields.rpm.value, load: this.fields.load.value });
  }

  moveTo(values) {
    const axes = this.axes();
    for (const [name, value] of Object.entries(values)) {
      const rounded = Math.round(value / this.roundedTo[name]) * this.roundedTo[name];
      this.fields[name].value = axes[name].within(axes[name].nodes.includes(value) ? value : rounded);
    }
    this.ask();
  }

  listen() {
    this.box.addEventListener("toggle", () => this.ask());
    addEventListener("resize", () => this.draw());
    for (const field of Object.values(this.fields)) field.addEventListener("input", () => this.ask());
    document.getElementById("driven-form").addEventListener("submit", (event) => {
      event.preventDefault();
      this.ask();
    });
    this.ring.addEventListener("keydown", (event) => this.#key(event));
    this.ring.addEventListener("pointerdown", (event) => {
      this.ring.setPointerCapture(event.pointerId);
      this.dragging = true;
    });
    this.ring.addEventListener("pointermove", (event) => {
      if (!this.dragging) return;
      const frame = this.wide.getBoundingClientRect();
      const { rpm, load } = this.axes();
      this.moveTo({
        rpm: rpm.valueAt(event.clientX - frame.left + this.wide.scrollLeft),
        load: load.valueAt(event.clientY - frame.top + this.wide.scrollTop),
      });
    });
    for (const name of ["pointerup", "pointercancel"]) {
      this.ring.addEventListener(name, () => {
        this.dragging = false;
      });
    }
  }

  #key(event) {
    const key = KEYS[event.key];
    if (!key || event.ctrlKey || event.altKey || event.metaKey) return;
    const [name, onScreen] = key;
    const now = Number(this.fields[name].value);
    const axis = this.axes()[name];
    const by = onScreen * this.steps[name] * (axis.fallsOnScreen === (name === "load") ? 1 : -1);
    this.moveTo({ [name]: event.shiftKey ? axis.beside(now, by) : now + by });
    this.ring.scrollIntoView({ block: "nearest", inline: "nearest" });
    event.preventDefault();
  }
}

function speedOf(link) {
  return Number(link.dataset.line.split("-").slice(1).join("-"));
}

export function drivePoint({ grid, root }) {
  const point = new Point(grid, document.getElementById("driven"), root);
  point.listen();
  point.draw();
}
