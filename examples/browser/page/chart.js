// Curves of the last hours as SVG: axes with units, the band within the alarms, text in the page's own size.

const SVG = "http://www.w3.org/2000/svg";
const MARGIN = { left: 46, right: 10, top: 20, bottom: 20 };
const HEIGHT = 150;
const HOUR_MS = 3_600_000;

// Keeps points of the last two days, one a minute.
class Curves {
  constructor() {
    this.points = [];
  }

  clear() {
    this.points = [];
  }

  add(points) {
    this.points.push(...points);
    const first = this.points.length - 48 * 60 - 1;
    if (first > 0) this.points.splice(0, first);
  }

  since(ms) {
    const at = this.points.findIndex((point) => point[0] >= ms);
    return at < 0 ? [] : this.points.slice(at);
  }
}

function svg(name, attributes, text) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (text !== undefined) made.textContent = text;
  return made;
}

// A round step of which `count` at most cover the range.
function roundStep(range, count) {
  const rough = range / count;
  const power = 10 ** Math.floor(Math.log10(rough));
  return [1, 2, 5, 10].map((one) => one * power).find((step) => step >= rough * 0.999);
}

const dayClock = (ms) => {
  const minutes = Math.floor(ms / 60_000);
  const two = (n) => String(n).padStart(2, "0");
  return { day: Math.floor(minutes / 1440) + 1, time: `${two(Math.floor(minutes / 60) % 24)}:${two(minutes % 60)}` };
};

// Hours between the marks of the time axis, so that their texts do not touch.
function timeMarks(from, to, width) {
  const most = Math.max(2, Math.floor(width / 72));
  const every = [0.25, 0.5, 1, 2, 3, 6, 12, 24].find((hours) => (to - from) / (hours * HOUR_MS) <= most) * HOUR_MS;
  const marks = [];
  for (let at = Math.ceil(from / every) * every; at <= to; at += every) marks.push(at);
  return marks;
}

// One drawing. `curves`: [class, [[ms, value or null], ...]]; `bars`: [[from, to, value], ...].
function drawing({ title, unit, from, to, width, low, high, band, curves = [], bars = [], label }) {
  const inner = { w: width - MARGIN.left - MARGIN.right, h: HEIGHT - MARGIN.top - MARGIN.bottom };
  const x = (ms) => MARGIN.left + ((ms - from) / (to - from)) * inner.w;
  const y = (value) => MARGIN.top + (1 - (Math.min(high, Math.max(low, value)) - low) / (high - low)) * inner.h;
  const one = (n) => n.toFixed(1);
  const out = svg("svg", { viewBox: `0 0 ${width} ${HEIGHT}`, role: "img", "aria-label": label });
  if (band && band[1] > low && band[0] < high) {
    const top = y(band[1]);
    out.append(svg("rect", { class: "band", x: MARGIN.left, y: one(top), width: inner.w, height: one(y(band[0]) - top) }));
  }
  const step = roundStep(high - low, 4);
  const digits = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
  for (let value = Math.ceil(low / step - 1e-9) * step; value <= high + step * 1e-6; value += step) {
    out.append(svg("line", { class: "grid", x1: MARGIN.left, x2: width - MARGIN.right, y1: one(y(value)), y2: one(y(value)) }));
    out.append(svg("text", { x: MARGIN.left - 6, y: one(y(value) + 4), "text-anchor": "end" }, value.toFixed(digits)));
  }
  for (const ms of timeMarks(from, to, inner.w)) {
    const { day, time } = dayClock(ms);
    out.append(svg("line", { class: "grid", x1: one(x(ms)), x2: one(x(ms)), y1: MARGIN.top, y2: HEIGHT - MARGIN.bottom }));
    const anchor = x(ms) > width - 30 ? "end" : x(ms) < MARGIN.left + 20 ? "start" : "middle";
    out.append(svg("text", { x: one(x(ms)), y: HEIGHT - 5, "text-anchor": anchor }, time === "00:00" ? `day ${day}` : time));
  }
  for (const [begin, end, value] of bars) {
    out.append(svg("rect", { class: "dose", x: one(x(begin)), y: one(y(value)), width: Math.max(1.5, x(end) - x(begin) - 0.5).toFixed(1), height: one(y(low) - y(value)) }));
  }
  for (const [kind, points] of curves) {
    let path = "", isDown = false;
    for (const [ms, value] of points) {
      if (value !== null) path += `${isDown ? "L" : "M"}${one(x(ms))} ${one(y(value))}`;
      isDown = value !== null;
    }
    if (path) out.append(svg("path", { class: kind, d: path }));
  }
  out.append(svg("text", { class: "title", x: MARGIN.left, y: 13 }, unit ? `${title}, ${unit}` : title));
  return out;
}

// The range of the values, no narrower than `least`, with some room.
function rangeOf(curves, least) {
  const values = curves.flatMap(([, points]) => points.map((point) => point[1])).filter((value) => value !== null);
  let low = Math.min(...values, least[0]), high = Math.max(...values, least[1]);
  const room = (high - low) * 0.05;
  return { low: low - room, high: high + room };
}

function drawAll(place, curves, begun, feeders, clockMs, hours) {
  const width = Math.max(280, Math.floor(place.clientWidth));
  const [from, to] = [clockMs - hours * HOUR_MS, clockMs];
  const points = curves.since(from);
  const of = (at) => points.map((point) => [point[0], point[at]]);
  const last = points[points.length - 1];
  const span = { from, to, width };
  const told = (name, value, unit) => `${name} over the last ${hours} h, ${last ? `now ${value} ${unit}`.trim() : "nothing yet"}`;
  const two = (title, unit, truth, shown, band, least) => {
    const lines = [["shown", of(shown)], ["true", of(truth)]];
    const label = told(title, last && last[truth].toFixed(unit === "mV" ? 0 : 2), unit);
    return drawing({ ...span, ...rangeOf(lines, least), title, unit, band, curves: lines, label });
  };
  const chlorine = [["true", of(3)]];
  const drawings = [
    two("pH", "", 1, 4, begun.ph_band, begun.ph_band),
    two("ORP", "mV", 2, 5, begun.orp_band, begun.orp_band),
    drawing({ ...span, ...rangeOf(chlorine, [0, 2]), low: 0, title: "Free chlorine", unit: "mg/L", curves: chlorine,
      label: told("Free chlorine", last && last[3].toFixed(2), "mg/L") }),
  ];
  feeders.forEach((feeder, index) => drawings.push(fedDrawing(span, points, feeder, index, hours)));
  place.replaceChildren(...drawings);
}

// What was fed, in slots of a few minutes.
function fedDrawing(span, points, feeder, index, hours) {
  const slot = (hours <= 3 ? 2 : hours <= 12 ? 10 : 30) * 60_000;
  const slots = new Map();
  for (const point of points) {
    const at = Math.floor((point[0] - 1) / slot) * slot;
    slots.set(at, (slots.get(at) || 0) + point[7][index]);
  }
  const bars = [...slots].filter(([, fed]) => fed > 0).map(([at, fed]) => [Math.max(at, span.from), Math.min(at + slot, span.to), fed]);
  const high = Math.max(feeder.unit === "g" ? 5 : 20, ...bars.map((bar) => bar[2])) * 1.05;
  const total = bars.reduce((sum, bar) => sum + bar[2], 0);
  const unit = `${feeder.unit} in ${slot / 60_000} min`;
  return drawing({ ...span, title: `${feeder.name} fed`, unit, low: 0, high, bars,
    label: `${feeder.name} fed over the last ${hours} h: ${total.toFixed(0)} ${feeder.unit}` });
}
