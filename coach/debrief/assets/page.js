"use strict";
(() => {
  const find = (id) => document.getElementById(id);
  const root = document.documentElement;

  for (const when of document.querySelectorAll("time[datetime]")) {
    const at = new Date(when.dateTime);
    if (!when.textContent.endsWith("UTC") || Number.isNaN(at.getTime())) continue;
    const two = (number) => String(number).padStart(2, "0");
    const day = [at.getFullYear(), two(at.getMonth() + 1), two(at.getDate())].join("-");
    when.textContent = `${day} ${two(at.getHours())}:${two(at.getMinutes())}`;
  }

  const read = (name) => {
    const source = find("data-" + name);
    return source === null ? null : JSON.parse(source.textContent);
  };
  const arrays = { f4: Float32Array, u1: Uint8Array, i1: Int8Array };
  const unpacked = (column) => {
    const bytes = Uint8Array.from(atob(column.bdata), (one) => one.charCodeAt(0));
    return new arrays[column.dtype](bytes.buffer);
  };
  const map = read("map");
  if (map === null) return;
  const picture = document.querySelector("#map svg");
  const laps = map.laps.map((lap) => ({
    number: lap.number,
    x: unpacked(lap.x),
    y: unpacked(lap.y),
    bins: unpacked(lap.bins),
  }));
  const last = laps[0].x.length - 1;
  const length = last * map.step;
  const figure = read("figure");
  const traces = figure === null ? [] : figure.data.map((trace) => ({ ...trace, y: unpacked(trace.y) }));
  root.classList.add("live");

  // The map: any lap, whole or a stretch of it, with a dot at the chosen place.
  const svg = (name, attributes) => {
    const made = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const key of Object.keys(attributes)) made.setAttribute(key, attributes[key]);
    return made;
  };
  const even = map.tones.indexOf("even");
  const driven = picture.querySelector("#driven-line");
  const against = picture.querySelector(".against");
  const dot = svg("g", {});
  const ring = svg("circle", { r: 7, class: "dot f-accent s-panel" });
  const sized = svg("g", { class: "mk" });
  sized.append(ring);
  dot.append(sized);
  picture.append(dot);
  let mapLap = Number(find("map-lap").value);
  let place = 0;

  const drawLap = () => {
    const lap = laps[mapLap];
    const parts = [];
    let start = 0;
    for (let index = 1; index <= last + 1; index += 1) {
      if (index <= last && lap.bins[index] === lap.bins[start]) continue;
      const bin = lap.bins[start];
      const points = [];
      for (let row = start; row <= Math.min(index, last); row += 1)
        points.push(lap.x[row].toFixed(2) + " " + lap.y[row].toFixed(2));
      const line = { d: "M" + points.join("L"), fill: "none", "vector-effect": "non-scaling-stroke" };
      parts.push(svg("path", { ...line, "stroke-width": map.widths[bin], class: "s-" + map.tones[bin] }));
      if (bin < even) parts.push(svg("path", { ...line, "stroke-width": map.widths[bin] - map.hollow, class: "s-panel" }));
      start = index;
    }
    driven.replaceChildren(...parts);
    if (against !== null) against.style.display = mapLap === map.own ? "none" : "";
    const option = find("map-lap").selectedOptions[0];
    find("map-words").textContent = "Drawn: " + option.textContent + ".";
    moveDot();
  };
  const moveDot = () => {
    const lap = laps[mapLap];
    dot.setAttribute("transform", `translate(${lap.x[place]} ${lap.y[place]})`);
  };
  const whole = picture.getAttribute("viewBox").split(" ").map(Number);
  const zoomMap = (from, to) => {
    let box = whole;
    if (from !== null) {
      const lap = laps[mapLap];
      const rows = [];
      const end = to <= from ? to + length : to;
      for (let row = Math.round(from / map.step); row <= Math.round(end / map.step); row += 1) rows.push(row % (last + 1));
      const xs = rows.map((row) => lap.x[row]);
      const ys = rows.map((row) => lap.y[row]);
      const spare = 14;
      const left = Math.min(...xs) - spare;
      const top = Math.min(...ys) - spare;
      const wide = Math.max(...xs) + spare - left;
      const high = Math.max(...ys) + spare - top;
      const need = Math.max(wide, (high * whole[2]) / map.height);
      const tall = (need * map.height) / whole[2];
      box = [left - (need - wide) / 2, top - (tall - high) / 2, need, tall];
      if (need >= map.width) box = whole;
    }
    picture.setAttribute("viewBox", box.join(" "));
    scaleSigns();
  };
  const scaleSigns = () => {
    const wide = picture.getBoundingClientRect().width;
    const box = picture.getAttribute("viewBox").split(" ").map(Number);
    if (wide <= 0) return;
    const factor = box[2] / wide;
    for (const sign of picture.querySelectorAll(".mk")) sign.setAttribute("transform", `scale(${factor})`);
  };
  for (const text of picture.querySelectorAll(".legend")) text.remove();
  picture.removeAttribute("width");
  picture.removeAttribute("height");
  whole[3] = map.height;
  picture.setAttribute("viewBox", whole.join(" "));

  // The charts: the chosen laps, one axis of distance, colours of the page.
  const chart = find("chart");
  const cursor = find("cursor");
  const boxes = [...document.querySelectorAll("input.lap")];
  const dashes = ["solid", "dash", "dot", "dashdot"];
  const slots = [];
  const colour = (name) => getComputedStyle(root).getPropertyValue("--" + name).trim();
  let charted = figure !== null && typeof Plotly !== "undefined";
  let range = [0, length];

  const chosen = () => boxes.filter((box) => box.checked).map((box) => Number(box.value));
  const assign = () => {
    const wanted = chosen();
    for (let slot = 0; slot < slots.length; slot += 1) if (!wanted.includes(slots[slot])) slots[slot] = null;
    for (const lap of wanted) {
      if (slots.includes(lap)) continue;
      const free = slots.indexOf(null);
      if (free >= 0) slots[free] = lap;
      else slots.push(lap);
    }
    for (const box of boxes) {
      const line = box.parentElement.querySelector("line");
      const slot = slots.indexOf(Number(box.value));
      line.setAttribute("class", slot < 0 ? "" : "s-line" + ((slot % map.lines) + 1));
      line.setAttribute("stroke-dasharray", { solid: "", dash: "8 4", dot: "3 3", dashdot: "8 3 2 3" }[dashes[Math.max(slot, 0) % 4]]);
    }
  };
  const layout = () => {
    const made = { ...figure.layout, font: { color: colour("ink"), family: getComputedStyle(document.body).fontFamily, size: 12 } };
    for (const key of Object.keys(made))
      if (/^[xy]axis/.test(key))
        made[key] = { ...made[key], gridcolor: colour("rule"), zerolinecolor: colour("soft"), linecolor: colour("rule") };
    made.xaxis.range = range;
    made.shapes = made.shapes.map((shape) => ({ ...shape, line: { color: colour("rule"), width: 1.5 } }));
    if (matchMedia("(pointer: coarse)").matches) made.dragmode = false;
    return made;
  };
  const shown = () =>
    traces
      .filter((trace) => slots.includes(trace.meta.lap))
      .map((trace) => {
        const slot = slots.indexOf(trace.meta.lap);
        const line = { ...trace.line, color: colour("line" + ((slot % map.lines) + 1)), dash: dashes[slot % 4] };
        return { ...trace, visible: true, line };
      });
  const drawCharts = () => {
    assign();
    if (charted) Plotly.react(chart, shown(), layout(), { displayModeBar: false, responsive: true, doubleClick: "reset" });
    tell();
  };
  const zoom = (from, to) => {
    zoomMap(from, to);
    range = from === null ? [0, length] : [from, to <= from ? length : to];
    if (charted) Plotly.relayout(chart, { "xaxis.range": range });
  };

  // One place on the lap: a line over the charts, a dot on the map, figures in a table.
  const units = { speed: "km/h", throttle: "% throttle", brake: "% brake", gear: "gear", delta: "s delta" };
  const value = (trace) => {
    const raw = trace.y[place];
    if (trace.meta.channel === "delta") return (raw <= -0.0005 ? "-" : "+") + Math.abs(raw).toFixed(3);
    return Math.abs(raw).toFixed(0);
  };
  const tell = () => {
    const channels = Object.keys(units).filter((name) => traces.some((trace) => trace.meta.channel === name));
    const table = document.createElement("table");
    const row = (kind, cells) => {
      const line = table.insertRow();
      for (const text of cells) {
        const cell = document.createElement(kind);
        cell.textContent = text;
        cell.className = "n";
        line.append(cell);
      }
    };
    row("th", ["lap", ...channels.map((name) => units[name])]);
    for (const index of slots)
      if (index !== null) {
        const own = traces.filter((trace) => trace.meta.lap === index);
        const cells = channels.map((name) => own.find((trace) => trace.meta.channel === name));
        row("td", [String(laps[index].number), ...cells.map((trace) => (trace === undefined ? "-" : value(trace)))]);
      }
    if (channels.length > 0) find("readout").replaceChildren(table);
  };
  const moveCursor = () => {
    if (!charted || !chart._fullLayout) return;
    const axis = chart._fullLayout.xaxis;
    const at = axis.d2p(place * map.step);
    const inside = at >= 0 && at <= axis._length;
    cursor.style.display = inside ? "block" : "none";
    cursor.style.left = axis._offset + at + "px";
  };
  const goTo = (row) => {
    place = Math.min(last, Math.max(0, row));
    find("place").value = place;
    find("place").setAttribute("aria-valuetext", (place * map.step).toFixed(0) + " m");
    find("place-words").textContent = (place * map.step).toFixed(0) + " m";
    moveDot();
    moveCursor();
    tell();
  };

  find("place").addEventListener("input", (event) => goTo(Number(event.target.value)));
  find("map-lap").addEventListener("change", (event) => {
    mapLap = Number(event.target.value);
    drawLap();
  });
  find("stretch").addEventListener("change", (event) => {
    const stretch = map.corners[event.target.value];
    if (stretch === undefined) return zoom(null, null);
    zoom(stretch[0], stretch[1]);
    return goTo(Math.round(stretch[0] / map.step) % (last + 1));
  });
  picture.addEventListener("pointermove", (event) => {
    const screen = picture.getScreenCTM();
    if (screen === null) return;
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(screen.inverse());
    const lap = laps[mapLap];
    let best = 0;
    let least = Infinity;
    for (let row = 0; row <= last; row += 1) {
      const away = (lap.x[row] - at.x) ** 2 + (lap.y[row] - at.y) ** 2;
      if (away < least) [least, best] = [away, row];
    }
    if (Math.sqrt(least) * screen.a < 40) goTo(best);
  });
  for (const box of boxes) box.addEventListener("change", drawCharts);

  drawLap();
  if (charted) {
    root.classList.add("charted");
    try {
      drawCharts();
    } catch (error) {
      charted = false;
      root.classList.remove("charted");
      tell();
      console.warn("the charts stand still: " + error);
    }
  } else {
    assign();
    tell();
  }
  if (charted) {
    chart.on("plotly_hover", (event) => goTo(Math.round(event.xvals[0] / map.step)));
    chart.on("plotly_relayout", (change) => {
      const low = change["xaxis.range[0]"] ?? change["xaxis.range"]?.[0];
      const high = change["xaxis.range[1]"] ?? change["xaxis.range"]?.[1];
      if (low !== undefined && high !== undefined) {
        range = [low, high];
        if (low <= map.step && high >= length - map.step) zoomMap(null, null);
        else if (change["xaxis.range"] === undefined) zoomMap(Math.max(0, low), Math.min(length, high));
      }
      moveCursor();
    });
    const dark = matchMedia("(prefers-color-scheme: dark)");
    dark.addEventListener("change", drawCharts);
  }
  scaleSigns();
  new ResizeObserver(() => {
    scaleSigns();
    if (charted && chart.offsetWidth > 0) Plotly.Plots.resize(chart);
    moveCursor();
  }).observe(picture);
})();
