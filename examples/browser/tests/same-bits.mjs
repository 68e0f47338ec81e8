// The module in the page gives the trace that `dosewarden run` writes, for the same scenario, seed and unit.
//
//   node same-bits.mjs PAGE.html DOSEWARDEN
//
// Takes the module, the scenarios and the page's own code out of the page that was built, and runs the host's binary.

import { execFileSync } from "node:child_process";
import { createHash } from "node:crypto";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import assert from "node:assert/strict";
import { loaded } from "./loaded.mjs";

const [page, host] = process.argv.slice(2);
const html = readFileSync(page, "utf8");
const work = mkdtempSync(join(tmpdir(), "dosewarden-"));
process.on("exit", () => rmSync(work, { recursive: true, force: true }));

const { Pool, Refused, module, scenario } = loaded(html);

// SHA-256 of the trace that the host writes. 1 is no failure: an oracle was broken, in both.
function onHost(text, options) {
  const [file, trace] = [join(work, "scenario.toml"), join(work, "trace.csv")];
  writeFileSync(file, text);
  try {
    execFileSync(host, ["run", file, "--trace", trace, ...options], { stdio: "pipe" });
  } catch (error) {
    if (error.status !== 1) throw new Error(`${host}: ${error.stderr}`);
  }
  return createHash("sha256").update(readFileSync(trace)).digest("hex");
}

function toTheEnd(pool) {
  while (pool.ticks(100_000) > 0);
  const seen = pool.ask({ do: "look" });
  assert(seen.ended);
  return seen;
}

// File, seed, unit. A seed of its own and the file's; the week with its faults, two bodies, a generator, broken units.
const cases = [
  ["first-pool.toml", null, null],
  ["first-pool.toml", "7", "no-guard"],
  ["pool-and-spa.toml", "123456789012345", null],
  ["salt-pool.toml", "3", null],
  ["standing-water-h1-late-on-flow-loss.toml", null, "late-on-flow-loss"],
  ["lockout-kept-h2-reset-lockout-gone-with-power.toml", null, "lockout-gone-with-power"],
];

const pool = await Pool.from(module);
for (const [file, seed, unit] of cases) {
  const text = scenario(file);
  const began = Date.now();
  // A counterexample names its unit by itself.
  const { begun } = pool.ask({ do: "begin", file, text, seed, unit: unit === "no-guard" ? unit : null });
  assert.equal(begun.unit, unit || "dosewarden", file);
  const seen = toTheEnd(pool);
  const broken = seen.oracles.filter((one) => one.verdict === "broken").map((one) => one.name).sort();
  if (unit !== "no-guard") assert.deepEqual(broken, [...begun.expect_broken].sort(), file);
  const took = Date.now() - began;
  const options = [...(seed ? ["--seed", seed] : []), ...(unit ? ["--canary", unit] : [])];
  assert.equal(seen.digest, onHost(text, options), `${file}: the page and the host differ`);
  console.log(`   ${file}${seed ? `, seed ${seed}` : ""}${unit ? `, ${unit}` : ""}: same bits, ${(took / 1000).toFixed(1)} s`);
}

// What is done by hand, saved, and replayed by the host.
pool.ask({ do: "begin", seed: "11" });
pool.ticks(6_007);
pool.ask({ do: "act", event: 'when_feeding = "chlorine"\nfeeding_for = "5 s"\npower_cut = "20 min"' });
pool.ticks(20_000);
pool.ask({ do: "act", event: 'fault = "flow_switch_stuck_on"\n[[event]]\nfault = "pump_trips"' });
pool.ticks(9_001);
assert.throws(() => pool.ask({ do: "act", event: 'fault = "nothing"' }), Refused);
const { text } = pool.ask({ do: "save" });
const seen = pool.ask({ do: "look" });
assert(seen.feeders.every((feeder) => feeder.phase === "locked_out"), "flow without a pump locks out");
assert.equal(seen.digest, onHost(text, []), "what was saved differs on the host");
console.log("   played by hand, saved, replayed by the host: same bits");
