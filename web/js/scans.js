/* scans: scans of the last sheet, given here and read by the desk; and what is likely to need repair. */
import { h, button, tick } from "./dom.js";
import { desk, ask, upload } from "./desk.js";
import * as format from "./format.js";
import { tr } from "./words.js";

const TURNS = [tr("as it was drawn"), tr("turned 90 degrees to the left"), tr("upside down"), tr("turned 90 degrees to the right")];

/* Whether a bank card lies beside the sheet in the next scan; by sheet, until it is said. */
const cards = new Map();
const hasCard = (s) => cards.get(s.number) ?? s.scans.some((scan) => scan.card);

export const giveScan = (file, s) => upload(`/scan?sheet=${s.number}&name=${encodeURIComponent(file.name)}${hasCard(s) ? "&card=1" : ""}`, file);

function scanLine(s) {
  const facts = s.read ? [TURNS[s.turn], s.photograph ? tr("a photograph: not flat enough for scale and squareness") : null, s.card ? tr("the card beside it was measured") : null].filter(Boolean).join("; ") : tr("not read yet");
  return h("li", null, h("b", null, s.name), h("div.soft", null, facts), s.notes ? h("p.help.long", null, s.notes) : null);
}

/* The first step of a sheet for a scanner. */
export function scansView(s, go) {
  const input = h("input.hidden", { type: "file", tabIndex: -1, accept: ".png,.jpg,.jpeg,.tif,.tiff", onchange: async () => {
    const file = input.files[0];
    input.value = "";
    if (file) await giveScan(file, s);
  } });
  input.setAttribute("aria-hidden", "true");
  const full = s.scans.length >= 2, rules = s.asks.filter((a) => a.kind === "rule");
  const lengths = rules.filter((a) => a.answers.some(Boolean)).length;
  const needed = s.scans.some((scan) => scan.card) ? 0 : rules.length; // a card has given a length already
  const give = button(s.scans.length ? tr("Give the second scan") : tr("Give a scan"), () => input.click(), { main: true, disabled: s.scanning });
  const rule = button(tr("Lengths by rule"), () => go(0), { main: full && lengths < needed });
  const next = button(tr("What follows"), () => go(s.asks.length), { main: full && lengths >= needed, disabled: s.scanning });
  const node = [h("h3", { tabIndex: -1 }, tr("Scans of the sheet")),
    h("ol.steps-list", null,
      h("li", null, tr("Let the ink dry. Lay the sheet flat on a flat-bed scanner and close the lid.")),
      h("li", null, tr("Scan it at 300 dpi, in grey or colour, with sharpening, straightening and cropping switched off, and with all four edges of the paper in the picture.")),
      h("li", null, tr("Turn the sheet by 90 degrees on the glass and scan it again: only two scans tell the machine's squareness from the scanner's.")),
      h("li", null, rules.length ? tr("Measure the long lines with a steel rule and answer the next questions: lengths come from the rule, never from the scanner.") : tr("Lengths come from the profile.")),
      h("li", null, tr("Without a rule a bank card does: lay it flat on the glass beside the drawing, 3 mm clear of ink and of the picture's edge, in each scan. Scales are then known to 0.1 to 0.2 %. The picture shows the card: take one that anybody may see."))),
    full ? null : tick(tr("A bank card lies beside the sheet in this scan"), (yes) => cards.set(s.number, yes), hasCard(s)),
    s.scan_problem ? h("div.note.warn", null, h("b", null, tr("This picture cannot be used. ")), format.sentence(s.scan_problem)) : null,
    s.scans.length ? h("ul.plain.scans", null, s.scans.map(scanLine)) : h("p.soft", null, tr("Drop the pictures here (PNG, JPEG or TIFF), or choose them.")),
    s.scanning ? h("div", { role: "status" }, h("p", null, tr("The scans are being read…")), h("progress", { "aria-label": tr("Reading the scans") })) : null,
    h("div.write", null, full ? (lengths < needed ? rule : next) : give, input,
      h("div.row", null,
        s.scans.length ? button(tr("Drop these scans"), () => ask("forget-scans", { sheet: s.number })) : null,
        rules.length && !rule.classList.contains("go") ? rule : null,
        s.result && !next.classList.contains("go") ? next : null))];
  return { node };
}

/* Causes, those that cost most ink error first. */
export function causeList(causes) {
  if (!causes?.length) return h("p.soft", null, tr("Nothing stands out."));
  return [h("ol.causes", null, causes.map((c) => h("li", null,
    h("div.cause-head", null, h("b", null, `${c.axis ? `${c.axis}: ` : ""}${format.sentence(c.shows).slice(0, -1)}`),
      h("span.cost", null, c.ink_mm === null ? tr("may cost the whole drawing") : tr("up to {0}{1} mm", c.ink_mm.toFixed(3), c.interval_mm ? ` ± ${c.interval_mm.toFixed(3)}` : ""))),
    h("p.help", null, `${format.sentence(c.repair)} ${c.corrected ? tr("The profile can correct it.") : tr("Only a repair helps.")}`)))),
  h("p.help", null, tr("The ink error that 95 % of the ink stays within, if this were the only cause. Before a repair: switch off and unplug the machine."))];
}
