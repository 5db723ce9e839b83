// Readings are kept in this browser before they are sent, and stay until the workbench says that it has them. So none
// is lost with the network, the workbench or the browser; and none is there twice, for each is sent under a word of
// its own, by which the workbench knows it again.
"use strict";

const waiting = (() => {
  const HERE = matchMedia("(pointer: coarse)").matches ? "on this phone" : "in this browser";
  const AGAIN_MS = 4000;
  const ANSWER_MS = 10000;
  const REFUSED = [404, 413, 415, 422];
  const place = document.getElementById("waiting");

  // ---- Keeping.

  let opened = null;

  function open() {
    opened ??= new Promise((resolve, reject) => {
      const asked = indexedDB.open("sparkwright", 1);
      asked.onupgradeneeded = () => {
        asked.result.createObjectStore("readings", { keyPath: "sent_as" });
        asked.result.createObjectStore("jobs", { keyPath: "key" });
      };
      asked.onsuccess = () => {
        asked.result.onclose = () => { opened = null; };
        resolve(asked.result);
      };
      asked.onerror = () => { opened = null; reject(asked.error); };
    });
    return opened;
  }

  // Done once the disk has it: a browser that is killed in the next moment has lost nothing.
  async function run(store, mode, act) {
    const database = await open();
    return new Promise((resolve, reject) => {
      const work = database.transaction(store, mode, { durability: "strict" });
      const asked = act(work.objectStore(store));
      work.oncomplete = () => resolve(asked.result);
      work.onabort = () => reject(work.error);
    });
  }

  function newName() {
    return [...crypto.getRandomValues(new Uint8Array(16))].map((each) => each.toString(16).padStart(2, "0")).join("");
  }

  // A reading is what its form would send, with what a person knows it by.
  async function keep(reading) {
    navigator.storage?.persist?.();
    await run("readings", "readwrite", (store) => store.put({ at: Date.now(), ...reading }));
  }

  async function all() {
    const found = await run("readings", "readonly", (store) => store.getAll());
    return found.sort((one, other) => one.at - other.at);
  }

  function drop(name) {
    return run("readings", "readwrite", (store) => store.delete(name));
  }

  function know(job) {
    return run("jobs", "readwrite", (store) => store.put(job));
  }

  function jobs() {
    return run("jobs", "readonly", (store) => store.getAll());
  }

  // ---- Sending, the oldest first.

  const underWay = new Set();
  let sending = null;
  let held = "";

  // Who asks while a sending is under way waits for that one, and goes on only once it is done.
  function send() {
    sending ??= sendAll().finally(() => { sending = null; });
    return sending;
  }

  async function sendAll() {
    const sent = [];
    for (const each of await all()) {
      if (each.refused || underWay.has(each.sent_as)) continue;
      held = await sendOne(each);
      if (held) break;
      sent.push(each);
    }
    await tell();
    if (sent.length) document.dispatchEvent(new CustomEvent("waiting:sent", { detail: sent }));
  }

  // Gives why a reading still has to wait; "" when the workbench has it, or has said that it can't take it.
  async function sendOne(each) {
    let answer, text;
    try {
      answer = await fetch(`/jobs/${encodeURIComponent(each.job)}/${each.to ?? "light/readings"}`, {
        method: "POST",
        headers: { "hx-request": "true" },
        body: new URLSearchParams(each.fields),
        cache: "no-store",
        signal: AbortSignal.timeout(ANSWER_MS),
      });
      text = await answer.text();
    } catch {
      return "away";
    }
    if (answer.headers.get("kept-as") === each.sent_as) await drop(each.sent_as);
    else if (answer.status === 401) return "sign-in";
    else if (REFUSED.includes(answer.status)) await keep({ ...each, refused: sentences(text) });
    else return "away";
    return "";
  }

  function sentences(text) {
    const said = [...new DOMParser().parseFromString(text, "text/html").querySelectorAll("[role=alert] li")];
    return said.length ? said.map((each) => each.textContent) : [text.slice(0, 300)];
  }

  // ---- Telling.

  function words(each) {
    if (each.words) return each.words;
    const { seen_deg: seen, speed_rpm: rpm, commanded_deg: held_at, set } = each.fields;
    return `${seen} deg seen at ${rpm} rpm, ${held_at} commanded; set ${set} of ${each.name}`;
  }

  function count(many) {
    return many === 1 ? "1 reading waits" : `${many} readings wait`;
  }

  function element(name, text = "", more = {}) {
    const made = document.createElement(name);
    made.textContent = text;
    return Object.assign(made, more);
  }

  function what(many) {
    return many === 1 ? "it is sent" : "they are sent";
  }

  function when(many) {
    const line = document.createElement("span");
    if (held !== "sign-in") line.textContent = ` As soon as the workbench answers ${what(many)}.`;
    else if (location.pathname === "/sign-in") line.textContent = ` Sign in, and ${what(many)}.`;
    else line.append(" ", element("a", "Sign in", { href: `/sign-in?back=${encodeURIComponent(location.pathname)}` }), `, and ${what(many)}.`);
    return line;
  }

  function list(found) {
    const folded = document.createElement("details");
    folded.open = place.querySelector("details")?.open ?? false;
    const lines = document.createElement("ul");
    for (const each of found) lines.append(element("li", words(each)));
    folded.append(element("summary", "Which"), lines);
    return folded;
  }

  function refusal(each) {
    const box = document.createElement("div");
    box.append(element("p", `Not taken: ${words(each)}. ${each.refused.join(" ")}`));
    const form = document.querySelector(`form[action="/jobs/${each.job}/${each.to ?? "light/readings"}"]`);
    if (form) {
      const change = element("button", "Put it right", { type: "button" });
      change.addEventListener("click", () => {
        for (const [name, value] of Object.entries(each.fields)) if (form.elements[name]) form.elements[name].value = value;
        form.elements[each.first ?? "seen_deg"].focus();
      });
      box.append(change, " ");
    } else {
      box.append(element("a", "Put it right", { href: `/jobs/${each.job}/${each.page ?? "light"}`, className: "button" }), " ");
    }
    const leave = element("button", "Let go of it", { type: "button" });
    leave.addEventListener("click", async () => {
      if (!confirm(`Let go of this reading for good? ${words(each)}`)) return;
      await drop(each.sent_as);
      tell();
    });
    box.append(leave);
    return box;
  }

  async function tell() {
    const found = (await all()).filter((each) => !underWay.has(each.sent_as));
    const left = found.filter((each) => !each.refused);
    const now = JSON.stringify([found, held]);
    if (place.dataset.now === now) return;
    const parts = [];
    if (left.length) {
      const line = document.createElement("p");
      line.append(element("b", `${count(left.length)} ${HERE}.`), when(left.length));
      parts.push(line, list(left));
    }
    parts.push(...found.filter((each) => each.refused).map(refusal));
    place.replaceChildren(...parts);
    place.hidden = !parts.length;
    place.dataset.now = now;
  }

  // ---- Begin.

  const { worker } = document.currentScript.dataset;
  const helped = !worker
    ? Promise.resolve(true)
    : !isSecureContext || !("serviceWorker" in navigator)
      ? Promise.resolve(false)
      : navigator.serviceWorker.register(worker, { scope: "/" }).then(() => true, () => false);

  async function again() {
    try {
      if ((await all()).some((each) => !each.refused)) await send();
      else await tell();
    } catch {
      // A browser that keeps nothing has nothing to send.
    }
    setTimeout(again, AGAIN_MS);
  }

  addEventListener("online", send);
  // Who signs out leaves nothing of the jobs behind but what was never sent.
  document.addEventListener("submit", (event) => {
    if (event.target.matches("[data-sign-out]")) run("jobs", "readwrite", (store) => store.clear());
  });
  again();

  return { HERE, helped, keep, all, drop, know, jobs, send, tell, words, count, newName, underWay };
})();
