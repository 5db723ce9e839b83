// A point that moves over the map, by finger, mouse, arrow keys and two fields. The server says what is commanded
// there; here the point is only drawn and asked about, one question at a time.

import { Axis } from "./axis.js";

const ASK_AFTER_MS = 60;
const STEPS = { ArrowLeft: ["rpm", -50], ArrowRight: ["rpm", 50], ArrowDown: ["kpa", -1], ArrowUp: ["kpa", 1] };
const ROUNDED_TO = { rpm: 10, kpa: 0.5 };

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
    this.fields = { rpm: document.getElementById("driven-rpm"), kpa: document.getElementById("driven-kpa") };
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
      rpm: new Axis(columns.map(nodeOf), columns.map((link) => middle(link, "left", "width") - frame.left + this.wide.scrollLeft)),
      kpa: new Axis(rows.map(nodeOf), rows.map((link) => middle(link, "top", "height") - frame.top + this.wide.scrollTop)),
    };
  }

  draw() {
    const { rpm, kpa } = this.axes();
    this.ring.hidden = !this.box.open;
    this.ring.style.left = `${rpm.placeOf(Number(this.fields.rpm.value))}px`;
    this.ring.style.top = `${kpa.placeOf(Number(this.fields.kpa.value))}px`;
  }

  ask() {
    this.draw();
    if (this.box.open) this.question.about({ rpm: this.fields.rpm.value, kpa: this.fields.kpa.value });
  }

  moveTo(values) {
    const axes = this.axes();
    for (const [name, value] of Object.entries(values)) {
      const rounded = Math.round(value / ROUNDED_TO[name]) * ROUNDED_TO[name];
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
      const { rpm, kpa } = this.axes();
      this.moveTo({
        rpm: rpm.valueAt(event.clientX - frame.left + this.wide.scrollLeft),
        kpa: kpa.valueAt(event.clientY - frame.top + this.wide.scrollTop),
      });
    });
    for (const name of ["pointerup", "pointercancel"]) {
      this.ring.addEventListener(name, () => {
        this.dragging = false;
      });
    }
  }

  #key(event) {
    const step = STEPS[event.key];
    if (!step || event.ctrlKey || event.altKey || event.metaKey) return;
    const [name, by] = step;
    const now = Number(this.fields[name].value);
    this.moveTo({ [name]: event.shiftKey ? this.axes()[name].beside(now, by) : now + by });
    this.ring.scrollIntoView({ block: "nearest", inline: "nearest" });
    event.preventDefault();
  }
}

function nodeOf(link) {
  return Number(link.dataset.line.split("-").slice(1).join("-"));
}

export function drivePoint({ grid, root }) {
  const point = new Point(grid, document.getElementById("driven"), root);
  point.listen();
  point.draw();
}
