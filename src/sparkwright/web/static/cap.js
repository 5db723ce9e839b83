// The cap follows the sliders: the tip is turned here at once, everything that is said comes from the server.
"use strict";

const capForm = document.getElementById("cap-form");
if (capForm) follow(capForm);

function follow(form) {
  const ranges = [...form.querySelectorAll('input[type="range"]')];
  const number = (range) => document.getElementById(range.dataset.for);
  form.querySelector(".show").hidden = true;
  for (const range of ranges) range.hidden = false;

  // A slider and its number are one value. This runs before htmx sees the event and asks.
  document.addEventListener("input", (event) => {
    const moved = event.target;
    if (!form.contains(moved)) return;
    const range = ranges.find((each) => each === moved || number(each) === moved);
    if (!range) return;
    if (moved === range) number(range).value = range.value;
    else range.value = moved.value;
    turn(form);
    settle(form);
  }, true);

  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.target.localName !== "input") return;
    event.preventDefault();
    // Enter in a number shows it; in name or reason it saves, and never asks for the page with both in its address.
    if (event.target.type === "number") htmx.trigger(form, "settled");
    else if (event.target.type !== "range") form.requestSubmit(form.querySelector("button.main"));
  });

  // The phase that suits is tried in place instead of loading the page anew.
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[data-phase]");
    if (!link) return;
    event.preventDefault();
    const phase = document.getElementById("phase");
    phase.value = link.dataset.phase;
    phase.dispatchEvent(new Event("input", { bubbles: true }));
    phase.focus();
  });
}

// Throttled requests may leave out the last move; once the hand rests, the last one is asked and told.
let resting;
function settle(form) {
  clearTimeout(resting);
  resting = setTimeout(() => htmx.trigger(form, "settled"), 150);
}

// As `tip_bearing_deg` reckons it; only the drawing, and only until the server's picture is there.
function turn(form) {
  const tip = document.querySelector("#cap-picture .tip-now");
  const value = (name) => Number(form.elements[name].value);
  if (!tip || ["advance", "phase", "base"].some((name) => !Number.isFinite(value(name)))) return;
  const bearing = Number(tip.dataset.way) * (value("phase") - (value("advance") - value("base")) / 2);
  const by = bearing - Number(tip.dataset.bearing);
  tip.setAttribute("transform", `rotate(${by} ${tip.dataset.x} ${tip.dataset.y})`);
  const gaps = document.querySelector("#cap-picture .gaps-now");
  if (gaps) gaps.setAttribute("visibility", "hidden");
}

// A table of numbers that was open stays open when the picture is drawn anew.
let wasOpen = false;
document.addEventListener("htmx:beforeSwap", (event) => {
  if (event.detail.target.id === "cap-picture") wasOpen = !!document.querySelector("#cap-picture details[open]");
});
document.addEventListener("htmx:afterSwap", (event) => {
  if (event.detail.target.id !== "cap-picture") return;
  const details = document.querySelector("#cap-picture details");
  if (details) details.open = wasOpen;
});

// With the plan comes the span that it asks of the rotor.
document.addEventListener("htmx:afterSettle", (event) => {
  if (event.target.id === "found" && document.querySelector("#found .verdicts") && capForm) htmx.trigger(capForm, "settled");
});

// Read out once the hand rests, not at every step of a slider.
let told = "";
document.addEventListener("htmx:afterSettle", (event) => {
  if (event.target.id !== "cap-picture") return;
  const first = document.getElementById("cap-first");
  const place = document.getElementById("cap-told");
  if (!first || !place || first.textContent === told) return;
  told = first.textContent;
  place.textContent = told;
});
