/* scans: scans of the last sheet, given here and read by the desk; and what is likely to need repair. */
import { h, button } from "./dom.js";
import { desk, ask, upload } from "./desk.js";
import * as format from "./format.js";

const TURNS = ["as it was drawn", "turned a quarter to the left", "upside down", "turned a quarter to the right"];

export const giveScan = (file, sheet) => upload(`/scan?sheet=${sheet}&name=${encodeURIComponent(file.name)}`, file);

function scanLine(s) {
  const facts = s.read ? [TURNS[s.turn], s.photograph ? "a photograph: not flat enough for scale and squareness" : null].filter(Boolean).join("; ") : "not read yet";
  return h("li", null, h("b", null, s.name), h("div.soft", null, facts), s.notes ? h("p.help.long", null, s.notes) : null);
}

/* The first step of a sheet for a scanner. */
export function scansView(s, go) {
  const input = h("input.hidden", { type: "file", tabIndex: -1, accept: ".png,.jpg,.jpeg,.tif,.tiff", onchange: async () => {
    const file = input.files[0];
    input.value = "";
    if (file) await giveScan(file, s.number);
  } });
  input.setAttribute("aria-hidden", "true");
  const full = s.scans.length >= 2, rules = s.asks.filter((a) => a.kind === "rule");
  const lengths = rules.filter((a) => a.answers.some(Boolean)).length;
  const give = button(s.scans.length ? "Give the second scan" : "Give a scan", () => input.click(), { main: true, disabled: s.scanning });
  const rule = button("Lengths by rule", () => go(0), { main: full && lengths < rules.length });
  const next = button("What follows", () => go(s.asks.length), { main: full && lengths === rules.length, disabled: s.scanning });
  const node = [h("h3", { tabIndex: -1 }, "Scans of the sheet"),
    h("ol.steps-list", null,
      h("li", null, "Let the ink dry. Lay the sheet flat on a flat-bed scanner and close the lid."),
      h("li", null, "Scan it at 300 dpi, in grey or colour, with sharpening, straightening and cropping switched off, and with all four edges of the paper in the picture."),
      h("li", null, "Turn the sheet by a quarter on the glass and scan it again: only two scans tell the machine's squareness from the scanner's."),
      h("li", null, rules.length ? "Measure the long lines with a steel rule and answer the next questions: lengths come from the rule, never from the scanner." : "Lengths come from the profile.")),
    s.scan_problem ? h("div.note.warn", null, h("b", null, "This picture cannot be used. "), format.sentence(s.scan_problem)) : null,
    s.scans.length ? h("ul.plain.scans", null, s.scans.map(scanLine)) : h("p.soft", null, "Drop the pictures here (PNG, JPEG or TIFF), or choose them."),
    s.scanning ? h("div", { role: "status" }, h("p", null, "The scans are being read…"), h("progress", { "aria-label": "Reading the scans" })) : null,
    h("div.write", null, full ? (lengths < rules.length ? rule : next) : give, input,
      h("div.row", null,
        s.scans.length ? button("Drop these scans", () => ask("forget-scans", { sheet: s.number })) : null,
        rules.length && !rule.classList.contains("go") ? rule : null,
        s.result && !next.classList.contains("go") ? next : null))];
  return { node };
}

/* Causes, those that cost most ink error first. */
export function causeList(causes) {
  if (!causes?.length) return h("p.soft", null, "Nothing stands out.");
  return [h("ol.causes", null, causes.map((c) => h("li", null,
    h("div.cause-head", null, h("b", null, `${c.axis ? `${c.axis}: ` : ""}${format.sentence(c.shows).slice(0, -1)}`),
      h("span.cost", null, c.ink_mm === null ? "may cost the whole drawing" : `up to ${c.ink_mm.toFixed(3)}${c.interval_mm ? ` ± ${c.interval_mm.toFixed(3)}` : ""} mm`)),
    h("p.help", null, `${format.sentence(c.repair)} ${c.corrected ? "The profile can correct it." : "Only a repair helps."}`)))),
  h("p.help", null, "The ink error that 95 % of the ink stays within, if this were the only cause. Before a repair: switch off and unplug the machine.")];
}
