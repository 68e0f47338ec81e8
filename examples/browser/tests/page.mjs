// The page in headless Chromium: it opens without an error or a request, buttons do what they say, nothing overflows,
// everything has a name, and the trace is that of the host.
//
//   node page.mjs CHROMIUM PAGE.html DOSEWARDEN [FOLDER for screenshots]

import { execFileSync, spawn } from "node:child_process";
import { createHash } from "node:crypto";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import assert from "node:assert/strict";

const [chromium, file, host, pictures] = process.argv.slice(2);
const work = mkdtempSync(join(tmpdir(), "dosewarden-"));
const url = pathToFileURL(resolve(file)).href;
const REPLAY = "../../../tests/replay/standing-water-h1-late-on-flow-loss.toml";

const WAY = "../../../tests/ways/spread-hold-gone.txt";

// Speaks with the browser by its pipes: no port, no package.
class Browser {
  constructor() {
    const flags = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--hide-scrollbars",
      "--disable-background-networking", "--disable-component-update", "--disable-sync", `--user-data-dir=${work}/profile`,
      "--remote-debugging-pipe", "about:blank"];
    this.process = spawn(chromium, flags, { stdio: ["ignore", "ignore", "ignore", "pipe", "pipe"] });
    [this.last, this.waiting, this.rest] = [0, new Map(), Buffer.alloc(0)];
    this.events = [];
    this.process.stdio[4].on("data", (data) => this.read(data));
  }

  read(data) {
    this.rest = Buffer.concat([this.rest, data]);
    for (let end; (end = this.rest.indexOf(0)) >= 0; this.rest = this.rest.subarray(end + 1)) {
      const message = JSON.parse(this.rest.subarray(0, end).toString());
      if (message.id) this.waiting.get(message.id)(message);
      else this.events.push(message);
    }
  }

  send(method, params = {}) {
    const id = ++this.last;
    this.process.stdio[3].write(`${JSON.stringify({ id, method, params, sessionId: this.session })}\0`);
    return new Promise((done, failed) => this.waiting.set(id, ({ result, error }) =>
      error ? failed(new Error(`${method}: ${error.message}`)) : done(result)));
  }

  async open(at, width, height, scheme = "light") {
    if (!this.session) {
      const { targetInfos } = await this.send("Target.getTargets");
      const { targetId } = targetInfos.find((target) => target.type === "page");
      this.session = (await this.send("Target.attachToTarget", { targetId, flatten: true })).sessionId;
      for (const domain of ["Page", "Runtime", "Log", "Network", "Accessibility"]) await this.send(`${domain}.enable`);
    }
    const features = [{ name: "prefers-color-scheme", value: scheme }, { name: "prefers-reduced-motion", value: "reduce" }];
    await this.send("Emulation.setEmulatedMedia", { features });
    await this.send("Emulation.setDeviceMetricsOverride", { width, height, deviceScaleFactor: 1, mobile: width < 600 });
    await this.send("Page.navigate", { url: "about:blank" });
    await this.send("Page.navigate", { url: at });
    await this.until("!!document.getElementById('run') && !document.getElementById('run').disabled");
  }

  async value(expression) {
    const { result, exceptionDetails } = await this.send("Runtime.evaluate", { expression, returnByValue: true, awaitPromise: true });
    if (exceptionDetails) throw new Error(`${expression}: ${exceptionDetails.exception?.description}`);
    return result.value;
  }

  async until(expression, seconds = 60) {
    for (let tries = 0; tries < seconds * 10; tries++) {
      if (await this.value(expression)) return;
      await new Promise((done) => setTimeout(done, 100));
    }
    throw new Error(`not within ${seconds} s: ${expression}\n${await this.value("document.body.innerText.slice(0, 1500)")}`);
  }

  // By the words on it, as people find it.
  click(words) {
    return this.value(`(() => { const all = [...document.querySelectorAll("button, summary")];
      const found = all.filter((one) => one.textContent.trim() === ${JSON.stringify(words)});
      if (found.length !== 1) throw new Error(found.length + " buttons " + ${JSON.stringify(words)}); found[0].click(); })()`);
  }

  text(id) {
    return this.value(`document.getElementById("${id}").textContent`);
  }

  // In pieces that can be read on a screen.
  async picture(name) {
    if (!pictures) return;
    const { cssContentSize } = await this.send("Page.getLayoutMetrics");
    for (let y = 0, piece = 0; y < cssContentSize.height; y += 1500, piece++) {
      const clip = { x: 0, y, width: cssContentSize.width, height: Math.min(1500, cssContentSize.height - y), scale: 1 };
      const { data } = await this.send("Page.captureScreenshot", { captureBeyondViewport: true, clip });
      writeFileSync(join(pictures, `${name}-${piece}.png`), Buffer.from(data, "base64"));
    }
  }

  // What went wrong, or went out.
  findings() {
    const told = this.events.map(({ method, params }) => {
      if (method === "Runtime.exceptionThrown") return `exception: ${params.exceptionDetails.exception?.description}`;
      if (method === "Runtime.consoleAPICalled") return `console: ${params.args.map((one) => one.value).join(" ")}`;
      if (method === "Log.entryAdded") return `log: ${params.entry.text}`;
      const to = method === "Network.requestWillBeSent" ? params.request.url : "";
      return to && to.split("#")[0] !== url && !/^(data|blob|about):/.test(to) ? `request: ${to}` : "";
    });
    return told.filter(Boolean);
  }
}

