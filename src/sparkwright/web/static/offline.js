// The page that stands in while the workbench doesn't answer: the light form of the job that was asked for, and the
// way to those of the other jobs that were open in this browser.
"use strict";

(async () => {
  const LOOK_MS = 4000;
  const form = document.querySelector(".reading-form");
  const jobs = (await waiting.jobs().catch(() => [])).filter((each) => !each.dyno);
  const path = /^\/jobs\/([^/]+)\/light$/.exec(location.pathname);
  const job = path && jobs.find((each) => each.key === decodeURIComponent(path[1]));

  for (const each of jobs) {
    const line = document.createElement("li");
    line.append(Object.assign(document.createElement("a"), { href: `/jobs/${each.key}/light`, textContent: each.name }));
    document.getElementById("known-jobs").append(line);
  }
  document.getElementById("known").hidden = !jobs.length;
  if (job) await setForm();
  lookAgain();

  async function setForm() {
    document.documentElement.dataset.brightness = job.brightness;
    document.title = `${job.name} - Sparkwright`;
    document.getElementById("job-name").textContent = job.name;
    form.action = `/jobs/${job.key}/light/readings`;
    form.dataset.job = job.key;
    form.dataset.name = job.name;
    for (let number = 1; number <= job.cylinders; number += 1) form.elements.cylinder.add(new Option(number));
    const before = (await waiting.all()).at(-1);
    form.elements.who.value ||= job.who || before?.fields.who || "";
    form.elements.sent_as.value = waiting.newName();
    document.getElementById("new-set").addEventListener("click", async () => {
      Object.assign(job, { set: Math.max(job.set, job.newest) + 1, asks: job.first_asks });
      job.newest = job.set;
      await waiting.know(job);
      await ask();
    });
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      keep();
    });
    await ask();
    document.getElementById("light").hidden = false;
    document.getElementById("without-form").hidden = true;
  }

  // What was asked for when the workbench last answered, less what was read since.
  async function ask() {
    const read = (await waiting.all()).filter((each) => each.job === job.key && Number(each.fields.set) === job.set);
    const next = job.asks[read.length];
    form.elements.set.value = job.set;
    document.getElementById("new-set").textContent = `I moved or set something: begin set ${Math.max(job.set, job.newest) + 1}`;
    document.getElementById("ask").replaceChildren();
    document.getElementById("ask").append(
      Object.assign(document.createElement("b"), {
        textContent: next ? `Hold ${next.commanded_deg} deg at ${next.speed_rpm} rpm and read the light.` : "Read the light.",
      }),
      ` Set ${job.set}.`,
    );
    form.elements.commanded_deg.value = next ? next.commanded_deg : job.hold_deg;
    form.elements.speed_rpm.value = next ? next.speed_rpm : "";
  }

  async function keep() {
    const said = document.getElementById("refused");
    said.hidden = isPlain(form);
    if (!said.hidden) {
      said.textContent = form.elements.who.value.trim()
        ? "Not kept yet: commanded, speed and seen must each be a number, such as 28.5."
        : "Not kept yet: say who reads; the history says who did what.";
      return;
    }
    const reading = readingOf(form);
    try {
      await waiting.keep(reading);
    } catch {
      said.hidden = false;
      said.textContent = "This browser keeps nothing, so write the reading down; it is still in its fields.";
      return;
    }
    job.who = form.elements.who.value;
    await waiting.know(job);
    await sayKept(form, reading, "");
    await ask();
    waiting.send();
  }

  function typing() {
    const fields = [form.elements.seen_deg, document.querySelector(".point-form").elements.torque];
    return fields.some((each) => each.value && each.closest("[hidden]") === null);
  }

  // Once the workbench answers, its own page is the better one; what is in a field is not thrown away for it.
  async function lookAgain() {
    try {
      await fetch(document.querySelector('link[rel="icon"]').href, { cache: "no-store", signal: AbortSignal.timeout(LOOK_MS) });
      await waiting.send();
      if (!typing()) {
        location.reload();
        return;
      }
      document.getElementById("answers").hidden = false;
    } catch {
      // Not yet.
    }
    setTimeout(lookAgain, LOOK_MS);
  }
})();
