// The page in headless Chromium: it opens without an error or a request, buttons do what they say, nothing overflows,
// everything has a name, and the trace is that of the host.
//
//   node page.mjs CHROMIUM PAGE.html DOSEWARDEN [FOLDER for screenshots]

import { execFileSync } from "node:child_process";
import { createHash } from "node:crypto";
import { mkdtempSync, readFileSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import assert from "node:assert/strict";
import { Browser } from "./chromium.mjs";

const [chromium, file, host, pictures] = process.argv.slice(2);
const work = mkdtempSync(join(tmpdir(), "dosewarden-"));
const url = pathToFileURL(resolve(file)).href;
const REPLAY = "../../../tests/replay/standing-water-h1-late-on-flow-loss.toml";

const WAY = "../../../tests/ways/spread-hold-gone.txt";

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
      await browser.fits(`${name}, ${scheme}`);
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

const ready = "!!document.getElementById('run') && !document.getElementById('run').disabled";
const browser = new Browser(chromium, work, ready, pictures);
try {
  for (const [name, width, height] of [["phone", 500, 1000], ["small-phone", 360, 740], ["desktop", 1280, 900]]) {
    for (const scheme of ["light", "dark"]) {
      await browser.open(url, width, height, scheme);
      for (let hour = 0; hour < 5; hour++) await browser.click("+ 1 h");
      await browser.value(`document.querySelectorAll("details").forEach((one) => { one.open = true; })`);
      await browser.fits(`${name}, ${scheme}`);
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
  await browser.close(work);
}
