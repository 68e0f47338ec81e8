// Time, and what people press. Ticks run in frames, for a bounded part of each.

const SPEEDS = [1, 10, 60, 600, 3600];
// Of a frame's 16 ms, so that the page stays able to answer.
const WORK_MS_MAX = 11;
const TICKS_AT_ONCE = 32;
const SHOW_EVERY_MS = 200;
const DRAW_EVERY_MS = 500;

const page = {
  pool: null, begun: null, seen: null, feeders: [], curves: new Curves(), shown: new Shown(), acts: null, way: null,
  isRunning: false, isToEnd: false, owedMs: 0, slow: 0, before: null, shownAt: -Infinity, drawnAt: -Infinity,
};

function trouble(what) {
  const place = byId("trouble");
  put(place, what || "");
  place.hidden = !what;
}

function say(what) {
  const place = byId("said");
  put(place, what || "");
  place.hidden = !what;
}

function speed() {
  return Number(document.querySelector("#speed input:checked").value);
}

// Lets ticks pass until `due` of them have or the frame's time is up; gives how many it were.
function pass(due) {
  const until = performance.now() + WORK_MS_MAX;
  let done = 0;
  while (done < due && performance.now() < until) {
    const chunk = Math.min(TICKS_AT_ONCE, due - done);
    const passed = page.pool.ticks(chunk);
    done += passed;
    if (passed < chunk) break;
  }
  return done;
}

function frame(now) {
  const elapsed = page.before === null ? 0 : Math.min(100, now - page.before);
  page.before = now;
  if (page.isRunning) {
    const tick = page.begun.tick_ms;
    page.owedMs = page.isToEnd ? Infinity : page.owedMs + elapsed * speed();
    const due = page.isToEnd ? 1e9 : Math.floor(page.owedMs / tick);
    try {
      const done = pass(due);
      pace(done < due && !page.isToEnd ? (done * tick) / Math.max(1, elapsed) : null);
      // What this device does not manage is not made up for later.
      page.owedMs = done < due ? 0 : page.owedMs - done * tick;
    } catch (error) {
      return broken(error);
    }
    refresh(now);
  }
  requestAnimationFrame(frame);
}

// Says so where this device does not keep up; `times` is how fast it was in this frame, or null where it does.
function pace(times) {
  if (times === null || !Number.isFinite(times)) page.slow = 0;
  else page.slow = page.slow ? page.slow * 0.95 + times * 0.05 : times;
  put(byId("pace"), page.slow ? `This device manages about ${Number(page.slow.toPrecision(2)).toLocaleString("en")} times.` : "");
}

// The module has stopped for good.
function broken(error) {
  trouble(error.message);
  for (const button of document.querySelectorAll("button")) button.disabled = true;
}

function refresh(now, isWanted = false) {
  if (!isWanted && now - page.shownAt < SHOW_EVERY_MS) return;
  page.shownAt = now;
  const seen = page.pool.ask({ do: "look" });
  page.seen = seen;
  page.curves.add(seen.points);
  page.shown.show(seen, isWanted ? Infinity : now);
  if (isWanted) page.shown.toldAt = now;
  if (isWanted || now - page.drawnAt >= DRAW_EVERY_MS) {
    page.drawnAt = now;
    draw();
  }
  if (seen.ended && page.isRunning) run(false);
  for (const id of ["run", "minute", "hour", "to-end"]) byId(id).disabled = seen.ended;
  // The quiet pool goes on for years.
  byId("to-end").hidden = page.begun.file === "quiet-pool.toml";
}

function draw() {
  if (page.seen) drawAll(byId("charts"), page.curves, page.begun, page.seen.feeders, page.seen.clock_ms, Number(byId("hours").value));
}

function run(isRunning, isToEnd = false) {
  [page.isRunning, page.isToEnd, page.owedMs] = [isRunning, isToEnd, 0];
  put(byId("run"), isRunning ? "Stop" : "Run");
  pace(null);
  if (!isRunning && page.pool) refresh(performance.now(), true);
}

// Lets so much time pass at once.
function step(ms) {
  run(false);
  try {
    page.pool.ticks(Math.round(ms / page.begun.tick_ms));
  } catch (error) {
    return broken(error);
  }
  refresh(performance.now(), true);
}

// Something happens; it is seen after the next tick. Gives whether it could.
function happen(event, said) {
  try {
    page.pool.ask({ do: "act", event });
    trouble("");
    say(said);
    if (!page.isRunning) step(page.begun.tick_ms);
    return true;
  } catch (error) {
    if (!(error instanceof Refused)) broken(error);
    trouble(error.message);
    return false;
  }
}

function scenarioText(name) {
  const found = [...document.querySelectorAll("script.scenario")].find((script) => script.dataset.file === name);
  // The build escapes what would end the element.
  return found ? found.textContent.trimStart().replaceAll("<\\/", "</") : undefined;
}

