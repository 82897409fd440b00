/* reading: the last test sheet read by eye, question by question, in place of the bed; then what follows
 * for the profile. */
import { h, svg, fill, fold, button, freshId } from "./dom.js";
import { desk, ask, get, penOf, isActive } from "./desk.js";
import * as format from "./format.js";
import { scansView, causeList } from "./scans.js";
import { tr, plural } from "./words.js";

/* What is known of the sheet, fetched anew when the desk says that it has changed ------------------ */

export const reading = { open: false, data: null, at: 0 };
let shown = "", wanted = 0;

export async function refresh(then) {
  const mine = ++wanted;
  const data = await get("/measure");
  if (mine === wanted) reading.data = data;
  then();
}

/* Whether anything has changed that a sheet depends on; once for each change. */
export function isStale() {
  const now = JSON.stringify([desk.measure?.number, desk.log?.number, desk.machine?.name, desk.machine?.path, desk.run?.phase, desk.online]);
  if (now === shown) return false;
  shown = now;
  return true;
}

/* The profile can be changed: nothing moves, and no port is being let go of. */
export const isIdle = () => !isActive() && ["closed", "ready"].includes(desk.session?.state);

const sheet = () => reading.data?.sheet ?? null;
const isAnswered = (a) => a.answers.some((text) => text !== "");
const SCANS = -1; // the step before the first question, of a sheet for a scanner
export const firstOpen = () => {
  if (sheet()?.scan && sheet().scans.length < 2) return SCANS;
  const at = sheet()?.asks.findIndex((a) => !isAnswered(a)) ?? 0;
  return at < 0 ? sheet().asks.length : at;
};

/* The picture ------------------------------------------------------------------------------------- */

const middle = (line) => [(line[0] + line[2]) / 2, (line[1] + line[3]) / 2];

/* Numbers that can be chosen, each with its strokes and their middle, in the order of the numbers. */
function places(choices) {
  const byPlace = new Map();
  for (const c of choices) byPlace.set(c.place, [...(byPlace.get(c.place) ?? []), c.line]);
  return [...byPlace].sort((a, b) => a[0] - b[0]).map(([place, lines]) => {
    const points = lines.map(middle);
    return { place, lines, at: [0, 1].map((k) => points.reduce((sum, p) => sum + p[k], 0) / points.length) };
  });
}

/* Where a point lies along the numbers: 6.4 is between the sixth and the seventh of the list. */
function along(list, point) {
  const first = list[0].at, last = list[list.length - 1].at;
  const way = [last[0] - first[0], last[1] - first[1]], n = Math.hypot(...way) || 1;
  const to = (p) => ((p[0] - first[0]) * way[0] + (p[1] - first[1]) * way[1]) / n;
  const t = to(point);
  let i = 0;
  while (i < list.length - 2 && t > to(list[i + 1].at)) i++;
  const a = to(list[i].at), b = list.length > 1 ? to(list[i + 1].at) : a + 1;
  return i + Math.min(1, Math.max(0, (t - a) / (b - a || 1)));
}

/* The reading that a click stands for: a tick, or of a vernier between two ticks. */
function textAt(list, point, kind) {
  const k = along(list, point), low = Math.floor(k), share = k - low;
  if (kind !== "vernier" || share < 0.3 || share > 0.7) return String(list[Math.min(list.length - 1, Math.round(k))].place);
  const ends = [list[low].place, list[low + 1].place];
  return `between ${ends[0]} and ${ends[1]}`;
}

/* Numbers that a text names, to be marked in the picture. */
function named(text) {
  const m = /^\s*(?:between\s+)?(-?\d+(?:[.]\d+)?)(?:\s*(?:and|to)\s*(-?\d+(?:[.]\d+)?))?/i.exec(text);
  if (!m) return [];
  const ends = [m[1], m[2] ?? m[1]].map(Number);
  return [Math.floor(Math.min(...ends)), Math.ceil(Math.max(...ends))];
}

