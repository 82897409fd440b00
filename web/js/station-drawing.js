/* station-drawing: the options as a form made from the one table, and how the plan looks beside the
 * artwork. A change is planned at once. */
import { h, fill, fold, freshId } from "./dom.js";
import { desk, ask, get, isActive } from "./desk.js";
import * as format from "./format.js";
import { setLook, bed } from "./bed.js";
import { strokePanel } from "./stroke.js";
import { tr } from "./words.js";

const GROUPS = { paper: tr("Paper and place"), fills: tr("Fills"), pens: tr("Pens"), lines: tr("Lines"), order: tr("Order"), machine: tr("Machine") };
const MODES = [["ink", tr("Ink")], ["artwork", tr("Artwork")], ["half", tr("Half and half")], ["difference", tr("Difference")]];
let table = null; // loaded once

const set = (name, value) => ask("set-options", { values: { [name]: value } });

/* One option: a labelled control; empty means its default. */
function control(option) {
  const id = freshId("option"), help = freshId("help");
  const unset = option.default === null || option.default === undefined || option.default === ""
    ? tr("as the profile says") : String(option.default);
  let input;
  if (option.type === "flag") {
    input = h("input", { type: "checkbox", id, onchange: () => set(option.name, input.checked ? true : null) });
  } else if (option.type === "choice") {
    input = h("select", { id, onchange: () => set(option.name, input.value || null) },
      option.choices.map((c) => h("option", { value: c === option.default ? "" : c }, tr(format.title(c)))));
  } else {
    const number = option.type === "number" || option.type === "whole";
    const read = () => {
      const text = input.value.trim();
      if (text === "") return null;
      const value = Number(text.replace(",", "."));
      return number && Number.isFinite(value) ? value : text; // what is no number is refused in words
    };
    input = h("input", { type: "text", id, placeholder: unset, spellcheck: false, autocomplete: "off",
      inputMode: number ? "decimal" : "text", onchange: () => set(option.name, read()) });
  }
  input.setAttribute("aria-describedby", help);
  const name = h("label", { htmlFor: id }, tr(format.title(option.name)), option.unit ? h("span.soft", null, ` ${tr(option.unit)}`) : null);
  const text = h("p.help", { id: help }, option.help);
  const node = option.type === "flag" ? h("div.option.flag", null, input, name, text) : h("div.option", null, name, input, text);
  return {
    node,
    update(values) {
      if (document.activeElement === input && option.type !== "flag") return;
      const value = values[option.name];
      if (option.type === "flag") input.checked = value === true;
      else if (option.type === "choice") input.value = value === undefined || value === option.default ? "" : value;
      else input.value = value === undefined ? "" : Array.isArray(value) ? value.join(", ") : String(value);
      input.disabled = isActive();
    },
  };
}

/* Colours of the artwork, each with the pen that draws it: drag one to a pen, or choose. */
function colourTable(node) {
  let shown = "";
  return () => {
    const report = desk.drawing?.report, colours = report?.colours ?? [];
    const key = JSON.stringify([colours, desk.machine?.pens]);
    if (key === shown) return;
    shown = key;
    const choosePen = (colour, pen) => {
      const rules = (desk.drawing.options.colour ?? "").split(",").filter((r) => r && !r.startsWith(`${colour}=`));
      set("colour", [...rules, `${colour}=${pen}`].join(","));
    };
    const rows = colours.slice(0, 16).map((c) => {
      const select = h("select", { onchange: () => choosePen(c.colour, select.value) },
        desk.machine.pens.map((p) => h("option", { value: p.name, selected: p.name === c.pen }, p.name)),
        c.pen ? null : h("option", { value: "", selected: true }, tr("paper")));
      select.setAttribute("aria-label", tr("Pen for {0}", c.colour));
      const swatch = h("span.swatch.drag", { colour: c.colour, draggable: true, title: tr("Drag it to a pen") });
      swatch.addEventListener("dragstart", (e) => e.dataTransfer.setData("text/plain", c.colour));
      return h("li.colour", null, swatch, h("code", null, c.colour), select);
    });
    const pens = desk.machine.pens.map((p) => {
      const target = h("li.penbox", null, h("span.swatch", { colour: p.colour }), p.name);
      target.addEventListener("dragover", (e) => {
        e.preventDefault();
        target.classList.add("over");
      });
      target.addEventListener("dragleave", () => target.classList.remove("over"));
      target.addEventListener("drop", (e) => {
        target.classList.remove("over");
        const colour = e.dataTransfer.getData("text/plain");
        if (/^#[0-9a-f]{6}$/i.test(colour)) {
          e.preventDefault();
          e.stopPropagation();
          choosePen(colour, p.name);
        }
      });
      return target;
    });
    fill(node, rows.length ? [h("ul.plain", null, rows), h("p.help", null, tr("Drag a colour to a pen, or choose it beside the colour.")), h("ul.penboxes", null, pens)]
      : h("p.soft", null, tr("The colours of a drawing and their pens stand here.")));
  };
}

function lookPanel() {
  const name = freshId("look");
  const half = h("input", { type: "range", min: 0, max: 1, step: 0.01, value: bed.look.half, "aria-label": tr("Border between artwork and ink"),
    oninput: () => setLook({ half: half.valueAsNumber }) });
  const radios = MODES.map(([value, text]) => {
    const input = h("input", { type: "radio", name, value, checked: bed.look.mode === value, onchange: () => {
      setLook({ mode: value });
      half.hidden = value !== "half";
    } });
    return h("label.choice", null, input, h("span", null, text));
  });
  half.hidden = bed.look.mode !== "half";
  return h("fieldset.look", null, h("legend", null, tr("Look")), h("div.choices", null, radios), half);
}

export function drawingSide() {
  const form = h("div"), colours = h("div"), look = lookPanel(), stroke = strokePanel();
  const updateColours = colourTable(colours);
  let controls = [];
  const build = async () => {
    table ??= (await get("/options")).options;
    controls = [];
    const folds = Object.entries(GROUPS).map(([group, name]) => {
      const own = table.filter((o) => o.group === group).map(control);
      controls.push(...own);
      return fold(name, group === "pens" ? colours : null, own.map((c) => c.node));
    });
    fill(form, folds);
    update();
  };
  const update = () => {
    const { drawing } = desk;
    if (!drawing) return;
    form.hidden = drawing.name === null || drawing.is_program;
    look.hidden = form.hidden;
    for (const c of controls) c.update(drawing.options);
    updateColours();
    stroke.update();
  };
  build().catch(() => fill(form, h("p.soft", null, tr("The options come when the desk answers."))));
  return { node: [look, form, stroke.node], update, stroke: stroke.stroke };
}
