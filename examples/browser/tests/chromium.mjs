// Headless Chromium, spoken with by its pipes: no port, no package.

import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";

export class Browser {
  // `ready` is what has to be true of a page that is open; pictures go into that folder, if there is one.
  constructor(chromium, work, ready, pictures) {
    [this.ready, this.pictures] = [ready, pictures];
    const flags = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--hide-scrollbars",
      "--disable-background-networking", "--disable-component-update", "--disable-sync", `--user-data-dir=${work}/profile`,
      "--remote-debugging-pipe", "about:blank"];
    this.process = spawn(chromium, flags, { stdio: ["ignore", "ignore", "ignore", "pipe", "pipe"] });
    [this.last, this.waiting, this.rest] = [0, new Map(), Buffer.alloc(0)];
    [this.events, this.opened] = [[], new Set()];
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
    this.opened.add(at.split("#")[0]);
    if (!this.session) {
      const { targetInfos } = await this.send("Target.getTargets");
      const { targetId } = targetInfos.find((target) => target.type === "page");
      this.session = (await this.send("Target.attachToTarget", { targetId, flatten: true })).sessionId;
      for (const domain of ["Page", "Runtime", "Log", "Network", "Accessibility"]) await this.send(`${domain}.enable`);
    }
    await this.shape(width, height, scheme);
    await this.send("Page.navigate", { url: "about:blank" });
    await this.send("Page.navigate", { url: at });
    await this.until(this.ready);
  }

  // How what is open is shown: `media` is screen or print.
  async shape(width, height, scheme, media = "screen") {
    const features = [{ name: "prefers-color-scheme", value: scheme }, { name: "prefers-reduced-motion", value: "reduce" }];
    await this.send("Emulation.setEmulatedMedia", { media, features });
    await this.send("Emulation.setDeviceMetricsOverride", { width, height, deviceScaleFactor: 1, mobile: width < 600 });
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
    if (!this.pictures) return;
    const { cssContentSize } = await this.send("Page.getLayoutMetrics");
    for (let y = 0, piece = 0; y < cssContentSize.height; y += 1500, piece++) {
      const clip = { x: 0, y, width: cssContentSize.width, height: Math.min(1500, cssContentSize.height - y), scale: 1 };
      const { data } = await this.send("Page.captureScreenshot", { captureBeyondViewport: true, clip });
      writeFileSync(join(this.pictures, `${name}-${piece}.png`), Buffer.from(data, "base64"));
    }
  }

  // What went wrong, or went out.
  findings() {
    const told = this.events.map(({ method, params }) => {
      if (method === "Runtime.exceptionThrown") return `exception: ${params.exceptionDetails.exception?.description}`;
      if (method === "Runtime.consoleAPICalled") return `console: ${params.args.map((one) => one.value).join(" ")}`;
      if (method === "Log.entryAdded") return `log: ${params.entry.text}`;
      const to = method === "Network.requestWillBeSent" ? params.request.url : "";
      return to && !this.opened.has(to.split("#")[0]) && !/^(data|blob|about):/.test(to) ? `request: ${to}` : "";
    });
    return told.filter(Boolean);
  }

  // Nothing is wider than the page but what scrolls.
  async fits(what) {
    const over = await this.value(`(() => { const wide = document.documentElement.clientWidth;
      const all = [...document.querySelectorAll("body *")].filter((one) => !one.parentElement.closest(".scroll, pre"));
      return all.filter((one) => one.getBoundingClientRect().right > wide + 1).map((one) => one.tagName + "." + one.className); })()`);
    assert.deepEqual(over, [], `${what}: wider than the page`);
    const [wide, most] = await this.value("[document.documentElement.scrollWidth, document.documentElement.clientWidth]");
    assert(wide <= most, `${what}: ${wide} px wide, of ${most}`);
  }

  async close(work) {
    this.process.kill();
    await new Promise((done) => this.process.once("exit", done));
    try {
      rmSync(work, { recursive: true, force: true, maxRetries: 10, retryDelay: 300 });
    } catch (error) {
      // The browser's own children may still write into its profile. Nothing of the page depends on that.
      console.warn(`   left behind: ${error.path ?? work} (${error.code})`);
    }
  }
}