function onHost(text, options = []) {
  const [scenario, trace] = [join(work, "scenario.toml"), join(work, "trace.csv")];
  writeFileSync(scenario, text);
  try {
    execFileSync(host, ["run", scenario, "--trace", trace, ...options], { stdio: "pipe" });
  } catch (error) {
    if (error.status !== 1) throw new Error(`${host}: ${error.stderr}`);
  }
  return createHash("sha256").update(readFileSync(trace)).digest("hex");
}

// Everything that can be pressed or filled in has a name.
async function named(browser) {
  const { nodes } = await browser.send("Accessibility.getFullAXTree");
  const kinds = ["button", "textbox", "combobox", "radio", "spinbutton", "image", "link", "DisclosureTriangle"];
  const found = nodes.filter((node) => !node.ignored && kinds.includes(node.role?.value));
  assert(found.length > 40, `only ${found.length} elements were found`);
  assert.deepEqual(found.filter((node) => !node.name?.value).map((node) => node.role.value), [], "elements without a name");
}

async function fits(browser, what) {
  const over = await browser.value(`(() => { const wide = document.documentElement.clientWidth;
    const all = [...document.querySelectorAll("body *")].filter((one) => !one.closest(".scroll"));
    return all.filter((one) => one.getBoundingClientRect().right > wide + 1).map((one) => one.tagName + "." + one.className); })()`);
  assert.deepEqual(over, [], `${what}: wider than the page`);
}

async function plays(browser) {
  await browser.click("+ 1 h");
  await browser.click("In the next dose of acid");
  assert.match(await browser.text("said"), /5 s into a dose of acid/);
  await browser.click("+ 1 h");
  assert.match(await browser.text("log"), /the power goes for 20 min/i);
  await browser.click("Circulation pump trips");
  await browser.click("+ 1 min");
  assert.match(await browser.text("verdict"), /awaiting flow/);
  assert.match(await browser.text("feeders"), /flow_proven.*Since day 1 10:\d\d:\d\d, for (\d+ s|1 min)\. Clears once flow stays/);
  await browser.click("Interlock wires bridged (switch and pump contact)");
  await browser.click("Flow switch sticks at “flow”");
  await browser.click("Interlock wires bridged (switch and pump contact)");
  await browser.click("+ 1 min");
  assert.match(await browser.text("verdict"), /locked out by witnesses_agree.*A person is needed/, "the switch still sticks");
  await browser.picture("locked-out");
  await browser.click("Circulation pump trips");
  await browser.click("Flow switch sticks at “flow”");
  await browser.click("+ 1 min");
  await browser.click("Release lockouts, pool empty and line purged");
  await browser.click("+ 1 min");
  assert.doesNotMatch(await browser.text("verdict"), /locked out/);
  await browser.value(`document.querySelector("#speed input[value='3600']").click()`);
  const before = await browser.value("page.seen.clock_ms");
  await browser.click("Run");
  await browser.until(`page.seen.clock_ms > ${before} + 1800000`);
  await browser.click("Stop");
  const { text, digest } = await browser.value("({ text: page.pool.ask({ do: 'save' }).text, digest: document.getElementById('digest').textContent })");
  assert.equal(digest, onHost(text), "what was played differs on the host");
}

