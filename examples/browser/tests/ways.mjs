// The module in the page tells a way that `dosewarden explore --trail` kept as the host's `explore --replay` and `run` do.
//
//   node ways.mjs PAGE.html DOSEWARDEN WAY.txt...

import { spawnSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { basename } from "node:path";
import assert from "node:assert/strict";
import { loaded } from "./loaded.mjs";

const [page, host, ...files] = process.argv.slice(2);
const { Pool, Refused, module } = loaded(readFileSync(page, "utf8"));
const pool = await Pool.from(module);
assert(files.length > 0, "no way was named");

for (const path of files) {
  const file = basename(path);
  const told = pool.ask({ do: "way", file, text: readFileSync(path, "utf8") });
  for (const words of [["explore", "--replay", path], ["run", path]]) {
    const { status, stdout, stderr } = spawnSync(host, words, { encoding: "utf8" });
    assert.equal(told.text, stdout, `${file}: the page and ${words[0]} differ\n${stderr}`);
    assert.equal(status, told.holds ? 0 : 1, `${file}: ${words[0]}'s exit status`);
  }
  // The parts that the page shows say what the text says.
  for (const tick of told.ticks) {
    assert(told.text.includes(`  ${tick.happens}\n       -> ${tick.comes}\n`), tick.comes);
    if (tick.was) assert(told.text.includes(`when it was found: ${tick.was}\n`), tick.was);
    for (const [at, one] of tick.feeders.entries()) {
      const names = one.refused_by.map((rule) => rule.name).join(", ");
      const says = one.run_ms > 0 ? `feeder ${at} runs for ${one.run_ms} ms` : `feeder ${at} ${one.stage}, refused by ${names || "no rule"}`;
      assert(tick.comes.includes(says), `${tick.comes}: ${says}`);
      assert(one.refused_by.every((rule) => rule.words.length > 5), names);
    }
    assert(tick.state.length > 8, "the state is told");
  }
  for (const line of told.ends) assert(told.text.includes(`  ${line}\n`), line);
  console.log(`   ${file}: ${told.ticks.length} calls, told as on the host: ${told.ends.join("; ")}`);
}

// What is wrong with a file is told by its line, and the module goes on.
for (const [text, says] of [
  ["dosewarden explore x9\n", /^bad\.txt:1: `x9` is no part/],
  ["dosewarden explore x2\nseven\n", /^bad\.txt:2: `seven` is no event/],
  ["[scenario]\n", /^bad\.txt:1: a file for --replay begins/],
]) {
  assert.throws(() => pool.ask({ do: "way", file: "bad.txt", text }), (error) => error instanceof Refused && says.test(error.message), text);
}
assert.equal(pool.ask({ do: "way", file: "a.txt", text: "dosewarden explore x2\n" }).ticks.length, 0);
