// The light page: readings that are kept in the browser first. Without this script the form stands alone.
"use strict";

const NUMBER = /^\s*[-+\u2212]?\d+([.,]\d+)?\s*$/;
const FACTS = ["commanded_deg", "speed_rpm", "seen_deg"];

// ---- Keeping. What is no number is left to the workbench to refuse, and waits nowhere but in its field.

function readingOf(form) {
  const fields = Object.fromEntries([...new FormData(form)].filter(([, value]) => typeof value === "string"));
  return { sent_as: fields.sent_as, job: form.dataset.job, name: form.dataset.name, fields };
}

function isPlain(form) {
  return FACTS.every((name) => NUMBER.test(form.elements[name].value)) && form.elements.who.value.trim() !== "";
}

// Ready for the next reading, which is one of its own.
function clear(form) {
  form.elements.sent_as.value = waiting.newName();
  form.elements.seen_deg.value = "";
  form.elements.note.value = "";
}

async function sayKept(form, reading, why) {
  const { seen_deg: seen, speed_rpm: rpm } = reading.fields;
  clear(form);
  await waiting.tell();
  const line = form.querySelector(".told-line");
  const kept = Object.assign(document.createElement("b"), { textContent: `Kept ${waiting.HERE}:` });
  line.replaceChildren(kept, ` ${seen} deg seen at ${rpm} rpm. ${why}`);
}

document.addEventListener("htmx:confirm", async (event) => {
  const form = event.target;
  if (!form.matches(".reading-form")) return;
  event.preventDefault();
  delete form.dataset.keptHere;
  if (isPlain(form)) {
    const reading = readingOf(form);
    waiting.underWay.add(reading.sent_as);
    // Should the form be gone before it was sent, what was kept is sent like anything else that waits.
    setTimeout(() => waiting.underWay.delete(reading.sent_as), 2 * WAIT_MS);
    try {
      await waiting.keep(reading);
      form.dataset.keptHere = JSON.stringify(reading);
    } catch {
      // A browser that keeps nothing: the reading is in its field until the workbench has it.
    }
  }
  event.detail.issueRequest(true);
});

for (const name of ["htmx:beforeSwap", "htmx:sendError", "htmx:timeout"]) {
  document.addEventListener(name, (event) => answered(event.detail.requestConfig.elt, event.detail.xhr));
}

async function answered(form, xhr) {
  if (!form.dataset.keptHere || form.dataset.answered === form.dataset.keptHere) return;
  form.dataset.answered = form.dataset.keptHere;
  const reading = JSON.parse(form.dataset.keptHere);
  // Kept by the workbench, or refused and in its field again: nothing waits. Under way until this browser has let
  // go of it, or it could be sent once more meanwhile.
  if (xhr.getResponseHeader("kept-as") === reading.sent_as || xhr.status === 422) {
    await waiting.drop(reading.sent_as);
    waiting.underWay.delete(reading.sent_as);
    return;
  }
  waiting.underWay.delete(reading.sent_as);
  await sayKept(form, reading, xhr.status ? xhr.responseText.slice(0, 300) : "The workbench doesn't answer.");
  waiting.send();
}

// ---- What has to be known without the workbench, and what is new once it answers.

function setOut() {
  const light = document.getElementById("light");
  if (!light?.dataset.known) return;
  waiting.know({ ...JSON.parse(light.dataset.known), at: Date.now() }).catch(() => {});
  const off = document.getElementById("offline-off");
  waiting.helped.then((helped) => { if (off) off.hidden = helped; });
}

document.addEventListener("waiting:sent", (event) => {
  const form = document.querySelector(".reading-form[hx-post]");
  if (!form || !event.detail.some((each) => each.job === form.dataset.job)) return;
  if (form.elements.seen_deg.value || form.elements.note.value) return;
  htmx.ajax("GET", `/jobs/${form.dataset.job}/light?set=${event.detail.at(-1).fields.set}`, { target: "#light", swap: "outerHTML" });
});

// Figures that were typed while the page was asked for anew are not lost for it.
document.addEventListener("htmx:beforeSwap", (event) => {
  const { target, requestConfig } = event.detail;
  const typed = target.id === "light" && document.querySelector(".reading-form").elements.seen_deg.value;
  if (typed && requestConfig.verb === "get") event.detail.shouldSwap = false;
});

setOut();
document.addEventListener("htmx:afterSettle", setOut);
