// What every page needs and HTML alone can't do. No page depends on it to be read or saved.
"use strict";

// Said by htmx when an answer was refused: tell it where the person looks, and keep what was typed.
// What was kept in this browser first is told of beside its form (light.js).
const isSafe = (event) => event.detail.requestConfig.elt.dataset?.keptHere;
document.addEventListener("htmx:responseError", (event) => { if (!isSafe(event)) tell(event.detail.xhr.responseText); });
for (const name of ["htmx:sendError", "htmx:timeout"]) {
  document.addEventListener(name, (event) => { if (!isSafe(event)) noAnswer(); });
}
document.addEventListener("htmx:afterRequest", (event) => {
  // What a page asks by itself, as while a plan is worked out, is no answer to what the person sent.
  if (event.detail.successful && event.detail.requestConfig.verb !== "get") untell();
});

const ASK_AGAIN_MS = 3000;
const WAIT_MS = 10000;
let asking = 0;

// Stands in view until the workbench answers again, which is asked by itself; then what is to be done stands there.
function noAnswer() {
  tell("The workbench doesn't answer. What you typed is still here; is it still running?");
  clearInterval(asking);
  asking = setInterval(askAgain, ASK_AGAIN_MS);
}

async function askAgain() {
  const ours = document.querySelector('link[rel="icon"]').href;
  try {
    await fetch(ours, { cache: "no-store", signal: AbortSignal.timeout(ASK_AGAIN_MS) });
    clearInterval(asking);
    tell("The workbench answers again. What you typed is still here: send it once more.");
  } catch {
    // Still none; the next one comes by itself.
  }
}

function untell() {
  clearInterval(asking);
  document.getElementById("told")?.remove();
}

function tell(sentence) {
  let place = document.getElementById("told");
  if (!place) {
    place = document.createElement("div");
    place.id = "told";
    place.className = "say";
    place.setAttribute("role", "alert");
    document.getElementById("main").prepend(place);
  }
  place.textContent = sentence.slice(0, 500);
}

// On a phone the steps are a row: begin it at the step where the person is. The page itself stays where it is.
const step = document.querySelector(".steps a[aria-current]");
if (step) {
  const row = step.closest(".steps");
  const [inner, outer] = [step.getBoundingClientRect(), row.getBoundingClientRect()];
  row.scrollLeft += inner.left - outer.left - (outer.width - inner.width) / 2;
}

// A print button can't be a link.
document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-print]");
  if (!button) return;
  const frame = document.getElementById(button.dataset.print);
  if (frame) frame.contentWindow.print();
});

// On paper a frame ends where it ends on the screen: the keys of a print ask for the card itself, and a print from
// the browser's menu gets it at its whole height.
const card = document.querySelector("iframe.card");
if (card) {
  addEventListener("keydown", (event) => {
    if (event.key.toLowerCase() !== "p" || !(event.ctrlKey || event.metaKey) || event.shiftKey || event.altKey) return;
    event.preventDefault();
    card.contentWindow.print();
  });
  addEventListener("beforeprint", () => {
    card.style.height = `${card.contentDocument.documentElement.scrollHeight}px`;
  });
  addEventListener("afterprint", () => card.style.removeProperty("height"));
}
