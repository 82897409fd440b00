/* station-machine: one of several profiles as a form from the table of keys, what follows from it, and
 * learning the controller's words step by step. */
import { h, fill, button, fold, tick, freshId } from "./dom.js";
import { desk, ask, move, get, isActive } from "./desk.js";
import * as format from "./format.js";
import { tr, trc, plural, whole } from "./words.js";

const NAMES = { machine: tr("Name"), motion: tr("Motion"), drive: tr("Drive train"), lift: tr("Pen lift"), corrections: tr("Corrections"), supply: tr("Supply"), controller: tr("Controller"), board: tr("Board"), paper: tr("Paper") };

function field(key, changes, onchange) {
  const id = freshId("key"), help = freshId("help"), value = key.value ?? "";
  const colour = key.type === "colour" && /^#[0-9a-f]{6}$/i.test(value);
  const input = key.type === "flag"
    ? h("select", { id }, ["yes", "no"].map((v) => h("option", { value: v, selected: (value || key.default) === v }, v)))
    : h("input", { id, type: colour ? "color" : "text", value, placeholder: key.default ?? tr("follows from the drive train"), spellcheck: false, autocomplete: "off" });
  input.setAttribute("aria-describedby", help);
  input.addEventListener("change", () => {
    const name = `${key.section} ${key.name}`;
    if (input.value === value) changes.delete(name);
    else changes.set(name, { section: key.section, key: key.name, value: input.value });
    input.classList.toggle("changed", changes.has(name));
    onchange();
  });
  return h("div.key", null, h("label", { htmlFor: id }, tr(format.title(key.name))), input,
    h("p.help", { id: help }, [key.help, key.range ? `${key.range}.` : null].filter(Boolean).join(" ")));
}

export function machinePage() {
  const form = h("div.form"), bar = h("div.savebar", { hidden: true }), changes = new Map();
  const top = h("div.choosers");
  let shown = "";
  const save = async () => {
    if (await ask("set-keys", { changes: [...changes.values()] })) {
      changes.clear();
      shown = "";
      refresh();
    }
  };
  const count = h("span");
  fill(bar, count, button(tr("Save to the profile"), save, { main: true }), button(tr("Undo"), () => {
    changes.clear();
    load();
  }));
  const refresh = () => {
    bar.hidden = changes.size === 0;
    count.textContent = tr("{0} not saved yet", plural(changes.size, "{0} change", "{0} changes"));
  };
  const load = async () => {
    const { sections, path } = await get("/keys");
    refresh();
    fill(form, path ? null : h("p.note.asks", null, tr("This is the built-in profile. It cannot be changed; make one of your own above, with every key at its default.")),
      sections.map((section, i) => {
        const pen = section.name.startsWith("pen ");
        const body = [h("p.soft", null, section.help), h("div.keys", null, section.keys.map((k) => field(k, changes, refresh)))];
        const node = fold(pen ? tr("Pen {0}", section.name.slice(4)) : NAMES[section.name] ?? section.name, body);
        node.open = i < 2;
        if (pen && path && sections[i + 1] === undefined) node.querySelector(".folded").append(newPen());
        if (!path) for (const input of node.querySelectorAll("input, select")) input.disabled = true;
        return node;
      }));
  };
  return {
    node: [h("h2", null, tr("Machine")), top, form, bar],
    update() {
      const m = desk.machine;
      const key = JSON.stringify([m?.path, m?.profiles, m?.port, m?.ports, m?.facts, isActive()]);
      if (!m || key === shown) return;
      shown = key;
      fill(top, choosers(m));
      if (changes.size === 0) load().catch(() => fill(form, h("p.soft", null, tr("The profile comes when the desk answers."))));
    },
  };
}

function newPen() {
  const name = h("input", { type: "text", maxLength: 40 });
  const colour = h("input", { type: "color", value: "#7a3b8f" });
  return h("div.newpen", null, h("label.field", null, h("span", null, tr("Another pen, by name")), name),
    h("label.field", null, h("span", null, tr("Colour")), colour),
    button(tr("Add it"), () => name.value.trim() && ask("set-keys", { changes: [
      { section: `pen ${name.value.trim()}`, key: "colour", value: colour.value }] })));
}

