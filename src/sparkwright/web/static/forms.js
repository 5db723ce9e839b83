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
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches("form[data-guard]")) { changed = false; return; }
  event.preventDefault();
  if (!form.classList.contains("being-sent")) send(form, event.submitter);
});

// Sent by script, what was typed is still here when no answer comes or the store can't be used.
async function send(form, button) {
  const typed = new FormData(form);
  if (button && button.name) typed.append(button.name, button.value);
  form.classList.add("being-sent");
  let answer, text;
  try {
    answer = await fetch(form.action, {
      method: "POST",
      headers: { "hx-request": "true" },
      body: new URLSearchParams(typed),
      signal: AbortSignal.timeout(WAIT_MS),
    });
    text = await answer.text();
  } catch {
    noAnswer();
    return;
  } finally {
    form.classList.remove("being-sent");
  }
  untell();
  take(answer, text, form, button);
}

function take(answer, text, form, button) {
  const goOn = answer.headers.get("hx-redirect");
  if (goOn) {
    changed = false;
    location.assign(goOn);
    return;
  }
  const page = new DOMParser().parseFromString(text, "text/html");
  const anew = page.querySelector(`form[data-guard][action="${form.getAttribute("action")}"]`);
  if (!anew) {
    tell(text);
    return;
  }
  changed = true;
  document.getElementById("problems")?.remove();
  form.replaceWith(anew);
  const refused = page.getElementById("problems");
  if (refused) anew.before(refused);
  htmx.process(anew);
  lead();
  // A button that adds or takes out a part says where that part is.
  const part = button && button.getAttribute("formaction");
  if (part) document.querySelector(part).scrollIntoView();
}
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
function lead() {
  const problems = document.getElementById("problems");
  if (problems) problems.focus();
  else if (document.querySelector("form[data-guard] [aria-invalid]")) document.querySelector("[aria-invalid]").focus();
}

lead();
