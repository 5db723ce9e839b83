// A toolbar is one stop of the Tab key; inside it arrows, Home and End go from tool to tool, as the ARIA Authoring
// Practices have it. A field keeps its arrows until they would leave the text.
"use strict";

for (const bar of document.querySelectorAll('[role="toolbar"]')) {
  const tools = () => [...bar.querySelectorAll("button:not([disabled]), input, a[href]")].filter((each) => each.offsetParent);
  let current = null;

  function stopAt(tool) {
    current = tool;
    for (const each of bar.querySelectorAll("button, input, a[href]")) each.tabIndex = each === current ? 0 : -1;
  }

  function leavesText(field, key) {
    if (field.localName !== "input") return true;
    if (key === "ArrowLeft") return field.selectionEnd === 0;
    return key === "ArrowRight" && field.selectionStart === field.value.length;
  }

  stopAt(tools()[0] ?? bar.querySelector("button:not([disabled])"));
  // A tool that can't be used any more is no stop.
  new MutationObserver(() => { if (current.disabled) stopAt(tools()[0]); }).observe(bar, { subtree: true, attributeFilter: ["disabled"] });
  bar.addEventListener("focusin", (event) => stopAt(event.target));
  bar.addEventListener("keydown", (event) => {
    const all = tools();
    const at = all.indexOf(document.activeElement);
    const to = { ArrowRight: at + 1, ArrowLeft: at - 1, Home: 0, End: all.length - 1 }[event.key];
    if (to === undefined || at < 0 || event.shiftKey || event.ctrlKey || event.altKey || !leavesText(all[at], event.key)) return;
    event.preventDefault();
    all[(to + all.length) % all.length].focus();
  });
}
