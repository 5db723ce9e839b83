// Big keys for one thumb, beside the keyboard that the device brings. A place for them names its fields.
"use strict";

const KEYS = ["7", "8", "9", "back", "4", "5", "6", "-", "1", "2", "3", ".", "0", "next"];
const SHOWN = { "-": "\u2212", back: "\u232B", next: "Next field" };
const NAMES = { "-": "minus", ".": "decimal point", back: "take the last figure back" };

// They write to the field that is marked; the first one replaces what stood there.

function setKeysIn(place) {
  if (place.childElementCount) return;
  const form = place.closest("form");
  const fields = place.dataset.keys.split(" ").map((name) => form.elements[name]);
  let field = null;
  let fresh = true;

  function aim(at) {
    field = at;
    fresh = true;
    for (const each of fields) each.classList.toggle("aimed", each === at);
  }

  function press(key) {
    if (key === "next") {
      aim(fields[(fields.indexOf(field) + 1) % fields.length]);
      field.focus({ preventScroll: true });
      return;
    }
    const before = fresh && key !== "back" && key !== "-" ? "" : field.value;
    if (key === "back") field.value = before.slice(0, -1);
    else if (key === "-") field.value = before.startsWith("-") ? before.slice(1) : `-${before}`;
    else field.value = before + key;
    fresh = false;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }

  // A touch screen would cover the keys with its own keyboard.
  const touch = matchMedia("(pointer: coarse)").matches;
  for (const each of fields) {
    if (touch) each.inputMode = "none";
    each.addEventListener("focus", () => aim(each));
    // A window that isn't in front tells no field that it has the focus.
    each.addEventListener("click", () => { if (field !== each) aim(each); });
  }
  for (const key of KEYS) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = SHOWN[key] ?? key;
    if (NAMES[key]) button.setAttribute("aria-label", NAMES[key]);
    button.className = `key-${key === "." ? "point" : key === "-" ? "minus" : key}`;
    button.addEventListener("click", () => press(key));
    place.append(button);
  }
  place.hidden = false;
  aim(fields.includes(document.activeElement) ? document.activeElement : fields.at(-1));
  // Where the next figures go, unless the person has gone elsewhere meanwhile.
  if (document.activeElement === document.body) field.focus({ preventScroll: true });
}

function setKeys() {
  for (const place of document.querySelectorAll("[data-keys]")) setKeysIn(place);
}

setKeys();
document.addEventListener("htmx:afterSettle", setKeys);