function combPicture(name, kind, comb, onpick) {
  const [x0, y0, x1, y1] = comb.view, flip = (y) => y1 + y0 - y;
  const d = (p) => {
    let text = `M${p[0]} ${flip(p[1])}`;
    for (let i = 2; i < p.length; i += 2) text += `L${p[i]} ${flip(p[i + 1])}`;
    return text;
  };
  const list = places(comb.choices), upright = y1 - y0 > x1 - x0;
  const marks = svg("g", { class: "chosen" });
  const picture = svg("svg", { viewBox: `${x0} ${y0} ${x1 - x0} ${y1 - y0}`, class: `comb${upright ? " upright" : ""}${list.length ? " pick" : ""}`, role: "img", "aria-label": tr("Picture of {0} as it was commanded", name) },
    comb.pens.map((pen, i) => svg("path", { d: pen.lines.map(d).join(""), fill: "none", stroke: penOf(i).colour, "stroke-width": penOf(i).tip_mm, "stroke-linecap": "round", "stroke-linejoin": "round" })), marks);
  if (list.length) picture.addEventListener("click", (e) => {
    const p = new DOMPoint(e.clientX, e.clientY).matrixTransform(picture.getScreenCTM().inverse());
    onpick(textAt(list, [p.x, flip(p.y)], kind));
  });
  return {
    node: picture,
    mark(text) {
      const ends = named(text);
      const lines = list.filter((c) => c.place === ends[0] || c.place === ends[1]).flatMap((c) => c.lines);
      marks.replaceChildren(...lines.map((line) => svg("path", { d: d(line) })));
    },
  };
}

/* One question ------------------------------------------------------------------------------------- */

const HINTS = {
  vernier: tr("Find on the paper what lines up, then click it in the picture, or between two numbers. Or type: 6, between 6 and 7, or 6 at 7 where it meets another tick than its own."),
  ladder: tr("Click it in the picture, or type its number."),
  rule: tr("Type the length in mm, such as 160.4."),
  edge: tr("Type the distance in mm, such as 0.1 or -0.2."),
};

async function keep(a, texts) {
  for (let i = 0; i < texts.length; i++) {
    const text = texts[i].trim().replace(",", ".");
    if (text === a.answers[i] && text !== "") continue;
    if (!(await ask("keep-reading", { sheet: sheet().number, ask: a.name, i, text: text || "?" }))) return false;
  }
  return true;
}

function questionView(a, at, go) {
  const { asks } = sheet(), heading = freshId("question"), hint = freshId("hint");
  const several = a.answers.length > 1, picture = h("div.picture");
  let comb = null, busy = false;
  const inputs = a.answers.map((text, i) => {
    const input = h("input", { type: "text", value: text, autocomplete: "off", spellcheck: false, maxLength: 60, "aria-describedby": `${heading} ${hint}`,
      oninput: () => comb?.mark(input.value) });
    input.setAttribute("aria-label", several ? tr("Reading {0} of {1} of {2}, mm", i + 1, a.answers.length, a.name) : tr("Reading of {0}", a.name));
    return input;
  });
  const set = (text) => {
    inputs[0].value = text;
    comb?.mark(text);
    inputs[0].focus();
  };
  const submit = async (texts) => {
    if (busy) return;
    if (texts.some((t) => t.trim().toLowerCase() === "back")) return go(at - 1);
    if (texts.every((t) => t.trim() === "")) {
      note.textContent = tr("Answer first, or say that you cannot tell.");
      return inputs[0].focus();
    }
    busy = true;
    const good = await keep(a, texts);
    busy = false;
    if (!good) return inputs[0].focus();
    await refresh(() => go(at + 1));
  };
  const note = h("p.answer-note", { role: "status" });
  const form = h("form.answer", { onsubmit: (e) => {
    e.preventDefault();
    submit(inputs.map((i) => i.value));
  } }, h("div.answers", null, inputs.map((input, i) => h("div.field", null, h("span", { "aria-hidden": "true" }, several ? tr("Reading {0}, mm", i + 1) : a.kind === "rule" || a.kind === "edge" ? tr("Reading, mm") : tr("Reading")), input))),
  h("button.go", { type: "submit" }, tr("Keep and go on")),
  h("div.row", null, button(tr("I cannot tell"), () => submit(inputs.map(() => "?"))), at > 0 || sheet().scan ? button(tr("Back"), () => go(at - 1)) : null), note);
  get(`/comb?ask=${encodeURIComponent(a.name)}`).then((data) => {
    comb = combPicture(a.name, a.kind, data, set);
    fill(picture, comb.node);
    comb.mark(inputs[0].value);
  }).catch((error) => fill(picture, h("p.soft", null, tr("There is no picture: {0}", error.message))));
  return {
    node: [h("p.soft", null, tr("Question {0} of {1}", at + 1, asks.length)), h("h3", { id: heading }, a.question), picture, h("p.help", { id: hint }, HINTS[a.kind]), form],
    focus: () => inputs[0].focus(),
  };
}

/* What follows --------------------------------------------------------------------------------------- */

const MANY = 4; // places of a curve that are told in one row
const where = (f) => [f.axis, f.pen, f.at_mm === null ? null : tr("at {0} mm", f.at_mm.toFixed(0))].filter(Boolean).join(" ");
const unit = (v) => (v.unit ? ` ${v.unit}` : "");

