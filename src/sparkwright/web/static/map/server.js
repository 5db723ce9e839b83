// Every change is asked of the server, one question after the other so that steps keep their order.

import { placeOf } from "./draw.js";
import { numbers } from "./state.js";

export class Server {
  constructor(page, work, changed) {
    Object.assign(this, { page, work, changed });
    this.queue = Promise.resolve();
    this.timers = {};
    this.drawnFor = "";
    this.askedWhy = "";
    this.beside = matchMedia("(min-width: 1181px)");
    this.narrow = matchMedia("(max-width: 1020px), (min-width: 1181px)");
    this.narrow.addEventListener("change", () => {
      if (work.pending().length) this.drawLines();
    });
  }

  async post(path, what) {
    const answer = await fetch(this.page.base + path, {
      method: "POST",
      headers: { "content-type": "application/json", "hx-request": "true" },
      body: JSON.stringify({ number: Number(this.page.number), hand: this.work.asked(), ...what }),
    });
    if (!answer.ok) throw new Error((await answer.text()).slice(0, 400));
    return answer.json();
  }

  // Ask in turn; a wish may be a function, for what isn't known before its turn comes. Gives the cells answered.
  ask(wish) {
    const { page, work } = this;
    this.queue = this.queue.then(async () => {
      try {
        const what = typeof wish === "function" ? wish() : wish;
        const answer = await this.post("/try", what);
        if (what.do !== "show") {
          work.take(work.answered(answer.cells));
          this.changed();
        }
        for (const cell of answer.cells) page.draw(cell, work.isPending(`${cell.row}-${cell.column}`));
        page.told(answer);
        page.buttons(work);
        this.later("drawn", 250, () => this.drawLines());
        this.later("why", 120, () => this.why());
        return answer.cells;
      } catch (problem) {
        page.say(problem instanceof TypeError ? "The workbench doesn't answer. What you changed is still here." : problem.message);
        page.redraw();
        return [];
      }
    });
    return this.queue;
  }

  show(places = () => []) {
    return this.ask(() => ({ do: "show", also: places().map(numbers) }));
  }

  // Go a step back or forward when its turn comes, and show what it touched.
  step(go) {
    let touched = [];
    this.queue = this.queue.then(() => {
      touched = go();
      this.changed();
    });
    this.show(() => touched);
  }

  later(name, milliseconds, act) {
    clearTimeout(this.timers[name]);
    this.timers[name] = setTimeout(act, milliseconds);
  }

  dropLater(name) {
    clearTimeout(this.timers[name]);
  }

  async drawLines() {
    const asked = { line: this.page.line.value, narrow: this.narrow.matches };
    const now = JSON.stringify([this.work.hand, asked]);
    if (now === this.drawnFor) return;
    this.drawnFor = now;
    try {
      const parts = await this.post("/drawn", asked);
      if (now !== this.drawnFor) return;
      for (const name of ["ribbon", "contours"]) document.getElementById(name).innerHTML = parts[name];
    } catch {
      this.drawnFor = "";
    }
  }

  along(name) {
    const { base, number } = this.page;
    this.page.markLine(name);
    if (this.work.pending().length) this.drawLines();
    else htmx.ajax("GET", `${base}/ribbon?number=${number}&line=${encodeURIComponent(name)}`, { target: "#ribbon", swap: "innerHTML" });
  }

  // Show why the cell has its value.
  whyOf(cell) {
    this.cell = cell;
    this.later("why", 120, () => {
      this.why();
      if (this.beside.matches) this.follow();
    });
  }

  // Where the ribbon stands beside the grid it goes with the cell, along the axis that was chosen.
  follow() {
    const overLoad = this.page.line.value.startsWith("rpm-");
    const columns = this.cell.closest("table").tHead.rows[0];
    const head = overLoad ? columns.cells[this.cell.cellIndex] : this.cell.parentElement.cells[0];
    const name = head.querySelector("[data-line]").dataset.line;
    if (name !== this.page.line.value) this.along(name);
  }

  why() {
    const { base, number } = this.page;
    const place = placeOf(this.cell);
    let address = `${base}/why?cell=${place}&number=${number}`;
    if (this.work.isPending(place)) address += `&deg=${this.work.hand[place] ? this.work.hand[place][0] : "plan"}`;
    if (address === this.askedWhy) return;
    this.askedWhy = address;
    htmx.ajax("GET", address, { target: "#why", swap: "innerHTML" });
  }
}
