// Shows what the module tells. What is there stays in place, so that an open detail and the focus stay too.

const byId = (id) => document.getElementById(id);

function put(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

// "4 min", "2 h 5 min": how long something has stood, rounded down.
function span(ms) {
  const seconds = Math.floor(ms / 1000);
  if (seconds < 60) return `${seconds} s`;
  const minutes = Math.floor(seconds / 60);
  if (minutes < 60) return `${minutes} min`;
  const hours = Math.floor(minutes / 60);
  return hours < 48 ? `${hours} h ${minutes % 60} min` : `${Math.floor(hours / 24)} days ${hours % 24} h`;
}

const figure = (value, digits) => (value === null ? "none" : value.toFixed(digits));
const words = (name) => name.replaceAll("_", " ");

// A phase in words, with the rule that it names.
function phaseWords(feeder, powered) {
  if (!powered) return "no power";
  if (feeder.phase === null) return feeder.is_on ? "runs; this unit does not say why" : "off; this unit does not say why";
  return feeder.by ? `${words(feeder.phase)} by ${feeder.by}` : words(feeder.phase);
}

// What is first in a feeder's way, where its phase does not say it already.
function firstWords(feeder) {
  const first = feeder.obstacles[0];
  if (!first || ["feeding", "not_asked"].includes(feeder.phase)) return "";
  // No times: the page would read them out each second.
  return `, ${first.words}`;
}

// A sentence for each feeder: what the page reads out.
function verdictWords(seen) {
  const each = seen.feeders.map((feeder) => `${feeder.name}: ${phaseWords(feeder, seen.powered)}${seen.powered ? firstWords(feeder) : ""}.`);
  if (seen.needs_person) each.push("A person is needed.");
  const broken = seen.oracles.filter((oracle) => oracle.verdict === "broken").map((oracle) => oracle.name);
  if (broken.length) each.push(`BROKEN in the water: ${broken.join(", ")}.`);
  return each.join(" ");
}

function verdictClass(seen) {
  if (seen.feeders.some((feeder) => feeder.phase === "locked_out") || seen.oracles.some((one) => one.verdict === "broken")) return "locked";
  return !seen.powered || seen.feeders.some((feeder) => feeder.phase === "refused") ? "held" : "";
}

class FeederCard {
  constructor() {
    this.node = element("article", "feeder");
    this.title = element("span");
    this.phase = element("span", "phase");
    const head = element("h3");
    head.append(this.title, this.phase);
    this.list = element("ul");
    this.items = new Map();
    this.node.append(head, this.list);
  }

  show(feeder, powered) {
    put(this.title, feeder.name === feeder.product ? feeder.name : `${feeder.name} (${feeder.product})`);
    put(this.phase, phaseWords(feeder, powered));
    this.phase.className = feeder.phase === "feeding" ? "phase feeding" : "phase";
    const names = feeder.obstacles.map((one) => one.name);
    for (const [name, item] of this.items) {
      if (!names.includes(name)) {
        item.node.remove();
        this.items.delete(name);
      }
    }
    feeder.obstacles.forEach((one, at) => {
      if (!this.items.has(one.name)) this.items.set(one.name, obstacleItem(one));
      const item = this.items.get(one.name);
      if (this.list.children[at] !== item.node) this.list.insertBefore(item.node, this.list.children[at] || null);
      put(item.since, one.since ? `Since ${one.since}, for ${span(one.for_ms)}.` : "");
      put(item.clears, `Clears ${one.clears}.`);
    });
  }
}

function obstacleItem(one) {
  const node = element("li", one.kind);
  // The words of a rule say what is wrong: nothing goes before them.
  const lead = one.kind === "lockout" ? "Locked out: " : "";
  const line = element("p", "", `${lead}${one.words} `);
  line.append(element("span", "name key", one.name));
  const second = element("p");
  const since = element("span"), clears = element("strong");
  second.append(since, " ", clears);
  node.append(line, second);
  if (one.look_first.length) {
    const more = element("details");
    more.append(element("summary", "", "Look first at"), element("span", "", one.look_first.join("; ")));
    node.append(more);
  }
  return { node, since, clears };
}

class Shown {
  constructor() {
    this.cards = [];
    this.told = "";
    this.toldAt = -Infinity;
  }

  begin() {
    this.cards = [];
    byId("feeders").replaceChildren();
    byId("log").replaceChildren();
    byId("fed").replaceChildren();
    byId("oracles").replaceChildren();
    byId("figures").replaceChildren();
  }

  show(seen, nowMs) {
    put(byId("clock"), `${seen.clock}${seen.ended ? ", the end" : ""}`);
    put(byId("power"), seen.powered ? (seen.mains ? "" : "pump without power") : "no power");
    this.verdict(seen, nowMs);
    seen.feeders.forEach((feeder, at) => {
      if (!this.cards[at]) {
        this.cards[at] = new FeederCard();
        byId("feeders").append(this.cards[at].node);
      }
      this.cards[at].show(feeder, seen.powered);
    });
    showAlarms(seen);
    showFigures(seen);
    rows(byId("fed"), ["feeder", "", "fed in all", "used of the hour", "used of the day", "in the drum"], fedRows(seen));
    rows(byId("oracles"), ["oracle", "verdict", "worst", "bound", "unit"], oracleRows(seen));
    addLines(seen.log);
    put(byId("digest"), seen.digest);
  }

  // Read out when it changes, and no oftener than one can listen.
  verdict(seen, nowMs) {
    const told = verdictWords(seen);
    const place = byId("verdict");
    if (told === this.told || nowMs - this.toldAt < 1500) return;
    place.className = `verdict ${verdictClass(seen)}`;
    put(place, told);
    [this.told, this.toldAt] = [told, nowMs];
  }
}

function showAlarms(seen) {
  const list = byId("alarms");
  const lines = seen.alarms.map((alarm) => `${words(alarm.name)}, since ${alarm.since}${alarm.is_new ? ", not acknowledged" : ""}`);
  if (!lines.length) lines.push(seen.powered ? "None stands." : "The unit has no power.");
  if (list.dataset.told === lines.join("\n")) return;
  list.dataset.told = lines.join("\n");
  list.replaceChildren(...lines.map((line, at) => element("li", seen.alarms[at]?.is_new ? "new" : "", line)));
}

function showFigures(seen) {
  const { water } = seen;
  const pump = seen.pump_running ? "runs" : seen.pump_due ? "stands, though due" : "stands, by timetable";
  const all = [
    ["pH (unit shows)", `${figure(water.ph, 2)} (${figure(water.ph_shown, 2)})`],
    ["ORP (unit shows)", `${figure(water.orp_mv, 0)} (${figure(water.orp_shown_mv, 0)}) mV`],
    ["free chlorine", `${figure(water.free_chlorine_mg_l, 2)} mg/L`],
    ["alkalinity", `${figure(water.alkalinity_mg_l, 0)} mg/L`],
    ["temperature", `${figure(water.temperature_c, 1)} °C`],
    ["flow at injectors", `${figure(water.flow_l_min, 0)} L/min${water.is_moving ? "" : ", standing"}`],
    ["circulation pump", pump],
    ["series contact", seen.master_closed ? "closed" : "open"],
    ["chlorine gas let out", `${figure(seen.gas_released_g, 2)} g`],
  ];
  if (water.body) all.unshift(["body of water", water.body]);
  const list = byId("figures");
  if (list.children.length !== all.length) {
    list.replaceChildren(...all.map(() => {
      const pair = element("div");
      pair.append(element("dt"), element("dd"));
      return pair;
    }));
  }
  all.forEach(([name, value], at) => {
    put(list.children[at].children[0], name);
    put(list.children[at].children[1], value);
  });
}

function fedRows(seen) {
  return seen.feeders.map((feeder) => {
    const digits = feeder.unit === "g" ? 1 : 0;
    const used = (of) => {
      const cap = feeder.caps.find((one) => one.of === of);
      return cap ? { meter: cap.used, max: cap.cap, text: `${cap.used.toFixed(digits)} of ${cap.cap.toFixed(digits)} ${feeder.unit}` } : "not told";
    };
    const standing = feeder.fed_standing > 0.05 ? `, ${feeder.fed_standing.toFixed(1)} into standing water` : "";
    return {
      cells: [feeder.name, feeder.is_on ? "runs" : "off", `${feeder.fed.toFixed(digits)} ${feeder.unit}${standing}`, used("hour"), used("day"),
        feeder.drum === null ? "no drum" : `${(feeder.drum / 1000).toFixed(2)} L`],
    };
  });
}

function oracleRows(seen) {
  const short = (value) => (value === null ? "" : Number(value.toPrecision(4)).toString());
  const order = { broken: 0, held: 1, "not judged": 2 };
  const sorted = [...seen.oracles].sort((a, b) => order[a.verdict] - order[b.verdict]);
  return sorted.map((one) => ({
    isBroken: one.verdict === "broken",
    cells: [one.name, one.verdict === "broken" ? `BROKEN first at ${one.first_broken}: ${one.words}` : one.verdict === "held" ? "held" : `not judged: ${one.words}`,
      { right: short(one.worst) }, { right: short(one.bound) }, one.unit],
  }));
}

// A table whose cells change in place.
function rows(table, heads, all) {
  if (!table.tHead || table.tBodies[0].rows.length !== all.length) {
    const head = table.createTHead();
    head.replaceChildren();
    const line = head.insertRow();
    heads.forEach((text) => line.append(element("th", ["worst", "bound"].includes(text) ? "n" : "", text)));
    const body = table.tBodies[0] || table.createTBody();
    body.replaceChildren(...all.map(() => element("tr")));
    for (const row of body.rows) heads.forEach((text, column) => labelled(row.insertCell(), column ? text : ""));
    // Where the style makes blocks of them, they stay a table to those who listen.
    const roles = [[[table], "table"], [[head, body], "rowgroup"], [table.rows, "row"], [line.cells, "columnheader"]];
    for (const row of body.rows) roles.push([row.cells, "cell"]);
    for (const [some, role] of roles) for (const one of some) one.setAttribute("role", role);
  }
  all.forEach(({ cells, isBroken }, at) => {
    const row = table.tBodies[0].rows[at];
    row.className = isBroken ? "broken" : "";
    cells.forEach((cell, column) => cellOf(row.cells[column], cell));
  });
}

// A narrow screen shows a row as a block, each cell with the name of its column.
function labelled(cell, name) {
  if (name) cell.dataset.label = name;
}

function cellOf(place, cell) {
  if (typeof cell === "string") return put(place, cell);
  if (cell.right !== undefined) {
    place.className = "n";
    return put(place, cell.right);
  }
  if (!place.firstElementChild) {
    const meter = element("meter");
    place.replaceChildren(meter, element("br"), element("span"));
  }
  const [meter, , text] = place.children;
  [meter.max, meter.value] = [cell.max, Math.min(cell.meter, cell.max)];
  meter.setAttribute("aria-hidden", "true");
  put(text, cell.text);
}

const LINES_MAX = 300;

function addLines(lines) {
  const list = byId("log");
  for (const line of lines.slice(-LINES_MAX)) {
    const item = element("li");
    item.append(element("span", "clock-of", line.clock), element("span", "", line.words));
    list.prepend(item);
  }
  while (list.children.length > LINES_MAX) list.lastElementChild.remove();
}
