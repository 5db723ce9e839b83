// The page of the day at the dyno: points and knock that are kept in the browser before they are sent, what was asked
// for while the workbench answered, and the seconds at a late point. Without this script the form stands alone.
"use strict";

(() => {
  const NUMBER = /^\s*[-+\u2212]?\d[\d,.]*\s*$/;
  const FACTS = ["speed_rpm", "map_kpa", "advance_deg"];
  const SEND_MS = 20000;
  const offline = document.getElementById("offline-dyno");
  let lateSince = null;

  function form() {
    return document.querySelector(".point-form");
  }

  // ---- Keeping.

  // What a form would send, with what a person knows it by; `heard` where a knock button was pressed.
  function readingOf(job, name, heard) {
    const fields = Object.fromEntries([...new FormData(form())].filter(([, value]) => typeof value === "string"));
    if (heard) fields.heard = heard;
    const at = `${fields.advance_deg} deg, ${fields.speed_rpm} rpm and ${fields.map_kpa} kPa`;
    const what = heard ? `${heard} knock at ${at}` : `${fields.torque} ${fields.torque_unit} at ${at}`;
    return {
      sent_as: fields.sent_as, job, name, fields,
      to: heard ? "dyno/knock" : "dyno/points", page: "dyno", first: heard ? "advance_deg" : "torque",
      words: `${what}, of ${name}`,
    };
  }

  function isPlain(heard) {
    const { elements } = form();
    const names = heard ? FACTS : [...FACTS, "torque"];
    return names.every((name) => NUMBER.test(elements[name].value)) && elements.who.value.trim() !== "";
  }

  async function sayKept(reading, why) {
    const { elements } = form();
    elements.sent_as.value = waiting.newName();
    if (!reading.fields.heard) elements.torque.value = "";
    await waiting.tell();
    const kept = Object.assign(document.createElement("b"), { textContent: `Kept ${waiting.HERE}:` });
    form().querySelector(".told-line").replaceChildren(kept, ` ${reading.words}. ${why}`);
  }

  document.addEventListener("htmx:confirm", async (event) => {
    const from = event.target;
    if (!from.closest(".point-form")) return;
    event.preventDefault();
    const { job, name } = document.getElementById("dyno").dataset;
    const heard = from.value && from.dataset.to ? from.value : "";
    delete form().dataset.keptHere;
    if (isPlain(heard)) {
      const reading = readingOf(job, name, heard);
      waiting.underWay.add(reading.sent_as);
      setTimeout(() => waiting.underWay.delete(reading.sent_as), SEND_MS);
      try {
        await waiting.keep(reading);
        form().dataset.keptHere = JSON.stringify(reading);
      } catch {
        // A browser that keeps nothing: it is in its fields until the workbench has it.
      }
    }
    event.detail.issueRequest(true);
  });

  for (const name of ["htmx:beforeSwap", "htmx:sendError", "htmx:timeout"]) {
    document.addEventListener(name, (event) => answered(event.detail.requestConfig.elt, event.detail.xhr));
  }

  async function answered(from, xhr) {
    const at = from.closest?.(".point-form");
    if (!at?.dataset.keptHere) return;
    const reading = JSON.parse(at.dataset.keptHere);
    delete at.dataset.keptHere;
    if (xhr.getResponseHeader("kept-as") === reading.sent_as || xhr.status === 422) {
      // Under way until it is dropped: else it could be sent again meanwhile, and the page fetched anew under a hand.
      await waiting.drop(reading.sent_as);
      waiting.underWay.delete(reading.sent_as);
      return;
    }
    waiting.underWay.delete(reading.sent_as);
    await sayKept(reading, xhr.status ? xhr.responseText.slice(0, 300) : "The workbench doesn't answer.");
    waiting.send();
  }

  document.addEventListener("waiting:sent", (event) => {
    const job = document.getElementById("dyno")?.dataset.job;
    if (!job || !event.detail.some((each) => each.job === job && each.page === "dyno")) return;
    if (form().elements.torque.value) return;
    htmx.ajax("GET", `/jobs/${job}/dyno`, { target: "#dyno", swap: "outerHTML" });
  });

  // ---- What is asked for goes into the fields, and is known without the workbench.

  function takeAsks() {
    const place = document.querySelector("#ask-box [data-asks]");
    if (!place || place.dataset.taken) return;
    place.dataset.taken = "yes";
    const asks = JSON.parse(place.dataset.asks);
    if (asks.length) fill(asks[0]);
    const { job, name, brightness } = document.getElementById("dyno").dataset;
    const who = form().elements.who.value;
    waiting.know({ key: `dyno:${job}`, dyno: true, job, name, asks, who, brightness, at: Date.now() }).catch(() => {});
    lookLate();
  }

  function fill(ask) {
    const { elements } = form();
    if (!elements.advance_deg.value) elements.advance_deg.value = ask.advance_deg;
    if (!elements.speed_rpm.value) elements.speed_rpm.value = Math.round(ask.rpm);
    if (!elements.map_kpa.value) elements.map_kpa.value = Math.round(10 * ask.kpa) / 10;
  }

  // ---- A late point: seconds since its advance stood in the field.

  function lookLate() {
    const place = document.getElementById("late");
    const advance = parseFloat(form()?.elements.advance_deg.value.replace("\u2212", "-"));
    const late = place && advance < Number(place.dataset.lateBelow);
    if (!late) lateSince = null;
    else lateSince ??= Date.now();
    if (place) place.hidden = !late;
    if (late) sayLate();
  }

  function sayLate() {
    const place = document.getElementById("late");
    if (!place || lateSince === null) return;
    const seconds = Math.floor((Date.now() - lateSince) / 1000);
    const most = Number(place.dataset.hotS);
    place.textContent = seconds < most
      ? `Late point, ${seconds} s: the exhaust gets hot. Read it within ${most} s.`
      : `Late point, ${seconds} s: the exhaust is hot. Come off it now.`;
  }

  document.addEventListener("input", (event) => {
    if (event.target.name !== "advance_deg") return;
    lateSince = null;
    lookLate();
  });
  setInterval(sayLate, 1000);

  document.addEventListener("change", (event) => {
    if (event.target.name === "torque_unit") document.getElementById("torque-hint").textContent = event.target.value;
  });

  // ---- Without the workbench.

  async function standIn() {
    const path = /^\/jobs\/([^/]+)\/dyno$/.exec(location.pathname);
    const known = path && (await waiting.jobs().catch(() => [])).find((each) => each.key === `dyno:${decodeURIComponent(path[1])}`);
    if (!known) return;
    const { elements } = form();
    document.documentElement.dataset.brightness = known.brightness;
    document.title = `${known.name} - Sparkwright`;
    document.getElementById("job-name").textContent = known.name;
    elements.who.value ||= known.who;
    elements.sent_as.value = waiting.newName();
    await ask(known);
    form().addEventListener("submit", (event) => {
      event.preventDefault();
      keep(known, event.submitter?.dataset.to ? event.submitter.value : "");
    });
    offline.hidden = false;
    document.getElementById("without-form").hidden = true;
  }

  async function ask(known) {
    const kept = (await waiting.all()).filter((each) => each.job === known.job && each.to === "dyno/points");
    const next = known.asks[kept.length];
    const { elements } = form();
    document.getElementById("dyno-ask").textContent = next
      ? `${next.advance_deg} deg at ${Math.round(next.rpm)} rpm and ${Math.round(next.kpa)} kPa.`
      : "Read torque; the next point is said once the workbench answers.";
    if (!next) return;
    elements.advance_deg.value = "";
    fill(next);
  }

  async function keep(known, heard) {
    const said = document.getElementById("dyno-refused");
    said.hidden = isPlain(heard);
    if (!said.hidden) {
      said.textContent = form().elements.who.value.trim()
        ? "Not kept yet: speed, load, advance and torque must each be a number, such as 152.5."
        : "Not kept yet: say who measures; the history says who did what.";
      return;
    }
    const reading = readingOf(known.job, known.name, heard);
    try {
      await waiting.keep(reading);
    } catch {
      said.hidden = false;
      said.textContent = "This browser keeps nothing, so write it down; it is still in its fields.";
      return;
    }
    known.who = form().elements.who.value;
    await waiting.know(known);
    await sayKept(reading, "");
    await ask(known);
    waiting.send();
  }

  document.addEventListener("htmx:afterSettle", () => {
    takeAsks();
    lookLate();
  });
  if (offline) standIn();
})();
