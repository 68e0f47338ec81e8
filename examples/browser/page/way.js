// A way that `dosewarden explore --trail` kept: the calls of the guard one by one, as the module tells them.

const WAY_STEP_MS = 900;

const isWay = (text) => text.startsWith("dosewarden explore");

// What was decided for a feeder, in a sentence.
function decidedWords(one, at) {
  const asked = one.asked === "nothing" ? "nothing was asked for" : `${one.asked} feed was asked for`;
  const fed = one.run_ms > 0 ? `it may run for ${one.run_ms / 1000} s` : "it is not fed";
  return `Feeder ${at}: ${asked}; ${fed}; its cycle is ${one.stage.toLowerCase()}.`;
}

class WayShown {
  constructor() {
    [this.told, this.at, this.timer] = [null, 0, null];
    const on = (id, what) => byId(id).addEventListener("click", what);
    on("way-first", () => this.go(0));
    on("way-back", () => this.go(this.at - 1));
    on("way-on", () => this.go(this.at + 1));
    on("way-last", () => this.go(Infinity));
    on("way-run", () => (this.timer ? this.halt() : this.run()));
  }

  open(told) {
    this.told = told;
    byId("way").hidden = false;
    put(byId("way-about"), `${told.file}: part ${told.part} of the walk. Site: ${told.site}. What may happen to it: ${told.events}. ` +
      "A tick is 5 s; the first call comes after the first power-on.");
    const ends = byId("way-ends");
    put(ends, `At its end, with the guard in this page: ${told.ends.join("; ")}.`);
    ends.className = told.holds ? "verdict" : "verdict locked";
    byId("way-list").replaceChildren(...told.ticks.map((one, at) => this.item(one, at)));
    this.go(0);
    byId("h-way").focus();
  }

  item(one, at) {
    const item = element("li");
    const button = element("button", "", one.happens);
    button.type = "button";
    button.addEventListener("click", () => this.go(at));
    if (at === this.told.healthy_from) item.append(element("p", "key", "From here on nothing is wrong any more:"));
    item.append(button, element("span", "came", one.comes));
    if (one.was) item.append(element("span", "came was", `When it was found: ${one.was}`));
    return item;
  }

  run() {
    if (this.at === this.told.ticks.length - 1) this.show(0);
    put(byId("way-run"), "Stop");
    this.timer = setInterval(() => {
      this.show(this.at + 1);
      if (this.at === this.told.ticks.length - 1) this.halt();
    }, WAY_STEP_MS);
  }

  halt() {
    clearInterval(this.timer);
    this.timer = null;
    put(byId("way-run"), "Run through");
  }

  go(at) {
    this.halt();
    this.show(at);
  }

  show(at) {
    const { ticks, healthy_from: healthyFrom } = this.told;
    const last = ticks.length - 1;
    this.at = Math.max(0, Math.min(last, at));
    for (const id of ["way-first", "way-back"]) byId(id).disabled = this.at <= 0;
    for (const id of ["way-on", "way-last"]) byId(id).disabled = this.at >= last;
    byId("way-run").disabled = last < 1;
    const one = ticks[this.at];
    if (!one) return this.empty();
    const healthy = this.at >= healthyFrom ? ", nothing is wrong any more" : "";
    put(byId("way-at"), `Call ${this.at + 1} of ${ticks.length}${healthy}: what happens`);
    put(byId("way-happens"), `${one.happens}.`);
    byId("way-comes").replaceChildren(...this.decided(one));
    put(byId("way-was"), one.was ? `When it was found the guard decided something else here: ${one.was}.` : "");
    byId("way-was").hidden = !one.was;
    const before = new Map(this.at > 0 ? ticks[this.at - 1].state : one.state);
    byId("way-state").replaceChildren(...one.state.map(([name, words]) => {
      const row = element("div", before.get(name) === words ? "" : "changed");
      row.append(element("dt", "", name), element("dd", "", words));
      return row;
    }));
    [...byId("way-list").children].forEach((item, index) => {
      if (index === this.at) item.setAttribute("aria-current", "step");
      else item.removeAttribute("aria-current");
    });
  }

  // A file that has a part and no call.
  empty() {
    put(byId("way-at"), "No call");
    for (const id of ["way-happens", "way-was"]) put(byId(id), "");
    for (const id of ["way-comes", "way-state"]) byId(id).replaceChildren();
  }

  decided(one) {
    if (!one.feeders.length) return [element("p", "", `It was not called: ${one.comes}.`)];
    const all = one.feeders.flatMap((feeder, at) => {
      const words = element("p", "", decidedWords(feeder, at));
      if (!feeder.refused_by.length) return [words];
      const rules = element("ul");
      rules.append(...feeder.refused_by.map((rule) => {
        const item = element("li", "", `${rule.words} `);
        item.append(element("span", "name", rule.name));
        return item;
      }));
      return [words, element("p", "", "Refused by:"), rules];
    });
    if (this.at === this.told.ticks.length - 1 && !this.told.holds) all.push(element("p", "was", `${this.told.ends[0]}.`));
    return all;
  }
}
