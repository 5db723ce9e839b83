// The page of a drive: a plot over time that is linked with the map and the list of findings. The whole drive never
// comes here; each stretch is asked for, as the least and most of each channel in about as many parts as there are dots.
"use strict";

(() => {
  const place = document.getElementById("time-plot");
  if (!place) return;
  const { stretches } = place.dataset;
  const moments = JSON.parse(place.dataset.moments);
  const said = document.getElementById("time-said");
  const form = document.getElementById("time-form");
  const HEIGHT_PX = 132;
  const LEAST_S = 0.5;
  const FIRST = ["rpm", "map_kpa", "advance_deg"];
  const shown = new Set(FIRST);
  const plots = new Map();
  let now = null;
  let asked = null;

  const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
  const two = (number) => String(number).padStart(2, "0");

  function clock(seconds, part) {
    const whole = Math.floor(seconds + 1e-6);
    const [hours, minutes, rest] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60];
    const tail = part ? (seconds - whole).toFixed(part).slice(1) : "";
    return hours ? `${hours}:${two(minutes)}:${two(rest)}${tail}` : `${minutes}:${two(rest)}${tail}`;
  }

  // ---- Asking for a stretch.

  async function show(from, to) {
    asked?.abort();
    asked = new AbortController();
    const parts = Math.max(200, Math.min(2000, Math.round(place.clientWidth)));
    try {
      const answer = await fetch(`${stretches}?from_s=${from}&to_s=${to}&parts=${parts}`, { signal: asked.signal });
      if (!answer.ok) throw new Error(String(answer.status));
      now = await answer.json();
    } catch (problem) {
      if (problem.name !== "AbortError") said.textContent = "The workbench doesn't answer; try again.";
      return;
    }
    draw();
    tell();
  }

  function move(from, to) {
    const width = Math.min(Math.max(to - from, LEAST_S), now.whole_s);
    const start = Math.min(Math.max(from, 0), now.whole_s - width);
    return show(start, start + width);
  }

  function zoom(times) {
    const middle = (now.from_s + now.to_s) / 2;
    const half = ((now.to_s - now.from_s) * times) / 2;
    return move(middle - half, middle + half);
  }

  function shift(share) {
    const by = share * (now.to_s - now.from_s);
    return move(now.from_s + by, now.to_s + by);
  }

  function tell() {
    const part = now.to_s - now.from_s < 30 ? 1 : 0;
    said.textContent = `${clock(now.from_s, part)} to ${clock(now.to_s, part)} of ${clock(now.whole_s, 0)}, ${now.rows.toLocaleString("en")} rows.`;
    form.elements.from_min.value = (now.from_s / 60).toFixed(2);
    form.elements.to_min.value = (now.to_s / 60).toFixed(2);
    const address = new URL(location.href);
    address.searchParams.set("from_min", (now.from_s / 60).toFixed(4));
    address.searchParams.set("to_min", (now.to_s / 60).toFixed(4));
    history.replaceState(history.state, "", address);
  }

  // ---- Drawing it: one plot for each channel, under one another, with one pointer.

  function draw() {
    const wanted = now.tracks.filter((track) => shown.has(track.quantity));
    for (const [name, plot] of plots) {
      if (wanted.some((track) => track.quantity === name)) continue;
      plot.destroy();
      plots.delete(name);
    }
    for (const track of wanted) {
      const data = [now.time_s, track.high, track.low];
      const plot = plots.get(track.quantity);
      if (plot) {
        plot.setData(data, false);
        plot.batch(() => {
          plot.setScale("x", { min: now.from_s, max: now.to_s });
          plot.setScale("y", { min: null, max: null });
        });
      } else plots.set(track.quantity, new uPlot(options(track), data, place));
    }
    // In the order in which the server has them, whichever was asked for first.
    for (const track of wanted) place.append(plots.get(track.quantity).root);
    drawChoices();
  }

  function options(track) {
    const digits = track.quantity === "rpm" ? 0 : 1;
    const axis = { stroke: () => colour("soft"), grid: { stroke: () => colour("line"), width: 1 }, ticks: { show: false }, font: "15px Atkinson Hyperlegible Next" };
    return {
      title: track.unit && track.unit !== track.called ? `${track.called}, ${track.unit}` : track.called,
      width: place.clientWidth,
      height: HEIGHT_PX,
      legend: { show: false },
      padding: [4, 12, 0, 0],
      cursor: { sync: { key: "drive" }, drag: { x: true, y: false, setScale: false }, points: { show: false }, bind: { dblclick: () => () => show(0, now.whole_s) } },
      scales: { x: { time: false, range: () => [now.from_s, now.to_s] }, y: { range: (_, least, most) => room(least, most) } },
      axes: [
        { ...axis, size: 28, values: (_, ticks) => ticks.map((each) => clock(each, now.to_s - now.from_s < 8 ? 1 : 0)) },
        { ...axis, size: 64, values: (_, ticks) => ticks.map((each) => each.toLocaleString("en", { maximumFractionDigits: 2 })) },
      ],
      series: [
        {},
        { stroke: () => colour("accent"), width: 1.5, points: { show: false }, spanGaps: false, value: (_, value) => value?.toFixed(digits) },
        { stroke: () => colour("accent"), width: 1.5, points: { show: false }, spanGaps: false },
      ],
      bands: [{ series: [1, 2], fill: () => `${colour("accent")}40` }],
      hooks: { setSelect: [chosen], setCursor: [pointed], drawClear: [paintMoments] },
    };
  }

  function room(least, most) {
    if (least === null || most === null) return [0, 1];
    const more = Math.max(0.05 * (most - least), 0.02 * Math.abs(most), 0.01);
    return [least - more, most + more];
  }

  function chosen(plot) {
    const { left, width } = plot.select;
    if (width < 4) return;
    const [from, to] = [plot.posToVal(left, "x"), plot.posToVal(left + width, "x")];
    plot.setSelect({ left: 0, width: 0, top: 0, height: 0 }, false);
    move(from, to);
  }

  // Numbered stretches behind the curves: where each finding was seen.
  function paintMoments(plot) {
    const { ctx, bbox } = plot;
    ctx.save();
    ctx.font = `${15 * devicePixelRatio}px Atkinson Hyperlegible Next`;
    ctx.textBaseline = "top";
    let free = -Infinity;
    for (const moment of moments.filter((each) => each.to_s >= now.from_s && each.from_s <= now.to_s)) {
      const [left, right] = [moment.from_s, moment.to_s].map((each) => plot.valToPos(Math.min(Math.max(each, now.from_s), now.to_s), "x", true));
      ctx.fillStyle = `${colour("warn")}30`;
      ctx.fillRect(left, bbox.top, Math.max(right - left, 2 * devicePixelRatio), bbox.height);
      if (left < free) continue;
      ctx.fillStyle = colour("warn");
      ctx.fillText(moment.number, left + 3 * devicePixelRatio, bbox.top);
      free = left + 22 * devicePixelRatio;
    }
    ctx.restore();
  }

  // ---- Where it is on the map, at the moment that is pointed at.

  function pointed(plot) {
    const at = plot.cursor.idx;
    const values = ["rpm", "map_kpa"].map((name) => now.tracks.find((track) => track.quantity === name)?.high[at]);
    for (const dot of document.querySelectorAll(".here")) {
      const known = plot.cursor.left >= 0 && values.every((each) => Number.isFinite(each));
      dot.setAttribute("visibility", known ? "visible" : "hidden");
      if (!known) continue;
      dot.setAttribute("cx", along(dot.dataset, values[0], "Rpm", "left", "right"));
      dot.setAttribute("cy", along(dot.dataset, values[1], "Kpa", "bottom", "top"));
    }
  }

  function along(data, value, unit, first, last) {
    const [from, to, begin, end] = [data[`from${unit}`], data[`to${unit}`], data[first], data[last]].map(Number);
    const share = Math.min(Math.max((value - from) / (to - from), 0), 1);
    return begin + share * (end - begin);
  }

  // ---- What is drawn, and moving along.

  const choices = document.getElementById("time-tracks");

  function drawChoices() {
    if (choices.querySelector("label")) return;
    for (const track of now.tracks) {
      const label = document.createElement("label");
      const box = Object.assign(document.createElement("input"), { type: "checkbox", value: track.quantity, checked: shown.has(track.quantity) });
      label.append(box, ` ${track.called}`);
      choices.append(label);
    }
  }

  choices.addEventListener("change", ({ target }) => {
    if (target.checked) shown.add(target.value);
    else shown.delete(target.value);
    draw();
  });

  function add(quantities) {
    for (const name of quantities.split(" ").filter(Boolean)) {
      const box = choices.querySelector(`[value="${name}"]`);
      if (!box) continue;
      box.checked = true;
      shown.add(name);
    }
  }

  const MOVES = {
    whole: () => show(0, now.whole_s),
    closer: () => zoom(0.5),
    further: () => zoom(2),
    earlier: () => shift(-0.5),
    later: () => shift(0.5),
  };
  const KEYS = { "0": "whole", "+": "closer", "=": "closer", "-": "further", ArrowLeft: "earlier", ArrowRight: "later" };

  place.addEventListener("keydown", (event) => {
    const name = KEYS[event.key];
    if (!name || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    moveAlong(name);
  });
  document.getElementById("time-moves").addEventListener("click", (event) => moveAlong(event.target.value));

  // While nothing came yet there is nothing to move in: each key asks once more for what the page began with.
  function moveAlong(name) {
    if (!now) begin();
    else MOVES[name]?.();
  }

  function begin() {
    return show(Number(place.dataset.from), Number(place.dataset.to));
  }

  // A number on the map, or a time in the list: the plot shows that stretch with some room on both sides.
  document.addEventListener("click", (event) => {
    const at = event.target.closest(".moment, [data-finding]");
    if (!at || !now) return;
    const moment = at.matches(".moment") ? at : document.querySelector(`#finding-${at.dataset.finding} .moment`);
    if (!moment) return;
    event.preventDefault();
    const [from, to] = [Number(moment.dataset.from), Number(moment.dataset.to)];
    const beside = Math.max(2 * (to - from), 5);
    add(moment.dataset.tracks);
    move(from - beside, to + beside);
    place.focus({ preventScroll: true });
    document.getElementById("time-heading").scrollIntoView({ block: "start" });
  });

  // ---- At the beginning, and when the window changes.

  new ResizeObserver(() => {
    for (const plot of plots.values()) if (plot.width !== place.clientWidth) plot.setSize({ width: place.clientWidth, height: HEIGHT_PX });
  }).observe(place);
  const redraw = () => plots.forEach((plot) => plot.redraw(false));
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", redraw);
  document.fonts.ready.then(redraw);

  for (const each of document.querySelectorAll(".time-script")) each.hidden = false;
  for (const each of document.querySelectorAll(".time-plain")) each.hidden = true;
  begin();
})();