/* The places of one curve as one row: its range, and the widest interval. */
function curves(list) {
  const rows = [], of = (f) => `${f.word} ${f.axis} ${f.pen} ${f.at_mm === null}`;
  for (let i = 0, end; i < list.length; i = end) {
    for (end = i + 1; end < list.length && of(list[end]) === of(list[i]) && list[i].at_mm !== null;) end++;
    const part = list.slice(i, end), known = part.filter((f) => f.found.value !== null);
    if (part.length < MANY || !known.length) {
      rows.push(...(part.length < MANY ? part : [{ ...part[0], at_mm: null, places: part.length }]));
      continue;
    }
    const values = known.map((f) => Number(f.found.value)), text = (v) => known.find((f) => Number(f.found.value) === v).found.value;
    const low = text(Math.min(...values)), high = text(Math.max(...values));
    const intervals = known.map((f) => f.found.interval).filter((t) => t !== null).sort((a, b) => Number(b) - Number(a));
    rows.push({ ...known[0], at_mm: null, places: part.length, gain_mm: Math.max(...known.map((f) => f.gain_mm ?? 0)),
      found: { ...known[0].found, value: low === high ? low : tr("{0} to {1}", low, high), interval: intervals[0] ?? null } });
  }
  return rows;
}

function figureTable(list, label) {
  return h("div.scroll", { tabIndex: 0, role: "region", "aria-label": label }, h("table.figures", null,
    h("thead", null, h("tr", null, [tr("What"), tr("Where"), tr("Value"), tr("95 % interval"), tr("Gain in ink")].map((t) => h("th", { scope: "col" }, t)))),
    h("tbody", null, curves(list).map((f) => h("tr", null, h("th", { scope: "row" }, format.sentence(f.title).slice(0, -1)), h("td", null, [where(f), f.places ? tr("{0} places", f.places) : null].filter(Boolean).join(", ")),
      h("td.number", null, f.found.value === null ? tr("not known") : f.found.value + unit(f.found)), h("td.number", null, f.found.interval === null ? "" : `± ${f.found.interval}${unit(f.found)}`),
      h("td.number", null, f.gain_mm > 0 ? `${f.gain_mm.toFixed(2)} mm` : ""))))));
}

function changeList(changes) {
  return h("ul.plain.changes", null, changes.map((c) => h("li", null, h("code", null, `[${c.section}] ${c.key}`), h("span", null, " ", c.now ?? tr("default"), " → "), h("b", null, c.value))));
}

export function undoButton() {
  const number = reading.data?.undo ?? 0;
  return number ? button(tr("Undo the corrections of sheet {0}", number), () => ask("undo-corrections", { sheet: number }), { disabled: !isIdle() }) : null;
}

function writePart(r) {
  if (!r.changes.length) {
    const own = reading.data.undo === sheet().number;
    return [h("div.note", null, h("b", null, own ? tr("The corrections of sheet {0} are in {1}. ", sheet().number, reading.data.profile) : tr("There is nothing to write. ")),
      own ? tr("Draw another sheet to see what they have brought.") : tr("What these readings show is in the profile, or cannot be told from their noise.")), undoButton()];
  }
  if (reading.data.profile === null)
    return h("div.note", null, h("b", null, tr("This is the built-in profile. ")), tr("Make one of your own in Machine, draw a sheet with it, and corrections can be written."));
  return [button(tr("Write to the profile"), () => ask("write-corrections", { sheet: sheet().number, digest: r.digest }), { main: true, disabled: !isIdle() }),
    h("p.help", null, tr("{0} in {1}; each can be read and changed in Machine, and taken back here.", plural(r.changes.length, "{0} value", "{0} values"), reading.data.profile)),
    fold(tr("What is written"), changeList(r.changes)), undoButton()];
}

