// How the page says what stands in a feeder's way: the words of a rule say what is wrong, and nothing may go before them.
//
//   node words.mjs
//
// Runs the page's own script with just enough of a document to hold what it makes.

import { readFileSync } from "node:fs";
import { runInThisContext } from "node:vm";
import assert from "node:assert/strict";

const show = readFileSync(new URL("../page/show.js", import.meta.url), "utf8");

class Node {
  constructor(tag, kind = "", text = "") {
    Object.assign(this, { tag, kind, own: text, inside: [] });
  }

  append(...more) {
    this.inside.push(...more);
  }

  get textContent() {
    return this.own + this.inside.map((one) => (typeof one === "string" ? one : one.textContent)).join("");
  }

  set textContent(text) {
    this.own = text;
  }
}

globalThis.element = (tag, kind, text) => new Node(tag, kind, text);
const { obstacleItem, firstWords } = runInThisContext(`${show}\n({ obstacleItem, firstWords })`);

const obstacle = (kind, name, words) => ({ kind, name, words, look_first: [], clears: "by itself", since: null });
const line = (one) => obstacleItem(one).node.inside[0].textContent;

const flow = "no flow proven: a witness says no, nothing, or not for long yet";
const turn = "an incompatible product has the turn";
assert.equal(line(obstacle("rule", "flow_proven", flow)), `${flow} flow_proven`);
assert.equal(line(obstacle("other", "other_has_turn", turn)), `${turn} other_has_turn`);
assert.equal(line(obstacle("lockout", "locked_line", "a line full of product")), "Locked out: a line full of product locked_line");

const feeder = (phase, ...obstacles) => ({ phase, obstacles });
assert.equal(firstWords(feeder("awaiting_flow", obstacle("rule", "flow_proven", flow))), `, ${flow}`);
assert.equal(firstWords(feeder("feeding", obstacle("rule", "flow_proven", flow))), "");
assert.equal(firstWords(feeder("refused")), "");

console.log("browser: what stands in the way is said by what is wrong, and nothing goes before it");