async function replays(browser) {
  const replay = new URL(REPLAY, import.meta.url);
  await browser.open(`${url}#scenario=${replay.pathname.split("/").pop()}`, 1280, 900);
  await browser.click("To the end");
  await browser.until("page.seen.ended", 120);
  assert.match(await browser.text("verdict"), /BROKEN in the water: standing_water/);
  const digest = await browser.text("digest");
  assert.equal(digest, onHost(readFileSync(replay, "utf8"), ["--canary", "late-on-flow-loss"]), "the replay differs on the host");
  await browser.picture("counterexample");
}

// A way of explore: opened from the list, gone through call by call, and at its end what the host says.
async function walks(browser) {
  const way = new URL(WAY, import.meta.url).pathname;
  const told = execFileSync(host, ["explore", "--replay", way], { encoding: "utf8" });
  const calls = told.match(/ -> /g).length;
  for (const [name, width, height] of [["way-phone", 360, 740], ["way-desktop", 1280, 900]]) {
    for (const scheme of ["light", "dark"]) {
      await browser.open(`${url}#scenario=${way.split("/").pop()}`, width, height, scheme);
      await browser.until("!document.getElementById('way').hidden");
      assert.equal(await browser.text("way-at"), `Call 1 of ${calls}: what happens`);
      await browser.click("Last");
      await fits(browser, `${name}, ${scheme}`);
      await browser.picture(`${name}-${scheme}`);
    }
  }
  assert.equal(await browser.value("page.way.told.text"), told, "the page and the host tell another way");
  assert.match(await browser.text("way-ends"), /everything holds; with the guard of the walk that found it SPREAD did not hold/);
  assert.match(await browser.text("way-comes"), /it is not fed; its cycle is idle\..*Refused by:.*spread_hold/);
  assert.match(await browser.text("way-was"), /decided something else here: feeder 0 Pending/);
  assert.equal(await browser.value("document.getElementById('way-on').disabled"), true);
  await browser.click("Back");
  assert.equal(await browser.text("way-at"), `Call ${calls - 1} of ${calls}: what happens`);
  assert.match(await browser.text("way-was"), /here: feeder 0 Idle, refused by flow_proven, probe_settled, line_clear, charge_durable\.$/);
  await browser.click("First");
  await browser.click("Forward");
  assert(await browser.value("document.querySelectorAll('#way-state .changed').length > 0"), "what changed is marked");
  assert.equal(await browser.value("document.querySelectorAll('#way-list [aria-current=step]').length"), 1);
  await browser.click("First");
  await browser.click("Run through");
  await browser.until(`document.getElementById('way-at').textContent.startsWith('Call ${calls} of')`, 30);
  await browser.until("document.getElementById('way-run').textContent === 'Run through'");
  await named(browser);
  await browser.open(`${url}#scenario=${way.split("/").pop()}&seed=3`, 1280, 900);
  assert.match(await browser.text("trouble"), /seed and unit are for a scenario/);
  assert.equal(await browser.value("document.getElementById('way').hidden"), true);
}

const browser = new Browser();
try {
  for (const [name, width, height] of [["phone", 500, 1000], ["small-phone", 360, 740], ["desktop", 1280, 900]]) {
    for (const scheme of ["light", "dark"]) {
      await browser.open(url, width, height, scheme);
      for (let hour = 0; hour < 5; hour++) await browser.click("+ 1 h");
      await browser.value(`document.querySelectorAll("details").forEach((one) => { one.open = true; })`);
      await fits(browser, `${name}, ${scheme}`);
      await browser.picture(`${name}-${scheme}`);
    }
  }
  await named(browser);
  await browser.open(url, 500, 1000);
  await plays(browser);
  await replays(browser);
  await walks(browser);
  assert.deepEqual(browser.findings(), [], "errors or requests");
  console.log("   opens, plays, replays with the host's bits; no error, no request, nothing too wide, all named");
} finally {
  browser.process.kill();
  await new Promise((done) => browser.process.once("exit", done));
  try {
    rmSync(work, { recursive: true, force: true, maxRetries: 10, retryDelay: 300 });
  } catch (error) {
    // The browser's own children may still write into its profile. Nothing of the page depends on that.
    console.warn(`   left behind: ${error.path ?? work} (${error.code})`);
  }
}
