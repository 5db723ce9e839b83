// Forms of facts: what HTML alone can't say. Saving and checking work without it.
"use strict";

// A field says by aria-invalid what its sentence says; the sentence comes from the server.
document.addEventListener("htmx:afterSettle", (event) => mark(event.detail.elt));
document.addEventListener("htmx:oobAfterSwap", (event) => mark(event.detail.target));

function mark(place) {
  const said = place && place.closest && (place.closest(".said") || place.querySelector(".said"));
  if (!said || !said.id.startsWith("said-")) return;
  const input = document.getElementById(said.id.slice(5));
  if (!input) return;
  if (said.querySelector(".refused")) input.setAttribute("aria-invalid", "true");
  else input.removeAttribute("aria-invalid");
}

// Tells the server which other fields stand refused, so that it can say when they no longer are.
document.addEventListener("htmx:configRequest", (event) => {
  if (!event.detail.path.startsWith("/check")) return;
  const refused = [...document.querySelectorAll('[aria-invalid="true"]')].map((input) => input.id);
  event.detail.parameters.refused = refused.join(" ");
});

// What was typed and not saved is not left behind without asking.
let changed = document.getElementById("problems") !== null;
document.addEventListener("input", (event) => { if (event.target.closest("form[data-guard]")) changed = true; });
document.addEventListener("submit", () => { changed = false; });
window.addEventListener("beforeunload", (event) => { if (changed) event.preventDefault(); });

// A link to a field that lies folded away opens its part.
document.addEventListener("click", (event) => {
  const link = event.target.closest('a[href^="#"]');
  if (link) unfold(link.hash);
});

function unfold(hash) {
  const target = hash && document.getElementById(hash.slice(1));
  const folded = target && target.closest("details");
  if (folded) folded.open = true;
  return target;
}

if (location.hash) {
  const target = unfold(location.hash);
  if (target && target.matches("input, select, textarea")) target.focus();
}

// After a refusal the list of what to put right has the focus; autofocus alone is not kept by every browser.
const problems = document.getElementById("problems");
if (problems) problems.focus();
else if (document.querySelector("form[data-guard] [aria-invalid]")) document.querySelector("[aria-invalid]").focus();