function resultView(go) {
  const s = sheet(), r = s.result, open = s.asks.length - s.read;
  const back = h("div.row", null, button(s.scan ? tr("Back to the scans") : tr("Back to the questions"), () => go(s.scan ? SCANS : Math.max(0, Math.min(firstOpen(), s.asks.length - 1)))));
  const left = s.scan ? tr("{0}; {1} of {2} measured by rule.", plural(s.scans.length, "{0} scan", "{0} scans"), s.read, plural(s.asks.length, "{0} length", "{0} lengths")) : open ? tr("{0} of {1} answered; what the others would tell stays as the profile has it.", plural(s.read, "{0} question", "{0} questions"), s.asks.length) : tr("All {0} questions are answered.", s.asks.length);
  if (!r) return { node: [h("h3", { tabIndex: -1 }, tr("What follows")), h("p.soft", null, left), h("div.note", null, format.sentence(s.unsolved)), back] };
  const proposed = r.figures.filter((f) => f.proposed), others = r.figures.filter((f) => !f.proposed);
  const ink = proposed.length && r.ink_before_mm > 0 ? h("p.lead", null, tr("95 % of the ink is expected within "), h("b", null, `${r.ink_before_mm.toFixed(2)} mm`), tr(" of its line now, within "), h("b", null, `${r.ink_after_mm.toFixed(2)} mm`), tr(" with these corrections."),
    r.figures.some((f) => ["scale", "square"].includes(f.word) && f.found.value === null) ? " " + tr("Neither counts what is unknown.") : null) : null;
  return { node: [h("h3", { tabIndex: -1 }, tr("What follows")), h("p.soft", null, left), ink,
    h("div.write", null, writePart(r)),
    proposed.length ? figureTable(proposed, tr("Proposed corrections")) : null,
    others.length ? fold(tr("Not to be corrected by this sheet ({0})", others.length), figureTable(others, tr("Figures without a correction")), h("p.help", null, tr("As in the profile, or too close to it to tell."))) : null,
    r.notes ? fold(tr("What these readings cannot show"), h("p.long", null, r.notes)) : null,
    h("section.repair", null, h("h3", null, tr("What is likely to need repair")), causeList(r.causes)), back] };
}

/* The page ------------------------------------------------------------------------------------------- */

function steps(go) {
  const { asks } = sheet();
  const one = (text, at, extra, spoken) => {
    const b = button(text, () => go(at), { className: `step ${extra}` });
    b.setAttribute("aria-label", spoken);
    if (at === reading.at) b.setAttribute("aria-current", "step");
    return h("li", null, b);
  };
  const { scan, scans } = sheet();
  const row = h("ol.steps-bar", null,
    scan ? one(scans.length ? tr("Scans: {0}", scans.length) : tr("Scans"), SCANS, scans.length ? "answered" : "", tr("Scans, {0} given", scans.length)) : null,
    asks.map((a, i) => one(isAnswered(a) ? `${a.name} ✓` : a.name, i, isAnswered(a) ? "answered" : "", `${a.name}, ${isAnswered(a) ? tr("answered: {0}", a.answers.filter(Boolean).join(", ")) : tr("not answered")}`)),
    one(tr("What follows"), asks.length, "", tr("What follows")));
  const inView = () => row.scrollTo({ left: (row.querySelector("[aria-current]")?.offsetLeft ?? 0) - 60 });
  new ResizeObserver(inView).observe(row); // on a narrow page it is one line
  return h("nav", { "aria-label": tr("Questions") }, row);
}

export function readingPage(close) {
  const head = h("div.reading-head"), bar = h("div"), body = h("section.question", { "aria-label": tr("Reading") });
  let view = "", top = "";
  const build = (focus) => {
    const s = sheet();
    if (!s || s.problem) {
      top = "";
      fill(head, h("h2", null, tr("Read a sheet")), button(tr("Close"), close));
      fill(bar);
      fill(body, h("p.empty", null, s ? format.sentence(s.problem) : tr("There is no sheet yet. Put one on the bed in Measure and draw it.")));
      view = "";
      return;
    }
    if (!s.scan && reading.at === SCANS) reading.at = 0;
    const frame = JSON.stringify([s.number, reading.at, s.asks.map(isAnswered), s.scans?.length]);
    if (frame !== top) {
      top = frame;
      fill(bar, steps(go));
      fill(head, h("div", null, h("h2", null, tr("Read sheet {0}", s.number)), h("p.soft", null, tr("Of {0}. {1} Every answer is kept at once.", s.date, s.scan ? tr("Two scans and a steel rule tell all that it can show.") : tr("In good light, with a magnifying glass if you have one.")))), button(tr("Close"), close));
    }
    const asks = reading.at >= 0 && reading.at < s.asks.length;
    const now = JSON.stringify([s.number, reading.at, asks ? [s.asks[reading.at]] : [s, reading.data.undo, reading.data.profile, isIdle()]]);
    if (now === view && !focus) return; // what is being typed stays
    view = now;
    const part = asks ? questionView(s.asks[reading.at], reading.at, go) : reading.at === SCANS ? scansView(s, go) : resultView(go);
    fill(body, part.node);
    if (focus) (part.focus ?? (() => body.querySelector("h3").focus()))();
  };
  const go = (at) => {
    reading.at = Math.max(sheet().scan ? SCANS : 0, Math.min(at, sheet().asks.length));
    build(true);
  };
  return { node: [head, bar, body], update: build.bind(null, false) };
}
