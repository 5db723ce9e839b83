// Big keys for one thumb, beside the keyboard that the device brings. Without this script the fields stand alone.
"use strict";

const KEYS = ["7", "8", "9", "4", "5", "6", "1", "2", "3", "-", "0", "."];
const NAMES = { "-": "minus", ".": "decimal point" };

function setKeys() {
  const place = document.querySelector("[data-keys]");
  if (!place || place.childElementCount) return;
  const form = place.closest("form");
  const fields = [...form.querySelectorAll(".three input")];
  let field = form.querySelector("#seen_deg");
  // A touch screen would cover the keys with its own keyboard.
  const touch = matchMedia("(pointer: coarse)").matches;
  for (const each of fields) {
    if (touch) each.inputMode = "none";
    each.addEventListener("focus", () => { field = each; });
  }
  for (const key of [...KEYS, "back"]) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = key === "back" ? "\u232B" : key === "-" ? "\u2212" : key;
    button.setAttribute("aria-label", key === "back" ? "take the last figure back" : NAMES[key] || key);
    if (key === "back") button.className = "back";
    button.addEventListener("click", () => {
      if (key === "back") field.value = field.value.slice(0, -1);
      else if (key === "-") field.value = field.value.startsWith("-") ? field.value.slice(1) : `-${field.value}`;
      else field.value += key;
      field.classList.add("aimed");
    });
    place.append(button);
  }
  place.hidden = false;
  // Where the next figures go, unless the person has gone elsewhere meanwhile.
  if (document.activeElement === document.body) field.focus({ preventScroll: true });
}

setKeys();
document.addEventListener("htmx:afterSettle", setKeys);
