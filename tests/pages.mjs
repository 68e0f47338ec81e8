// Pages in headless Chromium: none says an error or asks for anything from elsewhere, all that is drawn has a name, nothing
// is wider than a phone or a desk but what scrolls, and on paper nothing is cut off and all is dark on light.
//
//   node pages.mjs CHROMIUM FOLDER of pages [FOLDER for screenshots]

import assert from "node:assert/strict";
import { mkdtempSync, readdirSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { Browser } from "../examples/browser/tests/chromium.mjs";

const [chromium, folder, pictures] = process.argv.slice(2);
const work = mkdtempSync(join(tmpdir(), "dosewarden-"));
// Of the narrower of the two usual papers, 210 and 216 mm, between margins of 10 mm, at 96 to an inch.
const PAPER_PX = 718;
const LOOKS = [["phone", 360, 740, "screen"], ["desk", 1280, 900, "screen"], ["paper", PAPER_PX, 1000, "print"]];
const browser = new Browser(chromium, work, "document.readyState === 'complete' && !!document.querySelector('h1')", pictures);

// What has a name for those who listen: drawings, and tables by their caption.
const NAMELESS = `[...document.querySelectorAll("svg, table, .scroll")].filter((one) => one.tagName === "TABLE"
  ? !one.caption?.textContent.trim()
  : !one.getAttribute("aria-label") && !one.querySelector("title")?.textContent.trim() && one.getAttribute("aria-hidden") !== "true")
  .map((one) => one.outerHTML.slice(0, 90))`;
// What would have to be pushed sideways to be read, or is not shown.
const CUT = `[...document.querySelectorAll("main *")].filter((one) => {
  if (one.closest("svg") || one.closest("nav")) return false;
  const style = getComputedStyle(one);
  return style.overflowX !== "visible" && one.scrollWidth > one.clientWidth + 1
    || one.tagName === "DETAILS" && !one.lastElementChild.checkVisibility();
}).map((one) => one.outerHTML.slice(0, 90))`;
const WIDEST = "Math.ceil(Math.max(...[...document.querySelectorAll('body *')].map((one) => one.getBoundingClientRect().right)))";
const LIGHT = `(() => { const of = (text) => text.match(/\\d+/g).slice(0, 3).reduce((sum, one) => sum + Number(one), 0);
  const style = getComputedStyle(document.body); return of(style.backgroundColor) - of(style.color); })()`;

async function look(name, [place, width, height, media], scheme) {
  const what = `${name}, ${place}, ${scheme}`;
  await browser.shape(width, height, scheme, media);
  if (media === "print") {
    assert.deepEqual(await browser.value(CUT), [], `${what}: cut off`);
    const widest = await browser.value(WIDEST);
    assert(widest <= width + 1, `${what}: ${widest} px wide, of ${width}`);
  } else {
    await browser.fits(what);
  }
  const light = await browser.value(LIGHT);
  assert.equal(light > 300, media === "print" || scheme === "light", `${what}: dark on light, or light on dark (${light})`);
  assert(Math.abs(light) > 300, `${what}: words hardly stand out (${light})`);
  await browser.picture(`${name}-${place}-${scheme}`);
}

try {
  const pages = readdirSync(folder).filter((one) => one.endsWith(".html"));
  assert(pages.length > 0, "no pages");
  for (const page of pages) {
    const at = pathToFileURL(resolve(join(folder, page))).href;
    const name = page.replace(".html", "");
    await browser.open(at, 1280, 900);
    for (const place of LOOKS) {
      for (const scheme of ["light", "dark"]) await look(name, place, scheme);
    }
    assert.deepEqual(await browser.value(NAMELESS), [], `${name}: without a name`);
    assert.equal(await browser.value("document.documentElement.lang && document.title ? document.querySelectorAll('h1').length : 0"), 1, name);
  }
  assert.deepEqual(browser.findings(), [], "errors or requests");
  console.log(`   ${pages.length} pages: no error, no request, nothing too wide or cut off on paper, all named`);
} finally {
  await browser.close(work);
}