function choosers(m) {
  const busy = isActive();
  const profile = h("select", { disabled: busy, onchange: () => ask("choose-profile", { path: profile.value }) },
    h("option", { value: "", selected: !m.path }, tr("built-in profile")),
    m.profiles.map((p) => h("option", { value: p.path, selected: p.current }, p.name)));
  const port = h("select", { disabled: busy, onchange: () => port.value && ask("choose-port", { path: port.value }) },
    m.port ? null : h("option", { value: "", selected: true }, tr("choose a port")),
    m.ports.map((p) => h("option", { value: p.path, selected: p.path === m.port }, p.text ? `${p.path}: ${p.text}` : p.path)));
  const name = h("input", { type: "text", placeholder: tr("workshop plotter"), maxLength: 40 });
  return [h("label.field", null, h("span", null, tr("Profile")), profile), h("label.field", null, h("span", null, tr("Port of the controller")), port),
    h("div.field", null, h("label.field", null, h("span", null, tr("New profile, by name")), name),
      button(tr("Make it"), () => name.value.trim() && ask("new-profile", { name: name.value.trim() }), { disabled: busy }))];
}

function learnPanel() {
  const found = h("ul.plain.found"), text = h("p");
  const may = tick(tr("It may move: home both axes, the pen once, arcs within 10 mm of home"));
  const begin = button(tr("Ask the controller"), () => move("learn", { may_move: may.box.checked }));
  const stop = button(tr("Stop asking"), () => ask("request", { request: "stop", serial: 0 }));
  const node = fold(tr("Learn the controller's words"), h("ol.steps-list", null,
    h("li", null, tr("Take the paper out or the pen off, and see that the pen is up and the axes are free.")),
    h("li", null, tr("Keep hands, hair and cords clear; have the supply's switch in reach.")),
    h("li", null, may), h("li", null, begin, " ", stop)), text, found);
  return {
    node,
    update() {
      const { learn } = desk;
      begin.disabled = learn.active || isActive() || !desk.machine.port || !desk.machine.path;
      stop.hidden = !learn.active;
      text.textContent = learn.active ? tr("Asking…") : learn.text ?? (desk.machine.path ? "" : tr("What is learnt goes into a profile of your own; make one first."));
      fill(found, learn.found.map((line) => h("li", null, line)));
      if (learn.active) node.open = true;
    },
  };
}

export function machineSide() {
  const follows = h("dl.facts"), cautions = h("div"), learn = learnPanel();
  return {
    node: [h("section.panel", null, h("h2", null, tr("What follows from it")), follows, cautions), learn.node],
    update() {
      const f = desk.machine?.facts;
      if (!f) return;
      const rows = [[trc("of an axis", "Travel"), `${f.travel_mm[0]} × ${f.travel_mm[1]} mm`],
        [tr("Reach of every pen"), tr("{0} to {1} mm", f.reach_low_mm.map((v) => v.toFixed(1)).join(", "), f.reach_high_mm.map((v) => v.toFixed(1)).join(", "))],
        [tr("Steps per mm"), f.steps_per_mm.map((v) => v.toFixed(2)).join(" × ")], [tr("Finest step"), f.finest_step_mm.map((v) => v.toFixed(4)).join(" × ") + " mm"],
        [tr("Fastest"), tr("{0} mm/s, at best {1}", f.speed_mm_s.join(" × "), f.fastest_any_mm_s.toFixed(1))],
        [tr("Steps a second"), whole(Math.round(f.highest_step_rate_per_s))],
        [tr("Corner to corner"), tr("{0} s over {1}", f.sheet_diagonal_s.toFixed(1), f.paper)],
        [tr("Current"), tr("{0} A of {1} A at {2} V", f.need_a.toFixed(2), f.supply_a, f.supply_v)]];
      fill(follows, rows.map(([name, value]) => [h("dt", null, name), h("dd", null, value)]));
      const small = !f.supply_suffices, tight = f.supply_a < f.advised_a;
      fill(cautions, small ? h("p.note.warn", null, tr("This supply is too small: it will overheat or drop out, and steps are lost."))
        : tight ? h("p.note.asks", null, tr("The supply has little in reserve; {0} A would leave a quarter.", f.advised_a.toFixed(2))) : null,
      h("p.soft", null, tr("A computer's port is not a supply: a USB 2.0 port is meant for 0.5 A at most. Feed the motors from a supply of their own with a fuse, and leave work on mains voltage to a qualified person, by your local rules.")));
      learn.update();
    },
  };
}
