// What the buttons do: faults and acts in the words of a scenario file.

// A fault that stands: `set` without its `fault = `, `end` as it is ended.
const fault = (words) => ({ set: `fault = ${words}`, end: `fault_ends = ${words}` });
const person = (words) => `person = ${words}`;

// Groups of buttons for a pool with these feeders. `stands`: faults while the button is pressed; `once`: an event.
function actsFor(feeders) {
  const liquids = feeders.filter((feeder) => feeder.drum !== null);
  const stuck = fault('"flow_switch_stuck_on"');
  const ofEach = (label, make) => liquids.map((feeder) => ({ label: `${feeder.name}: ${label}`, ...make(feeder.name) }));
  const of = (name, words) => fault(`"${words}"\nof = "${name}"`);
  const drums = [];
  if (new Set(liquids.map((feeder) => feeder.product)).size > 1) {
    drums.push({ label: "Drums swapped", stands: liquids.map((feeder) => of(feeder.name, "wrong_product")) });
  }
  return [
    ["Flow", [
      { label: "Circulation pump trips", stands: [fault('"pump_trips"')] },
      { label: "Flow falls to 30 %", stands: [fault('"flow_reduced"\nsize = "30 %"')] },
      { label: "Flow switch sticks at “flow”", stands: [stuck] },
      { label: "Interlock wires bridged (switch and pump contact)", stands: [stuck, fault('"pump_contact_stuck_on"')] },
    ]],
    ["Power, away for 20 min", [
      { label: "Now", once: 'power_cut = "20 min"', said: "The power is away." },
      ...feeders.map((feeder) => ({
        label: `In the next dose of ${feeder.name}`,
        once: `when_feeding = "${feeder.name}"\nfeeding_for = "5 s"\npower_cut = "20 min"`,
        said: `The power will go 5 s into a dose of ${feeder.name}.`,
      })),
    ]],
    ["Probes", [
      { label: "pH probe fouled: slow, reads 0.3 high",
        stands: [fault('"probe_offset"\nof = "ph"\nsize = "pH 0.3"'), fault('"probe_sluggish"\nof = "ph"\nsize = 10')] },
      { label: "ORP probe fouled: slow, reads 100 mV low",
        stands: [fault('"probe_offset"\nof = "orp"\nsize = "-100 mV"'), fault('"probe_sluggish"\nof = "orp"\nsize = 10')] },
      { label: "pH lead broken", stands: [fault('"probe_open"\nof = "ph"')] },
    ]],
    ["Drums and feeders", [
      ...drums,
      ...ofEach("contact welded on", (name) => ({ stands: [of(name, "contact_welded")] })),
      ...ofEach("lost its prime", (name) => ({ stands: [of(name, "lost_prime")] })),
      ...ofEach("drum empty", (name) => ({ stands: [of(name, "drum_empty")] })),
    ]],
    ["A person", [
      { label: "Begin a new unit", once: person('"initialise"') },
      { label: "Move to full caps", once: person('"full_stage"') },
      { label: "Acknowledge alarms", once: person('"acknowledge"') },
      { label: "Release lockouts, pool empty and line purged",
        once: person('"release"\npool_empty = true\nremedy = "line"') },
      { label: "Release lockouts, probe mended", once: person('"release"\npool_empty = true\nremedy = "probe"') },
      { label: "Emergency stop for 10 min", once: person('"emergency_stop"\nfor = "10 min"') },
      { label: "Pause for 1 h", once: person('"pause"\nfor = "1 h"') },
      ...ofEach("feed by hand for 30 s", (name) => ({ once: person(`"manual_feed"\nfeeder = "${name}"\nfor = "30 s"`) })),
      ...ofEach("fill the drum", (name) => ({ once: person(`"refill"\nfeeder = "${name}"`) })),
    ]],
  ];
}

// The buttons, and which of them are pressed.
class Acts {
  constructor(place, happen) {
    this.place = place;
    this.happen = happen;
    this.standing = new Set();
  }

  show(feeders) {
    this.standing.clear();
    this.place.replaceChildren(...actsFor(feeders).map(([title, acts]) => {
      const group = element("fieldset");
      const keys = element("div", "acts");
      keys.append(...acts.map((act) => this.button(act)));
      group.append(element("legend", "", title), keys);
      return group;
    }));
  }

  button(act) {
    const button = element("button", "", act.label);
    button.type = "button";
    if (act.once) {
      button.addEventListener("click", () => this.happen(act.once, act.said));
      return button;
    }
    button.setAttribute("aria-pressed", "false");
    button.addEventListener("click", () => {
      const isOn = this.standing.has(act);
      if (this.happen(this.change(act, isOn).join("\n[[event]]\n"))) {
        isOn ? this.standing.delete(act) : this.standing.add(act);
        button.setAttribute("aria-pressed", String(!isOn));
      }
    });
    return button;
  }

  // What a button's other state changes: not what another pressed button holds.
  change(act, isOn) {
    const held = new Set([...this.standing].filter((other) => other !== act).flatMap((other) => other.stands.map((one) => one.set)));
    const own = act.stands.filter((one) => !held.has(one.set)).map((one) => (isOn ? one.end : one.set));
    // All of it is held by others: set it again, which changes nothing.
    return own.length ? own : act.stands.map((one) => one.set);
  }
}

function element(name, classes = "", text = "") {
  const made = document.createElement(name);
  if (classes) made.className = classes;
  if (text) made.textContent = text;
  return made;
}