function begin({ file, text, seed, unit }) {
  const { begun, faults } = page.pool.ask({ do: "begin", file, text, seed: seed || null, unit: unit || null });
  page.begun = begun;
  page.curves.clear();
  page.shown.begin();
  trouble("");
  say("");
  put(byId("about"), `${begun.name}: ${begun.words.replace(/\.$/, "")}. Seed ${begun.seed}, unit ${begun.unit}, to ${begun.end}.` +
    (begun.expect_broken.length ? ` It is meant to break: ${begun.expect_broken.join(", ")}.` : ""));
  showFaults(faults);
  // The first tick gives the unit its power.
  step(begun.tick_ms);
  page.acts.show(page.seen.feeders);
}

function showFaults(faults) {
  page.faults = faults;
  byId("fault").replaceChildren(...faults.map((one) => new Option(`${one.id} ${one.name}`, one.id)));
  showFault();
}

function showFault() {
  const chosen = page.faults.find((one) => one.id === byId("fault").value);
  const of = chosen.of.length ? chosen.of : ["the site"];
  byId("fault-of").replaceChildren(...of.map((name) => new Option(name, chosen.of.length ? name : "")));
  put(byId("fault-acts"), `It acts on ${chosen.acts_on}.`);
}

// A way has its ticks, its limits and its guard: there is nothing to choose.
function openWay(file, text, seed, unit) {
  if (seed || unit) throw new Refused(`${file} is a way that explore kept, which is told again as it is: seed and unit are for a scenario`);
  page.way.open(page.pool.ask({ do: "way", file, text }));
  trouble("");
}

function beginAsked() {
  const chosen = byId("file").files[0];
  const [seed, unit] = [byId("seed").value.trim(), byId("unit").value];
  const start = (file, text) => {
    try {
      if (text && isWay(text)) openWay(file, text, seed, unit);
      else begin({ file, text, seed, unit });
    } catch (error) {
      trouble(error.message);
    }
  };
  if (chosen) {
    chosen.text().then((text) => start(chosen.name, text), (error) => trouble(`${chosen.name} cannot be read: ${error.message}`));
  } else {
    const file = byId("scenario").value;
    start(file || null, scenarioText(file) ?? null);
  }
}

function save() {
  const { text } = page.pool.ask({ do: "save" });
  const link = element("a");
  link.href = URL.createObjectURL(new Blob([text], { type: "text/plain" }));
  link.download = `played-${page.begun.file}`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 1000);
}

function listen() {
  const on = (id, kind, what) => byId(id).addEventListener(kind, what);
  on("run", "click", () => run(!page.isRunning));
  on("minute", "click", () => step(60_000));
  on("hour", "click", () => step(3_600_000));
  on("to-end", "click", () => run(true, true));
  on("hours", "change", draw);
  on("fault", "change", showFault);
  on("scenario", "change", () => { byId("file").value = ""; });
  on("save", "click", save);
  const asked = (id, what) => on(id, "submit", (event) => {
    event.preventDefault();
    what();
  });
  asked("begin", beginAsked);
  asked("free", () => happen(byId("event").value));
  asked("catalogue", () => {
    const of = byId("fault-of").value;
    happen(`inject = "${byId("fault").value}"\nseverity = ${Number(byId("severity").value)}${of ? `\nof = "${of}"` : ""}`);
  });
  new ResizeObserver(draw).observe(byId("charts"));
}

// What there is to choose from, and a link such as #scenario=first-pool.toml&seed=7&unit=no-guard.
function choose() {
  const about = page.pool.ask({ do: "about" });
  put(byId("version"), about.version);
  byId("caution-list").replaceChildren(...about.cautions.map((one) => element("li", "", one)));
  byId("unit").replaceChildren(new Option("as the file says", ""), ...about.units.map((name) => new Option(name, name)));
  const files = [...document.querySelectorAll("script.scenario")].map(({ dataset }) =>
    new Option(dataset.kind === "way" ? `${dataset.file}, a way of explore` : dataset.file, dataset.file));
  byId("scenario").replaceChildren(new Option("a quiet pool, to play with", ""), ...files);
  const speeds = element("div");
  speeds.append(...SPEEDS.map((one) => {
    const label = element("label");
    const radio = element("input");
    [radio.type, radio.name, radio.value, radio.checked] = ["radio", "speed", one, one === 60];
    label.append(radio, one.toLocaleString("en"));
    return label;
  }));
  byId("speed").append(speeds);
  const link = new URLSearchParams(location.hash.slice(1));
  for (const id of ["scenario", "seed", "unit"]) {
    if (link.has(id)) byId(id).value = link.get(id);
  }
}

async function unpacked() {
  const text = atob(byId("module").textContent.trim());
  const packed = Uint8Array.from(text, (one) => one.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

async function openPage() {
  try {
    page.pool = await Pool.from(await unpacked());
  } catch (error) {
    put(byId("clock"), "not loaded");
    return trouble(`The module does not start in this browser: ${error.message}. It needs WebAssembly and DecompressionStream.`);
  }
  page.acts = new Acts(byId("acts"), happen);
  page.way = new WayShown();
  choose();
  listen();
  beginAsked();
  if (!page.begun) {
    const why = byId("trouble").textContent;
    begin({});
    trouble(why);
  }
  byId("save").disabled = false;
  requestAnimationFrame(frame);
}

openPage();
